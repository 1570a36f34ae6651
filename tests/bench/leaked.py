"""A gap with the same on both sides: the paint of one part ran into the other, or a part was left clear.

A stretch of line between two parts, or a part and the clear cel, is taken out.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from cases import Case
from gaps import LineGap, gap_between, lines_of
from shapes import PartTruth, inked_share, labels_of, parts

LEAST = (150, 12.0)
"""Pixels, and squared widths of the line, of a part at least: less is a corner, not a part."""

SHUT = 0.97
"""Share of the border of the part that the paint ran into that is ink: else it was no part of its own."""


@dataclass(frozen=True, eq=False)
class Leaked:
    """A gap in the line between two parts.

    Attributes:
        gap: the stretch of line; its sides are 1 + the places of the parts in `parts()`, 0 the clear cel.
        into: the part that the paint ran into, which has the paint already where both were alike before.
        paint: index of that paint; None where it is the clear cel that lies on both sides.
    """

    gap: LineGap
    into: PartTruth
    paint: int | None


def leaked_line(case: Case, rng: np.random.Generator, onto_clear: bool) -> Leaked | None:
    """Take 2 to 12 px or 0.5 to 3 widths out of a line between two parts, or a part and the clear cel."""
    fills = parts(case)
    labels = np.where(labels_of(case) == 0, 0, -2).astype(np.int32)
    for place, part in enumerate(fills, start=1):
        labels[part.mask] = place
    shut: dict[int, bool] = {0: False}

    def closed(place: int) -> bool:
        if place not in shut:
            shut[place] = inked_share(case, fills[place - 1]) >= SHUT
        return shut[place]

    def can_part(sides: tuple[int, int], width: float) -> bool:
        least = max(LEAST[0], LEAST[1] * width * width)
        return (
            sides[0] != sides[1]
            and min(sides) >= 0
            and (0 in sides) == onto_clear
            and all(fills[side - 1].area >= least for side in sides if side)
            and any(closed(side) for side in sides)
        )

    gap = gap_between(rng, lines_of(case, labels), can_part)
    if gap is None:
        return None
    ran = min((side for side in gap.sides if closed(side)), key=lambda side: fills[side - 1].area)
    other = gap.sides[0] if ran == gap.sides[1] else gap.sides[1]
    into = fills[ran - 1]
    beside = None if other == 0 else fills[other - 1]
    if not _parted(case, into, beside):
        return None
    return Leaked(gap, into, None if beside is None else beside.color)


def _parted(case: Case, into: PartTruth, beside: PartTruth | None) -> bool:
    """Tell whether a part has nothing but the gap between it and another, or the clear cel, once alike."""
    clear = 255 - np.minimum(255, case.paint.sum(axis=0, dtype=np.int32))
    paint = np.maximum(clear if beside is None else case.paint[beside.color], into.share(case))
    alike = np.pad((paint > 64) & (case.ink.max(axis=0) < 128), 1, constant_values=beside is None)
    _, labels = cv2.connectedComponents(alike.astype(np.uint8), connectivity=8)
    own = labels[1:-1, 1:-1]
    there = labels[0, 0] if beside is None else own[beside.mask][0]
    return bool(own[into.mask][0] != there)
