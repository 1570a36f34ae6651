"""Lines that are open where both sides are alike: the paint has run through, or one paint is meant on both.

Two ends of line that face each other are joined for a trial, as on a cel without paint (`leaks.py`): where
that parts one fill into two parts, the line is open between them. Strokes that end in a fill without closing
anything off part nothing, nor does a dashed line, whose other gaps stay open.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache, partial

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.checks.bump import color_of
from cel_check.checks.tips import PAST, Spots, Tips, beside_joint, past_half, tips_of
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

MARGIN = 4
"""Pixels around a fill's box in which what surrounds it hangs together."""


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


@dataclass(frozen=True, eq=False)
class _Fill:
    """One region and what is around it, in a window.

    Attributes:
        own: `(h, w)` uint8, 1 on the region.
        around: `(h, w)` int32, what hangs together around it; 0 on the region.
        corner: x, y of the window on the ground.
    """

    own: NDArray[np.uint8]
    around: NDArray[np.int32]
    corner: tuple[int, int]


def openings_of(drawing: Drawing) -> Iterator[Opening]:
    """Find the gaps in the lines of a painted cel whose two sides are alike.

    Args:
        drawing: the cel, taken apart.

    Yields:
        The gaps that part two parts, by the order of their ends.
    """
    pen = drawing.ink.pen
    tips = tips_of(drawing)
    fill = cache(partial(_fill, drawing))  # a large one has many ends of line in it
    for first, second in tips.facing(pen, (WIDEST, WIDEST_PIXELS), FACING):
        narrow, wide = sorted((tips.widths[first], tips.widths[second]))
        if wide <= UNLIKE * narrow:
            found = _opening(drawing, tips, (first, second), fill)
            if found is not None and found.areas[0] >= LEAST_PART * pen * pen:
                yield found


def _opening(
    drawing: Drawing, tips: Tips, pair: tuple[int, int], fill: Callable[[int], _Fill]
) -> Opening | None:
    """Measure the place between two ends of line; None where it is inked, or parts nothing."""
    one, two = (tips.spots[tip] for tip in pair)
    far = float(np.hypot(*(two - one)))
    axis, width = (two - one) / far, float(min(tips.widths[tip] for tip in pair))
    bare = _bare(drawing, one, axis, far)
    sides = beside_joint(drawing.regions.ids, one, two, (width / 2.0, width + PAST))
    if not bare or len(sides) < 2:
        return None
    color = color_of(drawing, sides[0])
    if color != color_of(drawing, sides[1]):
        return None
    if sides[0] == sides[1]:
        areas = _parted(fill(sides[0]), (one, two), width)
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


def _fill(drawing: Drawing, region: int) -> _Fill:
    """Return a region in its window."""
    x, y, wide, high = (int(value) for value in drawing.regions.box[region])
    own = (drawing.regions.ids[y : y + high, x : x + wide] == region).view(np.uint8)
    # Past the art's rectangle all is one outside, which the art alone would part.
    margin = (MARGIN, MARGIN, MARGIN, MARGIN)
    own = np.asarray(cv2.copyMakeBorder(own, *margin, cv2.BORDER_CONSTANT, value=int(region == OUTSIDE)))
    _, around = cv2.connectedComponents(1 - own, connectivity=8)
    return _Fill(own, np.asarray(around, np.int32), (x - MARGIN, y - MARGIN))


def _parted(fill: _Fill, ends: tuple[Spots, Spots], width: float) -> list[int]:
    """Return the areas of the two parts that a region falls into where two ends of line are joined.

    Empty where both sides of the joint hang together all the same: only ends that hang together around the
    region close anything off.
    """
    one, two = (np.rint(end).astype(np.int64) - fill.corner for end in ends)
    last = np.array(fill.own.shape[::-1]) - 1
    held = [int(fill.around[tuple(np.clip(end, 0, last)[::-1])]) for end in (one, two)]
    if held[0] != held[1]:
        return []
    window = fill.own.copy()
    cv2.line(window, one.tolist(), two.tolist(), 0, max(2, round(width / 2)))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(window, connectivity=4)
    sides = beside_joint(np.asarray(labels, np.int32), one.astype(float), two.astype(float), past_half(width))
    met = set(sides)
    return [int(stats[label, cv2.CC_STAT_AREA]) for label in met] if len(met) == 2 else []
