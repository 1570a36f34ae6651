"""Can they be shown: sRGB gamut, video levels, ink on paint, viewers with a color vision deficiency."""

from collections.abc import Iterator
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from cel_check.color.contrast import contrast_ratio, relative_luminance
from cel_check.color.deficiency import Deficiency, simulate
from cel_check.color.difference import ciede2000
from cel_check.color.spaces import (
    White,
    lab_to_xyz,
    linear_to_srgb,
    linear_to_xyz_d65,
    srgb8_to_lab,
    xyz_d65_to_linear,
    xyz_to_lab,
)
from cel_check.color.video import TOLERANCE, excursion, signal_of_codes, tolerated_codes
from cel_check.model.apart import Pairs, differences, pairs_of
from cel_check.model.finding import Finding, Kind, Severity
from cel_check.model.looks import Looks, in_look
from cel_check.model.together import Together

Floats = NDArray[np.float64]


class Levels(StrEnum):
    """How the master takes the pictures' codes."""

    SCALED = "scaled"
    """0 to 255 become 16 to 235: black and white stay black and white (the usual way)."""
    STRAIGHT = "straight"
    """The codes go out as they are: 16 is black, 235 is white, and what lies outside is illegal."""


LEAST_CONTRAST = 1.15
"""Luminance contrast below which an ink line shows on its paint by hue alone: a house choice."""

_DEFICIENCIES = {
    Deficiency.PROTAN: "protan viewers (red weak or missing)",
    Deficiency.DEUTAN: "deutan viewers (green weak or missing)",
    Deficiency.TRITAN: "tritan viewers (blue weak or missing)",
}

MOST_PAIRS = 5
"""Pairs that one note names; it counts the rest."""


def find_unshown(looks: Looks, together: Together, levels: Levels) -> tuple[Finding, ...]:
    """Return what cannot be shown, broadcast or seen of the models' colors."""
    return (
        *_out_of_gamut(looks),
        *_illegal(looks, levels),
        *_lost_lines(looks, together),
        *_fall_together(looks, together),
    )


def _out_of_gamut(looks: Looks) -> Iterator[Finding]:
    declared = [color for model in looks.models for color in model.colors]
    for number, color in enumerate(declared):
        if color.swatch.in_gamut:
            continue
        held = srgb8_to_lab(looks.rgb[0, number])
        off = float(ciede2000(looks.lab[0, number], held))
        allowed = float(looks.tolerance[number])
        lightness, a, b = (f"{value:z.1f}" for value in color.swatch.lab)
        yield Finding(
            Severity.ERROR if off > allowed else Severity.WARNING,
            Kind.OUT_OF_GAMUT,
            looks.colors[number].model,
            f"{looks.name(number)}, L*a*b* {lightness} {a} {b} (D65), is outside what sRGB can show: "
            f"the nearest that a picture holds is {off:.1f} ΔE00 away (allowed {allowed:.1f}).",
            f"Choose a color inside the gamut, as {looks.hex(0, number)}.",
            (looks.key(number),), "", off, allowed, "ΔE00",
        )  # fmt: skip


def encoded(lab: Floats) -> Floats:
    """Return the encoded R'G'B' `(..., 3)` of L*a*b* D65, below 0 or above 1 where it is out of the gamut."""
    return linear_to_srgb(xyz_d65_to_linear(lab_to_xyz(lab, White.D65)))


def _illegal(looks: Looks, levels: Levels) -> Iterator[Finding]:
    """Yield each color with the look in which its signal passes the limits of EBU R 103 the farthest."""
    if levels is Levels.STRAIGHT:
        over = excursion(signal_of_codes(looks.rgb))
    else:
        over = np.where(looks.named, excursion(encoded(looks.lab)), 0.0)
    worst = over.argmax(axis=0)
    for number in np.flatnonzero(over.max(axis=0) > TOLERANCE):
        look = int(worst[number])
        yield _illegal_finding(looks, levels, int(number), look, float(over[look, number]))


def _illegal_finding(looks: Looks, levels: Levels, number: int, look: int, over: float) -> Finding:
    low, high = tolerated_codes()
    if levels is Levels.STRAIGHT:
        what = f"{looks.hex(look, number)} has codes outside {low} to {high}, sent out as they are"
        mend = f"Keep each of R, G and B between {low} and {high}, or scale the master to 16 to 235."
    else:
        values = " ".join(f"{value:.0f}" for value in encoded(looks.lab[look, number]) * 100.0)
        what = f"its signal would be R' G' B' {values} %"
        mend = f"Bring it inside the gamut: {looks.hex(look, number)} is legal."
    return Finding(
        Severity.ERROR,
        Kind.BROADCAST,
        looks.colors[number].model,
        f"{looks.name(number)}{in_look(looks.names[look])} is no legal broadcast level: {what}, "
        f"{over * 100:.0f} % past black or white (EBU R 103 tolerates {TOLERANCE * 100:.0f} %).",
        mend, (looks.key(number),), looks.names[look], over * 100, TOLERANCE * 100, "%",
    )  # fmt: skip


def _lost_lines(looks: Looks, together: Together) -> Iterator[Finding]:
    """Yield the inks that border a paint of nearly their own luminance, where borders are known."""
    pairs = pairs_of(looks, together)
    known = np.flatnonzero(pairs.lines & (pairs.rank == 2))
    luminance = relative_luminance(looks.linear)
    for pair in known:
        i, j = int(pairs.i[pair]), int(pairs.j[pair])
        ratio = contrast_ratio(luminance[:, i], luminance[:, j])
        look = int(ratio.argmin())
        if ratio[look] >= LEAST_CONTRAST:
            continue
        ink, paint = (i, j) if looks.colors[i].use == "ink" else (j, i)
        darker = luminance[look, ink] <= luminance[look, paint]
        yield Finding(
            Severity.WARNING,
            Kind.INK_CONTRAST,
            looks.colors[i].model,
            f"{looks.name(ink)} shows on {looks.name(paint)}{in_look(looks.names[look])} by its hue alone: "
            f"their luminance contrast is {ratio[look]:.2f} to 1.",
            f"Make {looks.colors[ink].name} {'darker' if darker else 'lighter'}.",
            (looks.key(ink), looks.key(paint)), looks.names[look], float(ratio[look]), LEAST_CONTRAST, "to 1",
        )  # fmt: skip


def _fall_together(looks: Looks, together: Together) -> Iterator[Finding]:
    """Yield a note for each model and deficiency with the pairs that only other viewers can tell apart."""
    pairs = pairs_of(looks, together)
    own = looks.owner[pairs.i] == looks.owner[pairs.j]
    kept = np.flatnonzero((pairs.rank == 2) & own)
    pairs = Pairs(pairs.i[kept], pairs.j[kept], pairs.rank[kept], pairs.lines[kept], pairs.needed[kept])
    if not len(kept):
        return
    plain = differences(looks, pairs) >= pairs.needed
    for deficiency in Deficiency:
        seen = _seen_by(looks, pairs, deficiency, plain)
        lost = np.flatnonzero((seen < pairs.needed).any(axis=0))
        for owner in range(len(looks.models)):
            mine = lost[looks.owner[pairs.i[lost]] == owner]
            if len(mine):
                yield _lost_note(looks, pairs, deficiency, mine[np.argsort(seen[:, mine].min(axis=0))], seen)


def _seen_by(looks: Looks, pairs: Pairs, deficiency: Deficiency, plain: NDArray[np.bool_]) -> Floats:
    """Return the `(looks, pairs)` ΔE00 that such a viewer sees; infinite where others see none either."""
    lab = xyz_to_lab(linear_to_xyz_d65(simulate(looks.linear, deficiency)), White.D65)
    seen = np.full(plain.shape, np.inf)
    for look in range(len(looks.names)):
        there = (looks.named[look, pairs.i] | looks.named[look, pairs.j]) & plain[look]
        # ΔE00 is at least the difference in L* over S_L, which is at most 1.75: most pairs need no more.
        near = np.abs(lab[look, pairs.i, 0] - lab[look, pairs.j, 0]) < 1.75 * pairs.needed
        some = np.flatnonzero(there & near)
        seen[look, some] = ciede2000(lab[look, pairs.i[some]], lab[look, pairs.j[some]])
    return seen


def _lost_note(
    looks: Looks, pairs: Pairs, deficiency: Deficiency, lost: NDArray[np.int64], seen: Floats
) -> Finding:
    told = []
    for pair in lost[:MOST_PAIRS]:
        look = int(seen[:, pair].argmin())
        names = f"{looks.colors[pairs.i[pair]].name} and {looks.colors[pairs.j[pair]].name}"
        told.append(f"{names} ({seen[look, pair]:.1f} ΔE00{in_look(looks.names[look])})")
    more = f" and {len(lost) - MOST_PAIRS} pairs more" if len(lost) > MOST_PAIRS else ""
    keys = dict.fromkeys(looks.key(int(c)) for pair in lost for c in (pairs.i[pair], pairs.j[pair]))
    return Finding(
        Severity.NOTE,
        Kind.COLOR_VISION,
        looks.colors[int(pairs.i[lost[0]])].model,
        f"For {_DEFICIENCIES[deficiency]} these fall together: {', '.join(told)}{more}.",
        "Where the story needs the difference, let lightness tell it too.",
        tuple(keys), "", float(seen[:, lost].min()), None, "ΔE00",
    )  # fmt: skip
