"""The map of a drawing: every pixel given to clear cel, to a fill or to a line, and who borders on whom.

Ids: 1 is the clear cel outside, 2 and up the enclosed clear places, after them the flats. `LINE` is any line,
`BEYOND` what lies outside the picture. Blended pixels go to the nearest region, so two regions that touch
without a line between them share contact edges.
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.clear import Ground
from cel_check.drawing.flats import Flats
from cel_check.drawing.rows import Rows, row_runs

LINE = -1
BEYOND = -2
OUTSIDE = 1

HALF = 128
"""Alpha (of 255) below which a soft pixel is more clear cel than paint."""

GROWTH = 5
"""Pixels by which regions grow into their blended rims; blends of over twice that are shading, not rims."""


@dataclass(frozen=True, eq=False)
class Regions:
    """Every region and its border.

    Attributes:
        ids: `(h, w)` int32: `LINE`, `BEYOND`, 0 (nobody's) or a region's id.
        clears: number of clear regions, with ids 1 to `clears`.
        area: `(n,)` pixels by id, the rim included.
        box: `(n, 4)` x, y, width, height by id (clear regions and flats; the rim not included).
        inked: `(n,)` border edges on a line, by id.
        bare: `(n,)` border edges on another region, by id.
        pairs: `(m, 2)` ids of contact edges, the lower id first.
        points: `(m, 2)` x, y of the contact edges.
        rows: the row runs of `ids`.
    """

    ids: NDArray[np.int32]
    clears: int
    area: NDArray[np.int64]
    box: NDArray[np.int32]
    inked: NDArray[np.int64]
    bare: NDArray[np.int64]
    pairs: NDArray[np.int64]
    points: NDArray[np.int32]
    rows: Rows

    def id_of_flat(self, label: int) -> int:
        """Return the id of a flat's region."""
        return label + self.clears

    def flat_of_id(self, region: int) -> int:
        """Return the flat's label of a region's id; 0 or less for clear regions."""
        return region - self.clears

    def inked_share(self, region: int) -> float:
        """Return the share (0 to 1) of a region's border that a line covers."""
        total = int(self.inked[region] + self.bare[region])
        return float(self.inked[region]) / total if total else 0.0


def map_regions(ground: Ground, flats: Flats, paints: NDArray[np.bool_], line: NDArray[np.uint8]) -> Regions:
    """Give every pixel to a region and count the borders.

    Args:
        ground: the art's rectangle.
        flats: its flats.
        paints: per flat, whether it is a fill.
        line: 255 on line pixels.
    """
    enclosed, (x, y, w, h) = _enclosed(ground.clear)
    clears = OUTSIDE + int(enclosed.max(initial=0))
    number = np.where(paints, np.arange(len(paints)) + clears, 0).astype(np.int32)
    # Of what is no flat, all is clear but the bare pixels, which are few.
    number[0] = OUTSIDE
    ids = flats.rows.spread(number)
    ids.ravel()[flats.bare] = 0
    # One of the two is 0 everywhere but in the enclosed places themselves.
    np.add(ids[y : y + h, x : x + w], enclosed, out=ids[y : y + h, x : x + w])
    np.copyto(ids, LINE, where=line > 0)
    _mark_beyond(ids, ground)
    _grow(ids, _clear_rims(ids, ground, clears))
    count = clears + len(paints)
    places = boxes_of(enclosed, (x, y), clears, ids.shape)
    return _with_borders(ids, clears, count, np.concatenate([places, flats.box[1:]]))


def _enclosed(clear: NDArray[np.uint8]) -> tuple[NDArray[np.int32], tuple[int, int, int, int]]:
    """Number the clear places that are not joined to the pad, from 1, in the rectangle that holds them.

    Most cels have few and small ones, so that the rest of the map need not be labeled.
    """
    left = clear.copy()
    cv2.floodFill(left, None, (0, 0), 0)  # the pad is clear and all of one piece; neighbors are 4-connected
    x, y, w, h = cv2.boundingRect(left)
    if not w:
        return np.zeros((0, 0), np.int32), (0, 0, 0, 0)
    _, labels = cv2.connectedComponents(left[y : y + h, x : x + w], connectivity=4)
    return cast("NDArray[np.int32]", labels), (x, y, w, h)


def boxes_of(
    enclosed: NDArray[np.int32], corner: tuple[int, int], clears: int, shape: tuple[int, int]
) -> NDArray[np.int32]:
    """Return x, y, width, height of the clear regions; rows 0 and 1 (the rest of the cel) span the map.

    Args:
        enclosed: the enclosed places' numbers from 1, in their rectangle.
        corner: x, y of that rectangle in the map.
        clears: number of clear regions.
        shape: height and width of the map.
    """
    box = np.tile(np.array([0, 0, shape[1], shape[0]], np.int32), (clears + 1, 1))
    if clears > OUTSIDE:
        rows = row_runs(enclosed)
        box[2:] = rows.only(rows.region > 0).box(clears)[1:]
        box[2:, :2] += np.array(corner, np.int32)
    return box


def _mark_beyond(ids: NDArray[np.int32], ground: Ground) -> None:
    """Mark the pad where it lies outside the picture."""
    x, y = ground.origin
    width, height = ground.size
    ids[:, : max(0, -x)] = BEYOND
    ids[: max(0, -y)] = BEYOND
    if x + ids.shape[1] > width:
        ids[:, width - x :] = BEYOND
    if y + ids.shape[0] > height:
        ids[height - y :] = BEYOND


def _clear_rims(ids: NDArray[np.int32], ground: Ground, clears: int) -> NDArray[np.int64]:
    """Give soft pixels that are more clear than painted to the clear cel beside them, in place.

    Returns:
        The pixels that are still nobody's.
    """
    flat, width = ids.ravel(), ids.shape[1]
    nobodys = np.flatnonzero(flat == 0)
    rim = nobodys[ground.rgba.reshape(-1, 4)[nobodys, 3] < HALF]
    best = np.zeros(len(rim), np.int32)
    for step in (-1, 1, -width, width):
        beside = flat[rim + step]  # the art is padded
        np.maximum(best, np.where(beside <= clears, beside, 0), out=best)
    flat[rim[best > 0]] = best[best > 0]
    left: NDArray[np.int64] = nobodys[flat[nobodys] == 0]
    return left


def _grow(ids: NDArray[np.int32], empty: NDArray[np.int64]) -> None:
    """Grow regions into nobody's pixels, one pixel a step, in place; only those few pixels are looked at."""
    width = ids.shape[1]
    flat = ids.ravel()
    for _ in range(GROWTH):
        if not len(empty):
            return
        best = np.zeros(len(empty), np.int32)
        for step in (-1, 1, -width, width):
            np.maximum(best, flat[empty + step], out=best)
        grown = best > 0
        flat[empty[grown]] = best[grown]
        empty = empty[~grown]


def _with_borders(ids: NDArray[np.int32], clears: int, count: int, box: NDArray[np.int32]) -> Regions:
    """Count each region's border edges on lines and on other regions."""
    rows = row_runs(ids)
    first, second, place = _changes(ids, rows)
    low, high = np.minimum(first, second), np.maximum(first, second)
    on_line = (low == LINE) & (high > 0)
    contact = low > 0
    inked = np.bincount(high[on_line], minlength=count)
    bare = np.bincount(low[contact], minlength=count) + np.bincount(high[contact], minlength=count)
    area = np.bincount(rows.region - BEYOND, weights=rows.length, minlength=count - BEYOND)[-BEYOND:]
    pairs = np.stack([low[contact], high[contact]], axis=1).astype(np.int64)
    y, x = np.divmod(place[contact].astype(np.int32), np.int32(ids.shape[1]))
    return Regions(
        ids, clears, area.astype(np.int64), box, inked, bare, pairs, np.stack([x, y], axis=1), rows
    )


def _changes(
    ids: NDArray[np.int32], rows: Rows
) -> tuple[NDArray[np.int32], NDArray[np.int32], NDArray[np.int64]]:
    """Return the two ids of all pairs of neighbors that differ, and the first's place in reading order."""
    width = ids.shape[1]
    flat = ids.ravel()
    beside = rows.start[rows.left > 0] - 1
    above = np.flatnonzero(flat[:-width] != flat[width:])
    place = np.concatenate([beside, above])
    return flat[place], np.concatenate([flat[beside + 1], flat[above + width]]), place
