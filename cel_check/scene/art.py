"""A drawing as the other drawings of its level look at it: its places as columns of numbers."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.place import OPEN, Place

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MOST = 120
"""Places of a drawing that are compared, the largest: more are hatching or foliage, and cost their cube."""


@dataclass(frozen=True, eq=False)
class Art:
    """The places of one drawing (n of them), the largest first.

    Attributes:
        drawing: its number, for messages.
        places: the records that the columns are made from.
        colors: of the palette, so that every drawing's columns are alike.
    """

    drawing: str
    places: tuple[Place, ...]
    colors: int

    @cached_property
    def order(self) -> Ints:
        """`(n,)` each place's number in the drawing's own list."""
        area = np.array([place.area for place in self.places], np.int64)
        return np.argsort(-area, kind="stable")[:MOST]

    def place(self, row: int) -> Place:
        """Return the record behind a row of the columns."""
        return self.places[int(self.order[row])]

    def _kept(self) -> list[Place]:
        return [self.places[number] for number in self.order.tolist()]

    @cached_property
    def color(self) -> Ints:
        """`(n,)` palette color, -1 or `OPEN`."""
        return np.array([place.color for place in self._kept()], np.int64)

    @cached_property
    def area(self) -> Floats:
        """`(n,)` px."""
        return np.array([place.area for place in self._kept()], np.float64)

    @cached_property
    def center(self) -> Floats:
        """`(n, 2)` x, y."""
        return np.array([place.center for place in self._kept()], np.float64).reshape(-1, 2)

    @cached_property
    def root(self) -> Floats:
        """`(n, 2, 2)` square roots of the second moments: half extents, turned as the place is."""
        xx, xy, yy = np.array([place.moments for place in self._kept()], np.float64).reshape(-1, 3).T
        # A pixel is not a point: a place one pixel wide still has the extent of a pixel.
        matrix = np.stack([np.stack([xx + 1 / 12, xy], -1), np.stack([xy, yy + 1 / 12], -1)], -2)
        values, vectors = np.linalg.eigh(matrix)
        root: Floats = (vectors * np.sqrt(np.maximum(values, 1 / 12))[:, None, :]) @ vectors.transpose(
            0, 2, 1
        )
        return root

    @cached_property
    def around(self) -> Floats:
        """`(n, colors + 2)` share of the border on every color, from `OPEN` on."""
        return around_of(self._kept(), self.colors)

    @cached_property
    def near(self) -> Floats:
        """`(n, n)` share of a place's border (row) on every other place."""
        rank = {number: row for row, number in enumerate(self.order.tolist())}
        table = np.zeros((len(self.order), len(self.order)))
        for row, place in enumerate(self._kept()):
            for number, share in place.near:
                if number in rank:
                    table[row, rank[number]] = share
        return table

    @cached_property
    def diagonal(self) -> float:
        """The diagonal of the art, px."""
        boxes = np.array([place.box for place in self._kept()], np.float64).reshape(-1, 4)
        low, high = boxes[:, :2].min(axis=0), (boxes[:, :2] + boxes[:, 2:]).max(axis=0)
        return max(1.0, float(np.hypot(*(high - low))))


def around_of(places: Sequence[Place], colors: int) -> Floats:
    """Return `(n, colors + 2)` the share of each place's border on every color, from `OPEN` on."""
    table = np.zeros((len(places), colors - OPEN))
    for row, place in enumerate(places):
        for color, share in place.around:
            table[row, color - OPEN] += share
    return table


def arts_of(drawings: Sequence[tuple[str, tuple[Place, ...]]], colors: int) -> tuple[Art, ...]:
    """Return `(number, places)` of a level's drawings as columns; drawings without a place are left out."""
    return tuple(Art(drawing, places, colors) for drawing, places in drawings if places)
