"""Drawings as other drawings look at them, many at once: columns of one length, shorter ones filled up.

Two drawings have some fifty places each: far too few to keep numpy busy. So all pairs of a level are compared
together, a first axis long.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cel_check.scene.art import Art, Ints

Floats = NDArray[np.floating[Any]]
"""In single precision: costs of some units are compared to a hundredth; half the bytes take half as long."""

NO_PLACE = -9
"""Color of what only fills a column up; none of a place (-2 to -1) or of the palette (0 and up)."""


@dataclass(frozen=True, eq=False)
class Stack:
    """The places of p drawings, n of each: the largest first, then what fills up.

    Attributes:
        real: `(p, n)` whether it is a place.
        color: `(p, n)` as in `Art`; `NO_PLACE` where none is.
        area: `(p, n)` px; 1 where no place is, so that its logarithm is a number.
        center: `(p, n, 2)` x, y.
        root: `(p, n, 2, 2)` half extents, as in `Art`.
        around: `(p, n, colors)` share of the border on every color that is around any place of them.
        near: `(p, n, n)` share of a place's border on every other place.
        paint: `(p, colors)` area of every palette color that any of them shows, px.
        diagonal: `(p,)` of the art, px.
    """

    real: NDArray[np.bool_]
    color: Ints
    area: Floats
    center: Floats
    root: Floats
    around: Floats
    near: Floats
    paint: Floats
    diagonal: Floats

    def pick(self, drawings: Ints) -> "Stack":
        """Return some of the drawings, in any order and as often as asked, no longer than the longest."""
        longest = max(1, int(self.real[drawings].sum(axis=1).max(initial=0)))
        cut = {
            field.name: getattr(self, field.name)[drawings, :longest]
            for field in fields(self)
            if field.name not in ("near", "paint", "diagonal")
        }
        return Stack(
            **cut,
            near=self.near[drawings, :longest, :longest],
            paint=self.paint[drawings],
            diagonal=self.diagonal[drawings],
        )


def stacked(arts: Sequence[Art]) -> Stack:
    """Lay drawings on one another; there must be one at least."""
    longest = max(len(art.color) for art in arts)
    around = _single([art.around for art in arts], longest, 0.0)
    color = _filled([art.color for art in arts], longest, NO_PLACE)
    root = _single([art.root for art in arts], longest, 0.0)
    real = color > NO_PLACE
    root[~real] = np.eye(2)
    near = np.zeros((len(arts), longest, longest), np.float32)
    for own, art in zip(near, arts, strict=True):
        own[: len(art.color), : len(art.color)] = art.near
    area = _single([art.area for art in arts], longest, 1.0)
    return Stack(
        real=real,
        color=color,
        area=area,
        center=_single([art.center for art in arts], longest, 0.0),
        root=root,
        around=around[:, :, around.any(axis=(0, 1))],
        near=near,
        paint=_paint(color, area),
        diagonal=np.array([art.diagonal for art in arts], np.float32),
    )


def _filled(columns: Sequence[NDArray[Any]], longest: int, fill: float) -> NDArray[Any]:
    """Return columns of several lengths as one array."""
    whole = np.full((len(columns), longest, *columns[0].shape[1:]), fill, columns[0].dtype)
    for own, column in zip(whole, columns, strict=True):
        own[: len(column)] = column
    return whole


def _single(columns: Sequence[NDArray[Any]], longest: int, fill: float) -> Floats:
    return _filled(columns, longest, fill).astype(np.float32)


def _paint(color: Ints, area: Floats) -> Floats:
    """Return how much of every palette color each drawing shows."""
    colors = np.unique(color[color >= 0])
    paint = [np.where(color == one, area, 0.0).sum(axis=1) for one in colors.tolist()]
    return np.stack([*paint, np.zeros(len(color))], axis=1).astype(np.float32)
