"""Connected components of a few pixels of a large map, given as a list."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray


def joined(pixels: NDArray[np.int64], steps: tuple[int, ...]) -> NDArray[np.int64]:
    """Return for each pixel the place in the list of the first one that it is connected to.

    Pixels in a list are joined quicker than a pass over the whole map takes.

    Args:
        pixels: `(n,)` places in the map, counted in reading order, ascending; none in the map's last column
            where a step would lead round to the next row.
        steps: the differences of places that connect two pixels, each in one direction: 1 and the map's width
            for 4-connected, these and the width less and plus 1 for 8-connected.
    """
    beside = pixels + np.array(steps)[:, None]
    place = np.minimum(np.searchsorted(pixels, beside), len(pixels) - 1)
    there = pixels[place] == beside
    one, other = np.nonzero(there)[1], place[there]
    first = np.arange(len(pixels))
    while (apart := first[one] != first[other]).any():
        one, other = one[apart], other[apart]
        low, high = np.minimum(first[one], first[other]), np.maximum(first[one], first[other])
        np.minimum.at(first, high, low)
        while (first[first] != first).any():
            first = first[first]
    return first


def joined_near(
    rows: NDArray[np.integer[Any]], cols: NDArray[np.integer[Any]], side: int
) -> NDArray[np.int64]:
    """Return for each pixel the number of its group: pixels are joined where squares around them touch.

    Numbers are in reading order of the groups. Only the rectangle that holds the pixels is labeled.

    Args:
        rows: `(n,)` n of 1 or more.
        cols: the same.
        side: of the squares, an odd number of pixels; they are joined 8-connected.
    """
    room = side // 2
    down, right = rows - rows.min() + room, cols - cols.min() + room
    mask = np.zeros((int(down.max()) + room + 1, int(right.max()) + room + 1), np.uint8)
    mask[down, right] = 1
    _, labels = cv2.connectedComponents(cv2.dilate(mask, np.ones((side, side), np.uint8)), connectivity=8)
    return np.asarray(labels[down, right], np.int64)


def grouped(group: NDArray[np.integer[Any]]) -> list[NDArray[np.int64]]:
    """Return the places of the members of each group, by the groups' numbers, each in order."""
    order = np.argsort(group, kind="stable")
    return np.split(order, np.flatnonzero(np.diff(group[order])) + 1)
