"""From a scanner's linear light to XYZ: three kinds of correction, and the one that predicts best.

Sources: Finlayson, Mackiewicz and Hurlbert, "Color Correction Using Root-Polynomial Regression", IEEE Trans.
Image Process. 24(5), 2015, doi:10.1109/TIP.2015.2405336, for the terms of second degree. Which kind holds is
told by leaving each patch out in turn, gray row and tone curve included: what fits 24 patches best need not
predict a paint best. The fit is plain least squares: weights after the cube root of L*a*b* predicted worse
on both scanners that were tried.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import White, xyz_to_lab
from cel_check.scan.chart import NEUTRAL, PATCHES, Chart
from cel_check.scan.curve import Curve, curve_of, rises

Floats = NDArray[np.float64]


_TURNS = 4
"""How often curve and mix are found; from the third time on, no light moves by more than 0.1 %."""


class Kind(StrEnum):
    """The corrections, from few terms to many."""

    MATRIX = "3x3"
    AFFINE = "affine"
    ROOT = "root-polynomial"


@dataclass(frozen=True, eq=False)
class Correction:
    """From codes to color.

    Attributes:
        curves: the tone curves of red, green and blue.
        kind: which terms.
        matrix: `(3, terms)` to XYZ under D50, Y = 1 for the white.
    """

    curves: tuple[Curve, ...]
    kind: Kind
    matrix: Floats

    def linear(self, codes: Floats) -> Floats:
        """Return the scanner's linear light of codes `(..., 3)`, 0 to 1."""
        light = [curve.light(codes[..., channel]) for channel, curve in enumerate(self.curves)]
        return np.stack(light, axis=-1)

    def lab(self, codes: Floats, light: Floats | float = 1.0) -> Floats:
        """Return L*a*b* under D50 of codes `(..., 3)`; `light` is what fell there, of 1."""
        return xyz_to_lab(terms(self.linear(codes) / light, self.kind) @ self.matrix.T, White.D50)


@dataclass(frozen=True, eq=False)
class Fit:
    """A correction and how well it predicts.

    Attributes:
        correction: fitted to all patches.
        left_out: `(24,)` ΔE00 of each patch as the others predict it.
        left_out_lab: `(24, 3)` L*a*b* under D50 that they predict.
        others: `(24,)` mean ΔE00 that remains among the others where a patch is left out: low for one that
            spoils the fit.
    """

    correction: Correction
    left_out: Floats
    left_out_lab: Floats
    others: Floats


def terms(linear: Floats, kind: Kind) -> Floats:
    """Return the terms `(..., n)` of linear light `(..., 3)`; those with roots grow with the exposure."""
    if kind is Kind.MATRIX:
        return linear
    if kind is Kind.AFFINE:
        return np.concatenate([linear, np.ones_like(linear[..., :1])], axis=-1)
    r, g, b = np.moveaxis(np.maximum(linear, 0.0), -1, 0)
    roots = np.stack([np.sqrt(r * g), np.sqrt(r * b), np.sqrt(g * b)], axis=-1)
    return np.concatenate([linear, roots], axis=-1)


@dataclass(frozen=True, eq=False)
class Seen:
    """A chart as scanned, beside its reference.

    Attributes:
        codes: `(24, 3)` as measured, 0 to 1.
        light: `(24, 3)` the light that fell on each patch, 1 where it is even.
        chart: the reference.
    """

    codes: Floats
    light: Floats
    chart: Chart


def fits(seen: Seen) -> tuple[Fit, ...]:
    """Return every kind's fit, the one with the least mean ΔE00 of patches left out first."""
    found = [_fit(seen, kind) for kind in Kind]
    return tuple(sorted(found, key=lambda fit: float(fit.left_out.mean())))


def plain_matrix(codes: Floats, chart: Chart) -> Floats:
    """Return ΔE00 `(24,)` of patches left out for the plain way: sRGB decoded, 3x3 by least squares."""
    # Two points on the straight start of sRGB's curve: what is decoded stays as it is.
    straight = (curve_of(np.array([0.01, 0.02]), np.array([0.01, 0.02]) / 12.92),) * 3
    return _fit(Seen(codes, np.ones_like(codes), chart), Kind.MATRIX, straight).left_out


def tone_curves(seen: Seen, keep: NDArray[np.bool_]) -> tuple[Curve, ...]:
    """Return the three curves of the gray patches that are kept.

    No gray of a chart is quite neutral (its white has b* = 2.9), so what a channel sees of it is not its Y.
    It is found in turns: light of all patches by the curve, the channel's mix of XYZ from that light, the
    grays' light by that mix, and the curve from those.
    """
    grays = [patch for patch in reversed(NEUTRAL) if keep[patch]]
    curves = []
    for channel in range(3):
        codes, light = seen.codes[:, channel], seen.light[:, channel]
        target = seen.chart.xyz[:, 1]
        for _ in range(_TURNS):
            curve = curve_of(codes[grays], target[grays] * light[grays])
            linear = curve.light(codes) / light
            mix, *_rest = np.linalg.lstsq(seen.chart.xyz[keep], linear[keep], rcond=None)
            mixed = seen.chart.xyz @ mix
            if not rises(codes[grays], mixed[grays] * light[grays]) or mixed[grays].min() <= 0:
                break
            target = mixed
        curves.append(curve)
    return tuple(curves)


def _fit(seen: Seen, kind: Kind, given: tuple[Curve, ...] = ()) -> Fit:
    predicted, others = np.empty((PATCHES, 3)), np.empty(PATCHES)
    for patch in range(PATCHES):
        keep = np.arange(PATCHES) != patch
        correction = _solved(seen, kind, keep, given)
        lab = correction.lab(seen.codes, seen.light)
        predicted[patch] = lab[patch]
        others[patch] = ciede2000(lab, seen.chart.lab)[keep].mean()
    correction = _solved(seen, kind, np.ones(PATCHES, bool), given)
    return Fit(correction, ciede2000(predicted, seen.chart.lab), predicted, others)


def _solved(seen: Seen, kind: Kind, keep: NDArray[np.bool_], given: tuple[Curve, ...]) -> Correction:
    curves = given or tone_curves(seen, keep)
    linear = Correction(curves, kind, np.zeros((3, 3))).linear(seen.codes) / seen.light
    matrix, *_ = np.linalg.lstsq(terms(linear, kind)[keep], seen.chart.xyz[keep], rcond=None)
    return Correction(curves, kind, np.asarray(matrix.T, np.float64))
