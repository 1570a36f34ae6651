"""Row runs: stretches of one number in one row of a label map, whose sums have closed forms.

A cel has some ten thousand of them, and a million pixels.
"""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Value = TypeVar("Value", bound=np.generic)


@dataclass(frozen=True, eq=False)
class Rows:
    """Row runs of one number each, in reading order.

    Attributes:
        shape: height and width of the map.
        region: `(n,)` the number.
        start: `(n,)` its first pixel, counted in reading order from 0.
        row: `(n,)` its row.
        left: `(n,)` its first column.
        length: `(n,)` its pixels.
    """

    shape: tuple[int, int]
    region: Ints
    start: Ints
    row: Ints
    left: Ints
    length: Ints

    def spread(self, values: NDArray[Value]) -> NDArray[Value]:
        """Return `(h, w)` each pixel's value, given the `(m,)` values of all numbers from 0."""
        return np.repeat(values[self.region], self.length).reshape(self.shape)

    def pixels(self) -> Ints:
        """Return the pixels of all runs, counted in reading order."""
        ends = np.cumsum(self.length)
        return np.arange(int(self.length.sum())) + np.repeat(self.start - ends + self.length, self.length)

    def area(self, count: int) -> Ints:
        """Return the pixels of the numbers from 0 to `count`."""
        return np.bincount(self.region, weights=self.length, minlength=count).astype(np.int64)

    def center(self, count: int) -> Floats:
        """Return the `(count, 2)` mean x, y of the numbers from 0; 0 where a number has no pixel."""
        pixels = np.maximum(np.bincount(self.region, weights=self.length, minlength=count), 1.0)
        sums = [
            np.bincount(self.region, weights=self.length * place, minlength=count)
            for place in (self.left + (self.length - 1) / 2.0, self.row)
        ]
        center: Floats = np.stack(sums, axis=1) / pixels[:, None]
        return center

    def box(self, count: int) -> Ints:
        """Return the `(count, 4)` x, y, width, height of the numbers from 0."""
        low, high = np.full((2, count), 2**30, np.int64), np.zeros((2, count), np.int64)
        np.minimum.at(low[0], self.region, self.left)
        np.maximum.at(high[0], self.region, self.left + self.length)
        # In reading order a number's first run is its highest and its last one its lowest.
        low[1, self.region[::-1]] = self.row[::-1]
        high[1, self.region] = self.row + 1
        return np.concatenate([low, high - low]).T

    def only(self, keep: NDArray[np.bool_]) -> "Rows":
        """Return some of the runs."""
        columns = (self.region, self.start, self.row, self.left, self.length)
        return Rows(self.shape, *(column[keep] for column in columns))


def row_runs(labels: NDArray[np.int32]) -> Rows:
    """Return the row runs of every number of a `(h, w)` label map."""
    height, width = labels.shape
    flat = labels.ravel()
    change = np.empty(flat.size, bool)
    np.not_equal(flat[1:], flat[:-1], out=change[1:])
    change[::width] = True
    start = np.flatnonzero(change)
    row = start // width  # numpy divides by one number fast, and takes a remainder slowly
    length = np.empty_like(start)
    np.subtract(start[1:], start[:-1], out=length[:-1])
    length[-1:] = flat.size - start[-1:]
    return Rows((height, width), flat[start].astype(np.int64), start, row, start - row * width, length)


def pixels_in(boxes: NDArray[np.int32], width: int) -> tuple[Ints, Ints]:
    """Return the pixels of boxes, counted in reading order, and which box each is in.

    Args:
        boxes: `(n, 4)` x, y, width, height.
        width: of the map.
    """
    wide = boxes[:, 2].astype(np.int64)
    size = wide * boxes[:, 3]
    owner = np.repeat(np.arange(len(boxes)), size)
    place = np.arange(len(owner)) - np.repeat(np.cumsum(size) - size, size)
    down, right = np.divmod(place, wide[owner])
    return (boxes[owner, 1] + down) * width + boxes[owner, 0] + right, owner
