"""Lines that are open where both sides are alike: the paint has run through, or one paint is meant on both.

Two ends of line that face each other are joined for a trial, as on a cel without paint (`leaks.py`): where
that parts one fill into two parts, the line is open between them. Strokes that end in a fill without closing
anything off part nothing, nor does a dashed line, whose other gaps stay open.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from cel_check.checks.bump import color_of
from cel_check.checks.tips import Spots, Tips, beside_joint, tips_of
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.regions import LINE, OUTSIDE

WIDEST = 3.6
"""Pen widths between two ends of line at most, as for a gap between two paints."""

WIDEST_PIXELS = 16.0
"""The same in pixels, for thin pens."""

FACING = 0.88
"""Cosine between the way an end of line runs and the way to the other end: some 28 degrees."""

UNLIKE = 1.6
"""Times that one end of line is wider than the other at most."""

LEAST_PART = 12.0
"""Squared pen widths of a part: less is a corner that a line cuts off on its way."""

WOULD_PART = "; closed, it would part them"
"""Words of a fault by which the comparison with other drawings knows that it is asked about this."""

BESIDE = 4
"""Pixels past half a line's width in which a side is looked for."""


@dataclass(frozen=True)
class Opening:
    """A place in which a line is open with the same on both sides. Coordinates are the ground's.

    Attributes:
        color: palette index of the paint on both sides; None where it is the clear cel.
        middle: x, y.
        axis: unit vector from one end of line to the other.
        length: pixels of it that are bare.
        width: of the line, pixels.
        areas: pixels of the two parts, the smaller first.
    """

    color: int | None
    middle: tuple[float, float]
    axis: tuple[float, float]
    length: float
    width: float
    areas: tuple[int, int]


def openings_of(drawing: Drawing) -> Iterator[Opening]:
    """Find the gaps in the lines of a painted cel whose two sides are alike.

    Args:
        drawing: the cel, taken apart.

    Yields:
        The gaps that part two parts, by the order of their ends.
    """
    pen = drawing.ink.pen
    tips = tips_of(drawing)
    for first, second in tips.facing(max(WIDEST_PIXELS, WIDEST * pen) + pen, FACING):
        narrow, wide = sorted((tips.widths[first], tips.widths[second]))
        if wide <= UNLIKE * narrow:
            found = _opening(drawing, tips, (first, second))
            if found is not None and found.areas[0] >= LEAST_PART * pen * pen:
                yield found


def _opening(drawing: Drawing, tips: Tips, pair: tuple[int, int]) -> Opening | None:
    """Measure the place between two ends of line; None where it is inked, or parts nothing."""
    one, two = (tips.spots[tip] for tip in pair)
    far = float(np.hypot(*(two - one)))
    axis, width = (two - one) / far, float(min(tips.widths[tip] for tip in pair))
    bare = _bare(drawing, one, axis, far)
    sides = _sides(drawing, (one + two) / 2.0, axis, width)
    if not bare or sides is None:
        return None
    color = color_of(drawing, sides[0])
    if color != color_of(drawing, sides[1]):
        return None
    if sides[0] == sides[1]:
        areas = _parted(drawing, sides[0], (one, two), width)
    else:  # a slit that is too narrow for the two parts to meet in it
        areas = [int(drawing.regions.area[side]) for side in sides]
    if len(areas) != 2:
        return None
    x, y = (float(value) for value in (one + two) / 2.0)
    way = (float(axis[0]), float(axis[1]))
    return Opening(color, (x, y), way, float(bare), width, (min(areas), max(areas)))


def _bare(drawing: Drawing, start: Spots, axis: Spots, far: float) -> int:
    """Return how many pixels between two ends of line are no ink."""
    along = np.arange(round(far) + 1)[:, None]
    cols, rows = np.rint(start + along * axis).astype(np.int64).T
    return int(np.count_nonzero(drawing.regions.ids[rows, cols] != LINE))


def _sides(drawing: Drawing, middle: Spots, axis: Spots, width: float) -> tuple[int, int] | None:
    """Return the regions on the two sides of a gap; None where one side has none."""
    ids, met = drawing.regions.ids, []
    normal = np.array([-axis[1], axis[0]])
    for way in (1.0, -1.0):
        out = np.arange(width / 2.0, width + BESIDE)[:, None]
        cols, rows = np.rint(middle + way * out * normal).astype(np.int64).T
        inside = (rows >= 0) & (rows < ids.shape[0]) & (cols >= 0) & (cols < ids.shape[1])
        seen = ids[rows[inside], cols[inside]]
        met += seen[seen > 0][:1].tolist()
    return (met[0], met[1]) if len(met) == 2 else None


def _parted(drawing: Drawing, region: int, ends: tuple[Spots, Spots], width: float) -> list[int]:
    """Return the areas of the two parts that a region falls into where two ends of line are joined.

    Empty where both sides of the joint hang together all the same.
    """
    ids = drawing.regions.ids
    x, y, wide, high = (int(value) for value in drawing.regions.box[region])
    left, top = x - BESIDE, y - BESIDE
    margin = (BESIDE, BESIDE, BESIDE, BESIDE)
    own = (ids[y : y + high, x : x + wide] == region).view(np.uint8)
    # Past the art's rectangle all is one outside, which the art alone would part.
    window = cv2.copyMakeBorder(own, *margin, cv2.BORDER_CONSTANT, value=int(region == OUTSIDE))
    one, two = ((round(float(end[0])) - left, round(float(end[1])) - top) for end in ends)
    cv2.line(window, one, two, 0, max(2, round(width / 2)))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(window, connectivity=4)
    met = beside_joint(labels, np.array(one, np.float64), np.array(two, np.float64), width)
    return [int(stats[label, cv2.CC_STAT_AREA]) for label in met] if len(met) == 2 else []
