"""Lists the places of a drawing: its fills, and where clear cel shows through it."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.drawing import Drawing
from cel_check.drawing.parts import moments_of, pairs_across, shapes_of
from cel_check.drawing.place import OPEN, Place
from cel_check.drawing.regions import OUTSIDE
from cel_check.drawing.rows import Floats, Ints, Rows

LEAST = 12
"""Pixels of a place that is kept."""

MANY = 1 << 17
"""Numbers up to which counting them all is faster than sorting those that are there."""

Shares = tuple[tuple[int, float], ...]


@dataclass(frozen=True)
class _Borders:
    """By region id: what is around it by color, and by place number."""

    colors: Mapping[int, Shares]
    places: Mapping[int, Shares]


def places_of(drawing: Drawing) -> tuple[Place, ...]:
    """Return the fills and the enclosed clear places of a drawing, in the order of their regions."""
    regions = drawing.regions
    rows = regions.rows
    of_regions = rows.only(rows.region > 0)
    shapes = shapes_of(of_regions, len(regions.area))
    color, kept = _colors(drawing), _kept(drawing, shapes.area)
    if not kept.any():
        return ()
    borders = _borders(np.concatenate([regions.pairs, pairs_across(drawing, rows)]), color, kept)
    moments = moments_of(of_regions, shapes)
    points = _insides(of_regions, len(color))
    x, y = drawing.ground.origin
    srgb = drawing.flats.rgb.tolist()
    places = []
    for region in np.flatnonzero(kept).tolist():
        left, top, width, height = shapes.box[region].tolist()
        xx, xy, yy = moments[region].tolist()
        flat = regions.flat_of_id(region)
        places.append(
            Place(
                color=int(color[region]),
                area=int(shapes.area[region]),
                box=(left + x, top + y, width, height),
                center=(float(shapes.center[region, 0]) + x, float(shapes.center[region, 1]) + y),
                around=borders.colors.get(region, ()),
                moments=(round(xx, 2), round(xy, 2), round(yy, 2)),
                point=(int(points[region, 0]) + x, int(points[region, 1]) + y),
                near=borders.places.get(region, ()),
                srgb="#{:02X}{:02X}{:02X}".format(*srgb[flat]) if flat > 0 else "",
            )
        )
    return tuple(places)


def _colors(drawing: Drawing) -> NDArray[np.int64]:
    """Return each region's color, as in a place."""
    color = np.full(len(drawing.regions.area), OPEN, np.int64)
    color[drawing.regions.clears + 1 :] = drawing.index[1:]
    return color


def _kept(drawing: Drawing, area: Ints) -> NDArray[np.bool_]:
    """Return which regions are places that are kept."""
    clears = drawing.regions.clears
    kept = np.ones(len(area), bool)
    kept[clears + 1 :] = drawing.paints[1:]
    kept &= area >= LEAST
    kept[: OUTSIDE + 1] = False
    return kept


def _insides(rows: Rows, count: int) -> Ints:
    """Return `(count, 2)` x, y of the middle of each region's longest row run."""
    # One number holds a run's length and its place in the list: the largest is the longest run.
    best = np.zeros(count, np.int64)
    np.maximum.at(best, rows.region, rows.length * len(rows.region) + np.arange(len(rows.region)))
    longest = best % max(1, len(rows.region))
    return np.stack([rows.left[longest] + rows.length[longest] // 2, rows.row[longest]], axis=1)


def _borders(pairs: Ints, color: Ints, kept: NDArray[np.bool_]) -> _Borders:
    """Return for each region the colors and the places around it with their share of its border."""
    count = len(color)
    keys, edges = _counted(pairs[:, 0] * count + pairs[:, 1])
    one, two = np.divmod(keys, count)
    apart = one != two
    # From here on every pair of regions is there once a side, where edges are thousands.
    of, met = np.concatenate([one[apart], two[apart]]), np.concatenate([two[apart], one[apart]])
    edges = np.concatenate([edges[apart], edges[apart]])
    total = np.bincount(of, weights=edges, minlength=count).astype(np.float64)
    number = np.cumsum(kept) - 1
    placed = kept[of] & kept[met]
    return _Borders(
        _shares(of, color[met], edges, total), _shares(of[placed], number[met[placed]], edges[placed], total)
    )


def _counted(keys: Ints) -> tuple[Ints, Ints]:
    """Return the numbers that are there, in order, and how often; without sorting them where few may be."""
    if int(keys.max(initial=0)) > MANY:
        return np.unique(keys, return_counts=True)
    seen = np.bincount(keys)
    there = np.flatnonzero(seen)
    return there, seen[there]


def _shares(region: Ints, met: Ints, edges: Ints, total: Floats) -> dict[int, Shares]:
    """Return for each region what it meets with its share of the border, largest first."""
    if not len(region):
        return {}
    least = int(met.min())
    size = int(met.max()) - least + 1
    keys, which = np.unique(region * size + (met - least), return_inverse=True)
    share = np.bincount(which, weights=edges / total[region])
    of, what = np.divmod(keys, size)
    order = np.lexsort((what, -share, of))
    of, pairs = of[order], list(zip((what[order] + least).tolist(), share[order].tolist(), strict=True))
    cuts = [0, *(np.flatnonzero(np.diff(of)) + 1).tolist(), len(of)]
    return {int(of[start]): tuple(pairs[start:end]) for start, end in pairwise(cuts)}
