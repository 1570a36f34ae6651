"""Gaps so short and soft that what is left in them is blended with ink, and counts as line.

A line's blended pixels lie on its rim. Where one lies as deep as the line's middle, the pen was not there: on
both sides of it pure ink must begin, and the line must part the same two sides past both ends, as in any gap.
"""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.checks.gaps import (
    BESIDE,
    IDS_FROM,
    SLACK,
    Field,
    Gap,
    Sides,
    Spots,
    field_of,
    frame,
    line_end,
    sides_of,
    starts_of,
)
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.regions import LINE, OUTSIDE

DEEP = (1.9, 0.3)
"""Pixels, and pen widths, from the line's edge from which a blended pixel lies in its middle."""

MOST = 40
"""Soft spots looked at: a cel with more is drawn with a soft or broken pen."""

SHORTEST, LONGEST = 4, 8
"""Pixels between pure ink of such a gap: a longer one has a bare middle, from end to end; less is a blend."""

AHEAD = 6
"""Pixels past half a pen's width in which the two ends of pure ink are looked for."""

BLEND = 2.0
"""Pixels of these that are the lines' own soft ends, half covered or more: one at each."""

FADED = 0.45
"""Share of the way from the ink's color to its nearer side that the palest pixel of a gap lies at least."""

THINNEST = 3.5
"""Pixels of pen; a thinner line has blended pixels in its middle wherever it runs aslant."""

SCRAP = (1.5, 2.0)
"""Pen widths, and pixels more, of the longer side of what paint a slit across a line holds at most."""


def pinches_of(drawing: Drawing) -> Iterator[Gap]:
    """Find soft gaps in the lines of a painted cel, and slits in which the two sides hardly meet.

    Args:
        drawing: the cel, taken apart.

    Yields:
        The gaps, as measured.
    """
    pen = drawing.ink.pen
    if pen < THINNEST:
        return
    deep = _clusters(_deep(drawing), pen)
    bare = _clusters(_bare(drawing), pen)
    spots = [*((spot, True) for spot in deep), *((spot, False) for spot in bare)]
    field = field_of(drawing) if spots else None
    for spot, soft in spots:
        found = None if field is None else _pinch(drawing, field, spot, soft)
        if found is not None:
            yield found


def _deep(drawing: Drawing) -> Spots:
    """Return the x, y of blended pixels that lie in the middle of their line."""
    ink = drawing.ink
    # As places in the flat picture: thousands of pixels are gathered, for a few that lie deep.
    places = ink.loose[:, 0] * ink.depth.shape[1] + ink.loose[:, 1]
    deep = np.take(ink.depth, places) >= max(DEEP[0], DEEP[1] * ink.pen)
    spots: Spots = ink.loose[deep][:, ::-1].astype(np.float64)
    return spots


def _bare(drawing: Drawing) -> Spots:
    """Return the x, y of the middles of short bare borders, and of scraps of paint between two lines."""
    runs = [run.ends for run in drawing.runs if run.ends is not None and run.chord <= LONGEST - BLEND]
    met = np.reshape(np.array(runs, np.float64), (-1, 2, 2)).mean(axis=1)
    regions, most = drawing.regions, SCRAP[0] * drawing.ink.pen + SCRAP[1]
    fills = np.ones(len(regions.box), bool)
    fills[regions.clears + 1 :] = drawing.paints[1:]
    fills[: OUTSIDE + 1] = False
    box = regions.box[fills & (regions.box[:, 2:].max(axis=1) <= most)]
    middles = box[:, :2] + (box[:, 2:] - 1) / 2.0
    return np.concatenate([met, middles])


def _clusters(spots: Spots, pen: float) -> list[Spots]:
    """Return the x, y middles of the groups of spots that lie within a pen's width of one another.

    None where there are more than `MOST`.
    """
    out: list[Spots] = []
    x, y = np.ascontiguousarray(spots.T)
    # A group lies in four cells of twice the pen's width at most: this many cells are too many groups.
    if len(x) > 4 * MOST and len(np.unique(x // (2 * pen) * 65536 + y // (2 * pen))) > 4 * MOST:
        return out
    while len(x) and len(out) <= MOST:
        near = (x - x[0]) ** 2 + (y - y[0]) ** 2 <= pen**2
        out.append(np.array([x @ near, y @ near]) / np.count_nonzero(near))
        x, y = x[~near], y[~near]
    return out if len(out) <= MOST else []


def _pinch(drawing: Drawing, field: Field, middle: Spots, soft: bool) -> Gap | None:
    """Measure the gap around a spot; None where it is none. A soft one must be pale in its middle."""
    pen, reach = field.pen, int(field.pen + SLACK)
    x, y = (round(float(value)) for value in middle)
    corner = max(0, y - reach), max(0, x - reach)
    ids = _pure(drawing, corner, (y, x), reach)
    spot = middle - corner[::-1]
    axis = _axis(ids, spot, pen)
    if axis is None:
        return None
    depth = field.depth[corner[0] :, corner[1] :][: ids.shape[0], : ids.shape[1]]
    here = Field(ids, field.kinds, depth, pen)
    starts = starts_of(here, spot, axis, LONGEST)
    if starts is None or not SHORTEST <= sum(starts) - 1 <= LONGEST:
        return None
    rows = np.arange(-starts[0] - 2, starts[1] + 3)
    sides = sides_of(frame(here, spot, axis, rows, BESIDE + int(pen / 2)))
    pair = None if sides is None else _pair(here, spot, axis, sides)
    if sides is None or pair is None:
        return None
    if soft and not _faded(drawing, here, (spot, np.array(corner[::-1])), axis, starts):
        return None
    ends = tuple(
        line_end(here, spot, axis, (way, start), sides) for way, start in zip((-1, 1), starts, strict=True)
    )
    if min(end.width for end in ends) < THINNEST:
        return None
    length = max(1.0, sum(starts) - 1.0 - BLEND)
    place, way = (float(middle[0]), float(middle[1])), (float(axis[0]), float(axis[1]))
    return Gap(pair, length, (ends[0], ends[1]), 0.0, place, way, soft)


def _pure(drawing: Drawing, corner: tuple[int, int], spot: tuple[int, int], reach: int) -> NDArray[np.int32]:
    """Return the map around a spot (row, column) without its blended line pixels."""
    top, left = corner
    ids = drawing.regions.ids[top : spot[0] + reach + 1, left : spot[1] + reach + 1].copy()
    rows = np.searchsorted(drawing.ink.loose[:, 0], (top, spot[0] + reach + 1))  # they lie row by row
    down, right = drawing.ink.loose[rows[0] : rows[1]].T
    down, right = down - top, right - left
    away = (down - (spot[0] - top)) ** 2 + (right - (spot[1] - left)) ** 2
    near = (right >= 0) & (right < ids.shape[1]) & (away <= (drawing.ink.pen / 2 + 2) ** 2)
    ids[down[near], right[near]] = 0
    return ids


def _pair(field: Field, spot: Spots, axis: Spots, sides: Sides) -> tuple[int, int] | None:
    """Return the regions with a gap's two sides across the line, the lower id first; None where one lacks."""
    met = []
    ids = field.ids
    for way, side in zip((-1.0, 1.0), sides, strict=True):
        for step in np.arange(1.0, field.pen / 2 + BESIDE + 1):
            x = round(float(spot[0] - way * step * axis[1]))
            y = round(float(spot[1] + way * step * axis[0]))
            inside = 0 <= y < ids.shape[0] and 0 <= x < ids.shape[1]
            if inside and ids[y, x] > 0 and field.kinds[ids[y, x] + IDS_FROM] == side:
                met.append(int(ids[y, x]))
                break
    return (min(met), max(met)) if len(set(met)) == 2 else None


def _axis(ids: NDArray[np.int32], spot: Spots, pen: float) -> Spots | None:
    """Return the unit vector between the two pieces of pure ink around a spot; None where there is one."""
    ink = (ids == LINE).astype(np.uint8)
    disk = np.zeros_like(ink)
    cv2.circle(disk, (round(float(spot[0])), round(float(spot[1]))), int(pen / 2 + AHEAD), 1, -1)
    count, _, stats, centers = cv2.connectedComponentsWithStats(ink & disk, connectivity=8)
    order = np.argsort(-stats[1:, cv2.CC_STAT_AREA])[:2] + 1
    if count < 3 or stats[order[1], cv2.CC_STAT_AREA] < 0.4 * stats[order[0], cv2.CC_STAT_AREA]:
        return None
    span = centers[order[1]] - centers[order[0]]
    return np.asarray(span / max(1e-9, float(np.hypot(*span))))


def _faded(drawing: Drawing, here: Field, place: tuple[Spots, Spots], axis: Spots, starts: Sides) -> bool:
    """Tell whether the palest pixel in the middle of a gap is far from the ink's color.

    Args:
        drawing: the cel, taken apart.
        here: the window around the gap.
        place: x, y of the gap's middle in that window, and of the window's corner on the ground.
        axis: the unit vector from one end of pure ink to the other.
        starts: how far these are from the middle, back and on.
    """
    spot, (left, top) = place[0], (int(value) for value in place[1])
    ids = here.ids
    window = drawing.ground.rgba[top : top + ids.shape[0], left : left + ids.shape[1]].astype(np.float64)
    window[..., :3] *= window[..., 3:] / 255.0
    pure, rest = window[ids == LINE], window[ids > 0]
    if not len(pure) or not len(rest):
        return False
    ink = np.median(pure, axis=0)
    full = np.quantile(np.linalg.norm(rest - ink, axis=1), 0.25)
    along = np.arange(1 - starts[0], starts[1])[:, None]
    cols, rows = np.clip(np.rint(spot + along * axis).astype(np.int64), 0, np.array(ids.shape[::-1]) - 1).T
    palest = np.linalg.norm(window[rows, cols] - ink, axis=1).max(initial=0.0)
    return bool(palest >= FADED * full)
