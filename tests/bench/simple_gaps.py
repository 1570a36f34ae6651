"""The simple, published ways to find a gap in line art, in a few lines each, to hold `open-line` against.

- Throats: free space shrunk by a ball falls apart at narrow places (trapped balls: Zhang, Chen, Zhang, Hu,
  Martin: Vectorizing cartoon animations. IEEE TVCG 15(4), 618-629, 2009); also only those between two paints.
- End pairs: ends of the lines' skeletons that face each other (stroke-end closure: Fourey, Tschumperlé,
  Revoy: A fast and efficient semi-guided algorithm for flat coloring line-arts. VMV 2018).
- Coverage: two paints meet bare for a short way on a border that is inked otherwise (a house method).

Each sees the picture and its color model only. Numbers without a source are house choices.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from cases import Case
from numpy.typing import NDArray
from skimage.morphology import skeletonize
from skimage.segmentation import watershed

from cel_check.model.colormodel import Use

PURE = 12.0
"""Distance in 8-bit RGB from a color of the model within which a pixel is that color."""

BALL = 6.0
"""Pixels of the ball's radius that shrinks free space."""

LONGEST = (14.0, 3.6)
"""Pixels, and widths of the pen, whichever is more, that a gap is long at most: as `open-line` has them."""

BACK, FACING = 8, 0.6
"""Pixels of skeleton that give an end its direction, and the cosine from which it faces another end."""

INKED = 0.75
"""Share of the border around a bare stretch that is inked."""

Labels = NDArray[np.int32]
Mask = NDArray[np.bool_]
Spots = list[tuple[float, float]]


@dataclass(frozen=True, eq=False)
class Cel:
    """A cel as the simple ways see it: `labels` hold 0 for clear, a color's number and 1, or -1 for ink."""

    labels: Labels
    pen: float

    @property
    def ink(self) -> Mask:
        """Where a line is."""
        return self.labels < 0

    @property
    def longest(self) -> float:
        """Pixels that a gap is long at most."""
        return max(LONGEST[0], LONGEST[1] * self.pen)


def seen(case: Case, rgba: NDArray[np.uint8]) -> Cel:
    """Label each pixel by the nearest pure one; a color that may be ink is ink."""
    model = case.palette.colors
    colors = np.array([color.srgb for color in model], float)
    ground = rgba[..., 3] < 128
    if case.style.card is not None:
        ground = np.abs(rgba[..., :3] - np.array(case.style.card, float)).max(axis=2) <= PURE / 4
    far = np.stack([np.linalg.norm(rgba[..., :3] - color, axis=2) for color in colors])
    number = np.array([-1 if color.use is not Use.PAINT else place + 1 for place, color in enumerate(model)])
    labels = np.where(ground, 0, number[far.argmin(axis=0)])
    pure = (
        (rgba[..., 3] == 0)
        | ground & (rgba[..., 3] == 255)
        | (far.min(axis=0) <= PURE) & (rgba[..., 3] == 255)
    )
    _, nearest = cv2.distanceTransformWithLabels(
        (~pure).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    of_label = np.zeros(nearest.max() + 1, np.int32)
    of_label[nearest[pure]] = labels[pure]
    return Cel(of_label[nearest], case.pen_px)


def throats(cel: Cel) -> Spots:
    """Return the x, y of the places where free space is narrow between two wider ones."""
    return [(x, y) for x, y, _ in _throats(cel)]


def throats_between_paints(cel: Cel) -> Spots:
    """Return those throats of which the two sides are not of one paint."""
    return [(x, y) for x, y, unlike in _throats(cel) if unlike]


def _throats(cel: Cel) -> Iterator[tuple[float, float, bool]]:
    room = np.asarray(cv2.distanceTransform((~cel.ink).astype(np.uint8), cv2.DIST_L2, 5))
    ball = max(BALL, cel.longest / 2)
    basins = watershed(-room, _pieces(room >= ball), mask=~cel.ink)
    for spots in _runs(*_touching(basins, basins > 0)):
        if _extent(spots) <= cel.longest:
            x, y = (float(value) for value in spots[:, :2].mean(axis=0))
            near = _around((x, y), ball + 2)
            sides = [basins[row, column] for column, row in (spots[0, :2], spots[0, 2:])]
            paints = [np.bincount(cel.labels[near][basins[near] == side]).argmax() for side in sides]
            yield x, y, bool(paints[0] != paints[1])


def _around(spot: tuple[float, float], side: float) -> tuple[slice, slice]:
    """Return the window that reaches `side` px from a spot (x, y)."""
    x, y = spot
    return slice(max(0, int(y - side)), int(y + side) + 1), slice(max(0, int(x - side)), int(x + side) + 1)


def coverage(cel: Cel) -> Spots:
    """Return the x, y of short bare stretches in the border of two paints that is inked otherwise."""
    found = []
    bones = skeletonize(cel.ink)
    for spots in _runs(*_touching(cel.labels, ~cel.ink)):
        first, second = spots[0, :2].astype(int), spots[0, 2:].astype(int)
        pair = cel.labels[first[1], first[0]], cel.labels[second[1], second[0]]
        if _extent(spots) > cel.longest:
            continue
        x, y = (float(value) for value in spots[:, :2].mean(axis=0))
        window = _around((x, y), 2 * cel.longest)
        reach = np.ones((2 * int(cel.pen) + 3,) * 2, np.uint8)
        near = [cv2.dilate((cel.labels[window] == one).astype(np.uint8), reach) > 0 for one in pair]
        inked = np.count_nonzero(near[0] & near[1] & bones[window])
        if inked >= INKED * (inked + len(spots)):
            found.append((x, y))
    return found


def end_pairs(cel: Cel) -> Spots:
    """Return the x, y between two ends of skeleton that face each other."""
    bones = skeletonize(cel.ink)
    ends = [
        _end(bones, int(row), int(column))
        for row, column in np.argwhere(bones)
        if _is_end(bones, row, column)
    ]
    found = []
    for place, (first, way) in enumerate(ends):
        for second, back in ends[place + 1 :]:
            span = second - first
            far = float(np.hypot(*span))
            # A skeleton ends half a pen's width before its line.
            if 0 < far <= cel.longest + cel.pen and min(way @ span, -(back @ span)) >= FACING * far:
                x, y = (first + second) / 2
                found.append((float(x), float(y)))
    return found


def _is_end(bones: Mask, row: int, column: int) -> bool:
    return np.count_nonzero(bones[max(0, row - 1) : row + 2, max(0, column - 1) : column + 2]) == 2


def _end(bones: Mask, row: int, column: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return an end's x, y and the unit vector by which its skeleton runs out of it."""
    top, left = max(0, row - BACK), max(0, column - BACK)
    pieces = _pieces(bones[top : row + BACK + 1, left : column + BACK + 1])
    rows, columns = np.nonzero(pieces == pieces[row - top, column - left])
    here = np.array([column, row], float)
    way = here - (columns.mean() + left, rows.mean() + top)
    return here, way / max(1e-9, float(np.hypot(*way)))


def _pieces(mask: Mask) -> Labels:
    return np.asarray(cv2.connectedComponents(mask.astype(np.uint8), connectivity=8)[1])


def _touching(labels: Labels, where: Mask) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return `(n, 4)` x, y, x, y of neighbors with two labels, and `(n, 2)` these, the lower first."""
    found = []
    for down, right in ((0, 1), (1, 0)):
        here, there = (
            (slice(0, -down or None), slice(0, -right or None)),
            (slice(down, None), slice(right, None)),
        )
        rows, columns = np.nonzero((labels[here] != labels[there]) & where[here] & where[there])
        found.append(np.stack([columns, rows, columns + right, rows + down], axis=1))
    spots = np.concatenate(found)
    pairs = np.stack([labels[spots[:, 1], spots[:, 0]], labels[spots[:, 3], spots[:, 2]]], axis=1)
    return spots, np.sort(pairs, axis=1)


def _runs(spots: NDArray[np.int64], pairs: NDArray[np.int64]) -> Iterator[NDArray[np.int64]]:
    """Yield the touching neighbors of two labels, each connected stretch by itself."""
    if not len(spots):
        return
    near = np.zeros(spots.max(axis=0)[[3, 2]] + 2, np.uint8)
    near[spots[:, 1], spots[:, 0]] = 1
    pieces = _pieces(cv2.dilate(near, np.ones((3, 3), np.uint8)) > 0)
    keys = np.column_stack([pieces[spots[:, 1], spots[:, 0]], pairs])
    _, which = np.unique(keys, axis=0, return_inverse=True)
    order = np.argsort(which.ravel(), kind="stable")
    for members in np.split(order, np.flatnonzero(np.diff(which.ravel()[order])) + 1):
        yield spots[members]


def _extent(spots: NDArray[np.int64]) -> float:
    return float(np.hypot(*(spots[:, :2].max(axis=0) - spots[:, :2].min(axis=0)))) + 1.0


SIMPLE: dict[str, Callable[[Cel], Spots]] = {
    "bare stretches of an inked border": coverage,
    "throats between two paints": throats_between_paints,
    "throats": throats,
    "pairs of line ends": end_pairs,
}
"""Every simple way by its name in tables."""
