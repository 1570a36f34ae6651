"""Lists the places of a drawing: its fills, and where clear cel shows through it."""

import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.drawing import Drawing
from cel_check.drawing.parts import pairs_across, shapes_of
from cel_check.drawing.place import OPEN, Place
from cel_check.drawing.regions import OUTSIDE

LEAST = 12
"""Pixels of a place that is kept."""


def places_of(drawing: Drawing) -> tuple[Place, ...]:
    """Return the fills and the enclosed clear places of a drawing, in the order of their regions."""
    regions = drawing.regions
    rows = regions.rows
    shapes = shapes_of(rows, len(regions.area))
    color = np.full(len(regions.area), OPEN, np.int64)
    color[regions.clears + 1 :] = drawing.index[1:]
    painted = np.zeros(len(color), bool)
    painted[regions.clears + 1 :] = drawing.paints[1:]
    kept = painted | (np.arange(len(color)) <= regions.clears)
    kept &= shapes.area >= LEAST
    kept[: OUTSIDE + 1] = False
    around = _around(np.concatenate([regions.pairs, pairs_across(drawing, rows)]), color)
    x, y = drawing.ground.origin
    places = []
    for region in np.flatnonzero(kept).tolist():
        left, top, width, height = shapes.box[region].tolist()
        center = (float(shapes.center[region, 0]) + x, float(shapes.center[region, 1]) + y)
        places.append(
            Place(
                color=int(color[region]),
                area=int(shapes.area[region]),
                box=(left + x, top + y, width, height),
                center=center,
                around=around.get(region, ()),
            )
        )
    return tuple(places)


def _around(pairs: NDArray[np.int64], color: NDArray[np.int64]) -> dict[int, tuple[tuple[int, float], ...]]:
    """Return for each region the colors around it with their share of its border."""
    both = np.concatenate([pairs, pairs[:, ::-1]])
    both = both[np.flatnonzero(both[:, 0] != both[:, 1])]
    size = int(color.max(initial=0)) - OPEN + 1
    seen = np.bincount(both[:, 0] * size + color[both[:, 1]] - OPEN)
    keys = np.flatnonzero(seen)
    counts = seen[keys]
    found: dict[int, list[tuple[int, int]]] = {}
    for key, count in zip(keys.tolist(), counts.tolist(), strict=True):
        found.setdefault(key // size, []).append((key % size + OPEN, count))
    shares = {}
    for region, met in found.items():
        total = sum(count for _, count in met)
        shares[region] = tuple(sorted(((c, n / total) for c, n in met), key=lambda one: (-one[1], one[0])))
    return shares
