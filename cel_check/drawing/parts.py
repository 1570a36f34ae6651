"""Parts: a drawing's fills as they are kept once it was checked, to be matched with other drawings' parts.

Everything is measured on row runs (stretches of one region in one row), whose sums have closed forms: a cel
has some ten thousand of them, and a million pixels. Rows and columns that cross a line also tell which parts
lie on its two sides, counted in the same edges as parts that touch.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.drawing import Drawing, Part
from cel_check.drawing.regions import LINE
from cel_check.drawing.rows import Floats, Ints, Rows

REACH = 2.5
"""Pen widths of ink over which parts lie across one line: a row crosses 1.4 at 45 degrees, 2 at a corner."""

PLACES = (0.25, 0.5, 0.75)
"""Places along a row run at which color and depth are looked at."""

Links = dict[int, tuple[tuple[int, int], ...]]


@dataclass(frozen=True, eq=False)
class _Shapes:
    """By region id, in the ground's coordinates: pixels, x y width height, mean x y."""

    area: Ints
    box: Ints
    center: Floats


def parts_of(drawing: Drawing) -> tuple[Part, ...]:
    """Measure the parts of a drawing.

    Args:
        drawing: the cel, taken apart.

    Returns:
        One part for each fill however small, in the order of their labels, in the picture's coordinates.
    """
    regions = drawing.regions
    fills = np.flatnonzero(drawing.paints)
    fills = fills[regions.area[fills + regions.clears] > 0]
    if not len(fills):
        return ()
    rows = regions.rows
    of_regions = rows.only(rows.region > 0)
    shapes = shapes_of(of_regions, len(regions.area))
    moments = moments_of(of_regions, shapes)
    points, lab, spread = _insides(drawing, rows, fills)
    touching = _links(regions.pairs, regions.clears)
    across = _links(pairs_across(drawing, rows), regions.clears)
    border = regions.inked + regions.bare
    inked = regions.inked / np.maximum(border, 1)
    x, y = drawing.ground.origin
    parts = []
    for place, label in enumerate(fills.tolist()):
        region = regions.id_of_flat(label)
        left, top, width, height = shapes.box[region].tolist()
        parts.append(
            Part(
                label=label,
                color=int(drawing.index[label]),
                area=int(shapes.area[region]),
                box=(left + x, top + y, width, height),
                point=(int(points[place, 0]) + x, int(points[place, 1]) + y),
                center=(float(shapes.center[region, 0]) + x, float(shapes.center[region, 1]) + y),
                moments=tuple(moments[region].tolist()),
                lab=tuple(lab[place].tolist()),
                spread=float(spread[place]),
                neighbors=touching.get(label, ()),
                across=across.get(label, ()),
                inked=float(inked[region]),
            )
        )
    return tuple(parts)


def shapes_of(rows: Rows, count: int) -> _Shapes:
    """Measure every region from its row runs, and none of what is no region's."""
    return _Shapes(rows.area(count), rows.box(count), rows.center(count))


def moments_of(rows: Rows, shapes: _Shapes) -> Floats:
    """Return the `(count, 3)` second moments xx, xy, yy about its center of every region of some rows."""
    region, length, count = rows.region, rows.length, len(shapes.area)
    dx = rows.left + (length - 1) / 2.0 - shapes.center[region, 0]
    dy = rows.row - shapes.center[region, 1]
    # The spread of n pixels in a row about their middle is (n^2 - 1) / 12.
    own = (length * length - 1) / 12.0
    moments = [
        np.bincount(region, weights=length * value, minlength=count) / np.maximum(shapes.area, 1)
        for value in (dx * dx + own, dx * dy, dy * dy)
    ]
    return np.stack(moments, axis=1)


def _insides(drawing: Drawing, rows: Rows, fills: Ints) -> tuple[NDArray[np.int64], Floats, Floats]:
    """Return for each fill the deepest of the places looked at (x, y), the median Lab and the spread."""
    there, owner = _places(drawing, rows, fills)
    labels = drawing.flats.labels
    # No two flats touch, so one transform measures the depth in each of them.
    core = (labels > 0).view(np.uint8)
    depth = cv2.distanceTransform(core, cv2.DIST_L1, 3, dstType=cv2.CV_8U).ravel()[there]
    order = np.lexsort((there, -depth.astype(np.int16), owner))
    first = np.searchsorted(owner[order], np.arange(len(fills)))
    rows_in, cols_in = np.divmod(there[order][first], labels.shape[1])
    pixels = drawing.ground.rgba.view(np.uint32).ravel()[there].view(np.uint8).reshape(-1, 4)
    lab, spread = _colors(pixels, owner, len(fills))
    return np.stack([cols_in, rows_in], axis=1), lab, spread


def _places(drawing: Drawing, rows: Rows, fills: Ints) -> tuple[Ints, Ints]:
    """Return the places (pixel numbers) inside the fills' cores to look at, and which fill each is in."""
    labels = drawing.flats.labels.ravel()
    rank = np.full(len(drawing.paints), -1, np.int64)
    rank[fills] = np.arange(len(fills))
    keep = rows.region > drawing.regions.clears
    start = rows.start[keep]
    there = np.concatenate([start + (rows.length[keep] * share).astype(np.int64) for share in PLACES])
    label = labels[there]
    inside = label == np.tile(rows.region[keep] - drawing.regions.clears, len(PLACES))
    there, owner = there[inside], rank[label[inside]]
    missed = np.bincount(owner, minlength=len(fills)) == 0
    if missed.any():
        wanted = np.zeros(len(drawing.paints), bool)
        wanted[fills[missed]] = True
        more = np.flatnonzero(wanted[labels])
        there, owner = np.concatenate([there, more]), np.concatenate([owner, rank[labels[more]]])
    return there, owner


def _colors(pixels: NDArray[np.uint8], owner: Ints, count: int) -> tuple[Floats, Floats]:
    """Return the median Lab of each owner's RGBA pixels and their mean ΔE*ab from it."""
    colors = pixels.astype(np.int64) @ np.array([1 << 16, 1 << 8, 1, 0])
    low, high = np.full(count, 1 << 24), np.full(count, -1)
    np.minimum.at(low, owner, colors)
    np.maximum.at(high, owner, colors)
    lab = srgb8_to_lab(np.stack([low >> 16, low >> 8 & 255, low & 255], axis=1).astype(np.uint8))
    spread = np.zeros(count)
    # Digital paint has one color a fill: only fills with more need their pixels sorted.
    mixed = low != high
    if mixed.any():
        sort_out = mixed[owner]
        own, whose = srgb8_to_lab(pixels[sort_out, :3]), owner[sort_out]
        lab[mixed] = _medians(own, whose, count)[mixed]
        away = np.linalg.norm(own - lab[whose], axis=1)
        number = np.maximum(np.bincount(whose, minlength=count), 1)
        spread = np.bincount(whose, weights=away, minlength=count) / number
    return lab, spread


def _medians(values: Floats, owner: Ints, count: int) -> Floats:
    """Return each owner's median in each column (the upper one of two); 0 where an owner has no value."""
    number = np.bincount(owner, minlength=count)
    middle = np.cumsum(number) - number + number // 2
    out = np.zeros((count, values.shape[1]))
    for column in range(values.shape[1]):
        ordered = values[np.lexsort((values[:, column], owner)), column]
        out[number > 0, column] = ordered[middle[number > 0]]
    return out


def pairs_across(drawing: Drawing, rows: Rows) -> Ints:
    """Return the `(n, 2)` ids of the regions that a row or a column meets on the two sides of a line."""
    reach = max(1, round(REACH * drawing.ink.pen))
    ends = np.concatenate([_across_rows(rows, reach), _across_columns(drawing.regions.ids, reach)])
    return ends[(ends[:, 0] > 0) & (ends[:, 1] > 0)]


def _across_rows(rows: Rows, reach: int) -> Ints:
    """Return what lies left and right of each row run of ink up to `reach` long (the map's rim is pad)."""
    line = np.flatnonzero((rows.region == LINE) & (rows.length <= reach))
    return np.stack([rows.region[line - 1], rows.region[line + 1]], axis=1)


def _across_columns(ids: NDArray[np.int32], reach: int) -> Ints:
    """Return what lies above and below each column run of ink up to `reach` long (the map's rim is pad)."""
    width = ids.shape[1]
    flat = ids.ravel()
    ink = flat == LINE
    edge = np.flatnonzero(ink[width:] != ink[:-width])
    # Numbers of 16 bits are sorted digit by digit, five times as fast; few maps are wider. numpy divides by
    # one number fast, and takes a remainder slowly.
    column = (edge - edge // width * width).astype(np.uint16 if width < 1 << 16 else np.int64)
    edge = edge[np.argsort(column, kind="stable")]
    # Down each column the edges alternate: last pixel above the ink, last pixel of the ink.
    above, last = edge[::2], edge[1::2]
    near = last - above <= reach * width
    return np.stack([flat[above[near]], flat[last[near] + width]], axis=1).astype(np.int64)


def _links(pairs: Ints, clears: int) -> Links:
    """Count the edges between labels: for each label those it meets, all clear cel as label 0, by label."""
    labels = np.maximum(pairs - clears, 0)
    both = np.concatenate([labels, labels[:, ::-1]])
    both = both[np.flatnonzero((both[:, 0] > 0) & (both[:, 0] != both[:, 1]))]
    size = int(both.max(initial=0)) + 1
    keys, counts = np.unique(both[:, 0] * size + both[:, 1], return_counts=True)
    links: dict[int, list[tuple[int, int]]] = {}
    for key, count in zip(keys.tolist(), counts.tolist(), strict=True):
        links.setdefault(key // size, []).append((key % size, count))
    return {label: tuple(met) for label, met in links.items()}
