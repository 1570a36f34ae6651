"""Gaps in a line: two ends of line that face each other, and between them two regions that meet bare.

A gap is measured in its own frame: the axis runs from one end of line to the other, sideways lie the
regions. Past both ends the line is followed and its two sides are looked at: where they carry the same two
paints as in the gap, the line parts them and is open here.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor
from statistics import median

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.checks.bump import color_of
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE
from cel_check.drawing.regions import BEYOND, LINE, OUTSIDE
from cel_check.drawing.runs import Run

LONGEST = 3.6
"""Pen widths between the two ends of a gap at most; beyond, a border without a line is drawn."""

LONGEST_PIXELS = 16.0
"""The same in pixels, for thin pens."""

BENT = (2.0, 0.15)
"""Pixels, and share of its chord, by which a gap's border leaves the chord at most."""

AROUND = 1.2
"""Pen widths of line past each end that are looked at."""

SLACK = 6.0
"""Pixels more of these, for blended ends and thin pens."""

BROAD = (8.0, 0.5, 2.0)
"""Pen from which less than that is looked at past an end, pixels less for each pixel of pen, and pixels more
at least: broad lines are soon past a bend."""

THICKER = (1.6, 2.0)
"""Pen widths, and pixels more, from which a line is drawn with a thicker pen than the drawing's usual one."""

FINE = 8
"""Rows looked at in a pen's width of line."""

NEAR_END = 4.0
"""Pixels past a run's end within which the ink of the line's end begins."""

BESIDE = 4
"""Pixels beside the axis in which a gap's two sides are looked for."""

STRAY = 2.0
"""Pixels, and a quarter of a pen's width, by which the line's middle moves from a row to the next at most."""

INK, CLEAR, ELSE = -1, -2, -3
OFF_MODEL = 100_000
"""Kinds in a frame; others are palette indices, or `OFF_MODEL` and the flat's label."""

IDS_FROM = -BEYOND
"""What is added to the map's ids, of which the least is `BEYOND`, to count from 0."""

Spots = NDArray[np.float64]
Kinds = NDArray[np.int64]
Sides = tuple[int, int]


@dataclass(frozen=True, eq=False)
class Field:
    """What lies at each pixel of a drawing.

    Attributes:
        ids: `(h, w)` int32, the regions' map.
        kinds: `(n,)` int64, what an id stands for, by the id and `IDS_FROM`.
        depth: `(h, w)` float32, distance in pixels of a line's pixels from its edge.
        pen: the drawing's pen width in pixels.
    """

    ids: NDArray[np.int32]
    kinds: Kinds
    depth: NDArray[np.float32]
    pen: float


@dataclass(frozen=True)
class LineEnd:
    """One end of line beside a gap; lengths in pixels.

    Attributes:
        width: of the line past its end, the median.
        sided: share (0 to 1) of the rows past its end with the gap's two sides on the line's two sides.
        rows: number of these rows.
        length: of the line that was followed.
        off: of the line's middle from the axis, at its end.
        lean: how far the line turns off the axis, pixels sideways per pixel.
    """

    width: float
    sided: float
    rows: int
    length: int
    off: float
    lean: float


@dataclass(frozen=True)
class Gap:
    """A gap between two ends of line. Coordinates are the ground's, lengths pixels.

    Attributes:
        pair: the two regions' ids, the lower first.
        length: from one end of line to the other.
        ends: the two ends of line.
        out: largest distance of the border from the axis.
        middle: x, y.
        axis: unit vector from the first end to the second.
        soft: whether the line only fades there, and does not stop.
    """

    pair: tuple[int, int]
    length: float
    ends: tuple[LineEnd, LineEnd]
    out: float
    middle: tuple[float, float]
    axis: tuple[float, float]
    soft: bool = False


def gaps_of(drawing: Drawing) -> Iterator[Gap]:
    """Find the gaps in lines between two regions of different paints, or of paint and clear cel.

    Args:
        drawing: the cel, taken apart.

    Yields:
        The gaps, in the order of the runs, as measured: which of them are faults is for the check to decide.
    """
    longest = max(LONGEST_PIXELS, LONGEST * drawing.ink.pen)
    field = field_of(drawing)
    for run in drawing.runs:
        if run.ends is None or run.chord > longest or run.depth > BENT[0] + BENT[1] * run.chord:
            continue
        if color_of(drawing, run.pair[0]) == color_of(drawing, run.pair[1]):
            continue
        gap = _gap(field, run)
        if gap is not None:
            yield gap


def field_of(drawing: Drawing) -> Field:
    """Return what lies at each pixel: off-model fills stay apart from one another."""
    regions = drawing.regions
    kinds = np.full(regions.clears + len(drawing.index) + IDS_FROM, ELSE, np.int64)
    kinds[LINE + IDS_FROM] = INK
    kinds[OUTSIDE + IDS_FROM : OUTSIDE + IDS_FROM + regions.clears] = CLEAR
    flats = np.arange(1, len(drawing.index))
    colors = drawing.index[1:]
    kinds[regions.clears + IDS_FROM + 1 :] = np.where(colors == NONE, OFF_MODEL + flats, colors)
    return Field(regions.ids, kinds, drawing.ink.depth, drawing.ink.pen)


def _gap(field: Field, run: Run) -> Gap | None:
    first, second = (np.array(end, np.float64) for end in run.ends or ((0, 0), (0, 0)))
    middle = (first + second) / 2.0
    axis = axis_between(field, middle, run.chord / 2.0, (first, second))
    if axis is None:
        return None
    starts = starts_of(field, middle, axis, int(run.chord / 2.0 + NEAR_END))
    if starts is None:
        return None
    before, after = starts
    off = (run.points - middle) @ np.array([-axis[1], axis[0]])
    out = float(np.abs(off).max())
    inside = np.arange(-before + 1, after)
    sides = sides_of(frame(field, middle, axis, inside))
    if sides is None:  # the border bends out of the near strips: both show what lies on one side
        sides = sides_of(frame(field, middle, axis, inside, BESIDE + 2 * ceil(out)))
    if sides is None:
        return None
    ends = tuple(
        line_end(field, middle, axis, (way, start), sides) for way, start in ((-1, before), (1, after))
    )
    return Gap(
        run.pair,
        float(before + after - 1),
        (ends[0], ends[1]),
        out,
        (float(middle[0]), float(middle[1])),
        (float(axis[0]), float(axis[1])),
    )


def axis_between(field: Field, middle: Spots, half: float, ends: tuple[Spots, Spots]) -> Spots | None:
    """Return the unit vector from one piece of line to the other, in a disk around the gap."""
    reach = half + field.pen + SLACK
    x, y, side = round(float(middle[0])), round(float(middle[1])), int(reach)
    top, left = max(0, y - side), max(0, x - side)
    window = (field.ids[top : y + side + 1, left : x + side + 1] == LINE).view(np.uint8)
    disk = np.zeros_like(window)
    cv2.circle(disk, (x - left, y - top), side, 1, -1)
    count, labels, _, centers = cv2.connectedComponentsWithStats(window & disk, connectivity=8)
    near = [_nearest_piece(labels, end - (left, top), NEAR_END) for end in ends]
    if (
        count > 2 and near[0] == near[1]
    ):  # the run is hardly longer than wide: the next piece is the other end
        others = np.where(labels == near[0], 0, labels)
        near[1] = _nearest_piece(others, middle - (left, top), half + NEAR_END) or near[0]
    span = ends[1] - ends[0] if near[0] == near[1] else centers[near[1]] - centers[near[0]]
    length = float(np.hypot(*span))
    return None if length < 1.0 else np.asarray(span / length)


def _nearest_piece(labels: NDArray[np.int32], spot: Spots, reach: float) -> int:
    """Return which piece of line is nearest to a point (x, y) of a window within reach; 0 where none is."""
    x, y, side = round(float(spot[0])), round(float(spot[1])), int(reach)
    top, left = max(0, y - side), max(0, x - side)
    rows, cols = np.nonzero(labels[top : y + side + 1, left : x + side + 1])
    if not len(rows):
        return 0
    best = int(((rows + top - spot[1]) ** 2 + (cols + left - spot[0]) ** 2).argmin())
    return int(labels[rows[best] + top, cols[best] + left])


def frame(field: Field, middle: Spots, axis: Spots, along: NDArray[np.int64], wide: int = BESIDE) -> Kinds:
    """Return what lies around a gap: `(along, 2 wide + 1)` paints, `CLEAR`, `INK` or `ELSE`."""
    across = np.arange(-wide, wide + 1)
    height, width = field.ids.shape
    cols = np.rint(middle[0] + along[:, None] * axis[0] - across * axis[1]).astype(np.int64)
    rows = np.rint(middle[1] + along[:, None] * axis[1] + across * axis[0]).astype(np.int64)
    # Spelled out: of windows as small as these the call of `clip` is most of its time.
    np.minimum(np.maximum(rows, 0, out=rows), height - 1, out=rows)
    np.minimum(np.maximum(cols, 0, out=cols), width - 1, out=cols)
    kinds: Kinds = field.kinds[field.ids[rows, cols] + IDS_FROM]
    return kinds


def starts_of(field: Field, middle: Spots, axis: Spots, most: int) -> Sides | None:
    """Return how far from the middle the ink begins, back and on along the axis; None where it does not."""
    inked = (frame(field, middle, axis, np.arange(-most, most + 1), 1) == INK).sum(axis=1) >= 2
    before, after = np.flatnonzero(inked[most::-1]), np.flatnonzero(inked[most:])
    if not len(before) or not len(after) or before[0] + after[0] < 2:
        return None
    return int(before[0]), int(after[0])


def sides_of(inside: Kinds) -> Sides | None:
    """Return what lies on the two sides of the axis within a gap; None where that is one thing."""
    out, wide = [], inside.shape[1] // 2
    for strip in (inside[:, :wide], inside[:, wide + 1 :]):
        seen = strip[(strip != INK) & (strip != ELSE)]
        if not len(seen):
            return None
        values, counts = np.unique(seen, return_counts=True)
        out.append(int(values[counts.argmax()]))
    return None if out[0] == out[1] else (out[0], out[1])


def line_end(field: Field, middle: Spots, axis: Spots, place: tuple[int, int], sides: Sides) -> LineEnd:
    """Follow the line outward from its end."""
    way, start = place
    pen = _pen_at(field, middle, way * axis, start)
    step = max(1, int(pen / FINE))
    more = max(BROAD[2], SLACK - BROAD[1] * max(0.0, pen - BROAD[0]))
    along = way * np.arange(start, int(start + AROUND * pen + more), step)
    wide = int(1.25 * pen + SLACK)
    center, good = float(wide), 0
    widths: list[int] = []
    centers: list[float] = []
    # As lists: a row has some thirty pixels, and an array's every step costs as much as looking at them all.
    for row in frame(field, middle, axis, along, wide).tolist():
        span = _interval(row, center, STRAY if centers else STRAY + pen / 4)
        if span is None:
            break
        low, high = span
        center = (low + high) / 2.0
        centers.append(center - wide)
        widths.append(high - low + 1)
        good += sides[0] in row[max(0, low - 2) : low] and sides[1] in row[high + 1 : high + 3]
    if not centers:
        return LineEnd(0.0, 0.0, 0, 0, 0.0, 0.0)
    last = min(len(centers) - 1, FINE)
    first = min(2, last - 1)  # the first rows may cut a slanting end
    lean = (centers[last] - centers[first]) / ((last - first) * step) if last else 0.0
    count = len(centers)
    return LineEnd(float(median(widths)), good / count, count, count * step, centers[0], lean)


def _pen_at(field: Field, middle: Spots, axis: Spots, start: int) -> float:
    """Return the pen to follow a line by past a gap: the drawing's, unless the line is plainly thicker."""
    along = np.arange(start, int(start + AROUND * field.pen + SLACK))[:, None]
    spots = np.rint(middle + along * axis).astype(np.int64)
    height, width = field.ids.shape
    inside = (spots >= 0).all(axis=1) & (spots[:, 0] < width) & (spots[:, 1] < height)
    cols, rows = spots[inside].T
    here = 2.0 * float(field.depth[rows, cols].max(initial=0.0)) - 0.5
    return here if here > THICKER[0] * field.pen + THICKER[1] else field.pen


def _interval(row: list[int], center: float, slack: float) -> tuple[int, int] | None:
    """Return the first and the last pixel of the ink in a row that lies at the center or beside it."""
    near = range(max(0, ceil(center - slack)), min(len(row), floor(center + slack) + 1))
    inked = [place for place in near if row[place] == INK]
    if not inked:
        return None
    low = high = min(inked, key=lambda place: abs(place - center))
    while low > 0 and row[low - 1] == INK:
        low -= 1
    while high + 1 < len(row) and row[high + 1] == INK:
        high += 1
    return low, high
