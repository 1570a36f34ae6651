"""What the cels above take from a paint and add to it: one law for every cel, measured on a strip.

A cel lets a share t of the light below it through, down and up together, and adds a share h of its own
(haze, and what its faces throw back): under one cel more a color x becomes t x + h, for each channel of
linear light. That is the first term of the theory of piles of plates (Stokes, "On the intensity of the light
reflected from or transmitted through a pile of plates", Proc. R. Soc. Lond. 11, 1862), without the light that
is thrown to and fro between cels. t and h are fitted to strips by Gauss-Newton; no value is taken for
granted, since no figure of the trade was found.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import White, lab_to_xyz, linear_to_xyz_d65, xyz_d65_to_linear, xyz_to_lab
from cel_check.errors import BadInput, Problem

Floats = NDArray[np.float64]

LEAST_BANDS, MOST_BANDS = 3, 10
"""Bands of a strip, the bare chip counted: two tell no law, and no stack is ten cels high."""

WORST = 1.0
"""ΔE00 by which a band may be off the law, over twice what it is measured within: half a usual tolerance (a
house choice)."""

_LEAST_SIGMA = 0.0005
"""Linear light within which a band is measured at best: 0.05 % of a white's (a house choice)."""

_LEAST_SHARE = 0.5
"""Share of the light that a cel lets through at least; one sheet of acetate lets 86 % (two passes of 92.8 %,
by Fresnel's formula for an index of 1.48, the index from memory)."""

_STEPS = 40


@dataclass(frozen=True, eq=False)
class Strip:
    """One gray chip under no cel, one cel, and so on.

    Attributes:
        file: where it was read, for messages.
        linear: `(bands, 3)` linear sRGB light, the bare chip first.
    """

    file: str
    linear: Floats


@dataclass(frozen=True, eq=False)
class CelLaw:
    """What one cel does to what lies below it.

    Attributes:
        through: `(3,)` share of red, green and blue light that it lets through.
        adds: `(3,)` light that it adds, 1 for a white.
        unsure: `(3, 2, 2)` covariance of both, a channel each.
        cels: how many lay on the strips at most.
        bands: how many were measured.
        worst: ΔE00 of the band that is farthest off.
    """

    through: Floats
    adds: Floats
    unsure: Floats
    cels: int
    bands: int
    worst: float

    def under(self, linear: Floats, cels: int) -> Floats:
        """Return what colors `(..., 3)` of linear light look like under some cels."""
        return self.through**cels * linear + self.adds * _sum(self.through, cels)

    def beneath(self, linear: Floats, cels: int) -> Floats:
        """Return what must lie under some cels to look like colors `(..., 3)`; below 0 where nothing can."""
        mixed: Floats = (linear - self.adds * _sum(self.through, cels)) / self.through**cels
        return mixed

    def known_within(self, linear: Floats, cels: int) -> Floats:
        """Return ΔE00 `(n,)` within which `under` is known for `(n, 3)` colors, one standard deviation."""
        slope = np.stack(
            [
                cels * self.through ** (cels - 1) * linear + self.adds * _slope(self.through, cels),
                np.broadcast_to(_sum(self.through, cels), linear.shape),
            ],
            axis=-1,
        )
        sigma = np.sqrt(np.maximum(np.einsum("nci,cij,ncj->nc", slope, self.unsure, slope), 0.0))
        return _spread(self.under(linear, cels), sigma)


def lab_of(linear: Floats) -> Floats:
    """Return L*a*b* under D65 of linear sRGB light `(..., 3)`; light below 0 is none."""
    return xyz_to_lab(linear_to_xyz_d65(np.maximum(linear, 0.0)), White.D65)


def linear_of(lab: Floats) -> Floats:
    """Return linear sRGB light of L*a*b* under D65 `(..., 3)`; beyond 0 to 1 where sRGB has no such color."""
    return xyz_d65_to_linear(lab_to_xyz(lab, White.D65))


def _spread(linear: Floats, sigma: Floats) -> Floats:
    """Return ΔE00 `(n,)` that `(n, 3)` light is off where its channels are off by sigma, each by itself."""
    off = [
        ciede2000(lab_of(linear), lab_of(linear + sigma * np.eye(3)[channel])) ** 2 for channel in range(3)
    ]
    return np.asarray(np.sqrt(np.sum(off, axis=0)), np.float64)


def law_of(strips: Sequence[Strip]) -> CelLaw:
    """Return the law that strips of the same cels follow.

    Raises:
        BadInput: where they are too short to tell, do not get darker by it, or do not follow one law.
    """
    files = ", ".join(dict.fromkeys(strip.file for strip in strips))
    bands = sum(len(strip.linear) for strip in strips)
    short = [strip for strip in strips if len(strip.linear) < LEAST_BANDS]
    if short or bands < 3 + len(strips):
        wrong = f"{bands if not short else len(short[0].linear)} bands tell no law"
        mend = "Measure the chip bare and under 1 to 3 cels at least."
        raise BadInput(Problem(short[0].file if short else files, "", wrong, mend))
    fits = [_fit([strip.linear[:, channel] for strip in strips]) for channel in range(3)]
    through, adds, unsure = (np.array(column) for column in zip(*fits, strict=True))
    law = CelLaw(through, adds, unsure, max(len(strip.linear) for strip in strips) - 1, bands, 0.0)
    if through.min() < _LEAST_SHARE or through.max() > 1.0:
        told = ", ".join(f"{100 * share:.0f}" for share in through)
        wrong = f"by its bands a cel lets {told} % of red, green and blue through, which no clear cel does"
        mend = "Give the bands from the bare chip to the most cels, under even light."
        raise BadInput(Problem(files, "", wrong, mend))
    return CelLaw(through, adds, unsure, law.cels, bands, _worst(law, strips))


def _worst(law: CelLaw, strips: Sequence[Strip]) -> float:
    """Return ΔE00 of the band farthest off the law.

    Raises:
        BadInput: where that is too far.
    """
    worst = 0.0
    for strip in strips:
        laid = np.array([law.under(strip.linear[0], cels) for cels in range(len(strip.linear))])
        # The bare chip is measured no better than the rest: the law may lie between the bands.
        laid += (strip.linear - laid).mean(axis=0)
        off = ciede2000(lab_of(laid), lab_of(strip.linear))
        over = off - _spread(strip.linear, np.full(3, 2 * _LEAST_SIGMA))
        far = int(over.argmax())
        if over[far] > WORST:
            wrong = f"the band under {far} cels is {off[far]:.1f} ΔE00 off the law of the others"
            mend = "Measure again: clean cels of one stock, pressed flat, under even light."
            raise BadInput(Problem(strip.file, "", wrong, mend))
        worst = max(worst, float(off.max()))
    return worst


def _fit(series: Sequence[Floats]) -> tuple[float, float, Floats]:
    """Return share, addition and their covariance for one channel of strips."""
    found = np.concatenate([[0.9, 0.0], [one[0] for one in series]])
    target = np.concatenate(list(series))
    through_alone = np.arange(len(found)) != 1
    free = np.ones(len(found), bool)
    for step in range(2 * _STEPS):
        if step == _STEPS and found[1] < 0:
            # No cel adds less than nothing: noise on one gray chip may say so.
            found[1], free = 0.0, through_alone
        laid, slopes = _laid(found, series)
        move, *_rest = np.linalg.lstsq(slopes[:, free], target - laid, rcond=None)
        found[free] += move
        found[0] = np.clip(found[0], 0.05, 1.5)
    laid, slopes = _laid(found, series)
    spare = len(target) - len(found)
    sigma = max(_LEAST_SIGMA, float(np.sqrt(((target - laid) ** 2).sum() / max(1, spare))))
    covariance = np.asarray(sigma**2 * np.linalg.pinv(slopes.T @ slopes), np.float64)
    return float(found[0]), float(found[1]), covariance[:2, :2]


def _laid(found: Floats, series: Sequence[Floats]) -> tuple[Floats, Floats]:
    """Return what the law makes of the bare chips, and its slopes by share, addition and each bare chip."""
    laid, slopes = [], []
    for number, one in enumerate(series):
        for cels in range(len(one)):
            bare = np.zeros(len(series))
            bare[number] = found[0] ** cels
            share = cels * found[0] ** max(0, cels - 1) * found[2 + number]
            laid.append(found[0] ** cels * found[2 + number] + found[1] * _sum(found[0], cels))
            slopes.append([share + found[1] * _slope(found[0], cels), _sum(found[0], cels), *bare])
    return np.array(laid), np.array(slopes)


def _sum(share: Floats | float, cels: int) -> Floats:
    """Return 1 + t + ... for so many cels: what each adds is dimmed by those above it."""
    return np.asarray(sum((share**n for n in range(cels)), start=np.zeros_like(share)), np.float64)


def _slope(share: Floats | float, cels: int) -> Floats:
    """Return the slope of `_sum` by the share."""
    terms = (n * share ** (n - 1) for n in range(1, cels))
    return np.asarray(sum(terms, start=np.zeros_like(share)), np.float64)
