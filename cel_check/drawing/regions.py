"""The map of a drawing: every pixel given to clear cel, to a fill or to a line, and who borders on whom.

Ids: 1 is the clear cel outside, 2 and up the enclosed clear places, after them the flats. `LINE` is any line,
`BEYOND` what lies outside the picture. Blended pixels go to the nearest region, so two regions that touch without
a line between them share contact edges.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.clear import Ground
from cel_check.drawing.flats import Flats

LINE = -1
BEYOND = -2
OUTSIDE = 1

GROWTH = 5
"""Pixels by which regions grow into their blended rims; wider blends than twice that are shading, not rims."""


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
    """

    ids: NDArray[np.int32]
    clears: int
    area: NDArray[np.int64]
    box: NDArray[np.int32]
    inked: NDArray[np.int64]
    bare: NDArray[np.int64]
    pairs: NDArray[np.int64]
    points: NDArray[np.int32]

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
    clears, clear_labels, clear_stats, _ = cv2.connectedComponentsWithStats(ground.clear, connectivity=4)
    clears -= 1
    number = np.where(paints, np.arange(len(paints)) + clears, 0).astype(np.float32)
    ids = number[flats.labels]
    np.copyto(ids, _outside_first(clear_labels).astype(np.float32), where=ground.clear > 0)
    ids[line > 0] = LINE
    _mark_beyond(ids, ground)
    _grow(ids)
    whole = ids.astype(np.int32)
    count = clears + len(paints)
    box = np.concatenate([_clear_boxes(clear_stats, clear_labels), flats.box[1:]])
    return _with_borders(whole, clears, count, box)


def _outside_first(labels: NDArray[np.int32]) -> NDArray[np.int32]:
    """Swap labels so that the clear cel that holds the corner has number 1."""
    corner = int(labels[0, 0])
    if corner == OUTSIDE:
        return labels
    swap = np.arange(int(labels.max()) + 1, dtype=np.int32)
    swap[corner], swap[OUTSIDE] = OUTSIDE, corner
    return swap[labels]


def _clear_boxes(stats: NDArray[np.int32], labels: NDArray[np.int32]) -> NDArray[np.int32]:
    corner = int(labels[0, 0])
    boxes = stats[:, :4].copy()
    if corner > OUTSIDE:
        boxes[[corner, OUTSIDE]] = boxes[[OUTSIDE, corner]]
    return boxes


def _mark_beyond(ids: NDArray[np.float32], ground: Ground) -> None:
    """Mark the pad where it lies outside the picture."""
    x, y = ground.origin
    width, height = ground.size
    ids[:, : max(0, -x)] = BEYOND
    ids[: max(0, -y)] = BEYOND
    if x + ids.shape[1] > width:
        ids[:, width - x :] = BEYOND
    if y + ids.shape[0] > height:
        ids[height - y :] = BEYOND


def _grow(ids: NDArray[np.float32]) -> None:
    """Grow regions into nobody's pixels, one pixel a step, in place."""
    cross = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
    for _ in range(GROWTH):
        empty = ids == 0
        if not empty.any():
            return
        np.copyto(ids, np.maximum(cv2.dilate(ids, cross), 0), where=empty)


def _with_borders(ids: NDArray[np.int32], clears: int, count: int, box: NDArray[np.int32]) -> Regions:
    """Count each region's border edges on lines and on other regions."""
    ends, points = _changes(ids)
    low, high = ends.min(axis=1), ends.max(axis=1)
    on_line = (low == LINE) & (high > 0)
    contact = low > 0
    inked = np.bincount(high[on_line], minlength=count)
    bare = np.bincount(low[contact], minlength=count) + np.bincount(high[contact], minlength=count)
    area = np.bincount(np.maximum(ids, 0).ravel(), minlength=count)
    pairs = np.stack([low[contact], high[contact]], axis=1).astype(np.int64)
    return Regions(ids, clears, area, box, inked, bare, pairs, points[contact])


def _changes(ids: NDArray[np.int32]) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Return the two ids, and x, y, of every pair of neighbors that differ."""
    ends, points = [], []
    for first, second in ((ids[:, :-1], ids[:, 1:]), (ids[:-1], ids[1:])):
        rows, cols = np.nonzero(first != second)
        ends.append(np.stack([first[rows, cols], second[rows, cols]], axis=1))
        points.append(np.stack([cols, rows], axis=1))
    return np.concatenate(ends), np.concatenate(points).astype(np.int32)
