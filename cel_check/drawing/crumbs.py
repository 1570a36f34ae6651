"""Crumbs: pixels of a paint's pure color that hold no core of a flat, such as a soft spill of three pixels.

A flat needs a pixel whose right and lower neighbors have its color. A small soft mark has pure pixels and
none such. They are found by their color alone, joined to the fill beside them where that has the same color,
and otherwise made into small flats of their own.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.clear import Ground
from cel_check.drawing.flats import Flats
from cel_check.drawing.pure import Rgb, may_be
from cel_check.drawing.sparse import joined
from cel_check.model.colormodel import Palette, Use

PURE = 3
"""Levels (of 255) by which a pure pixel differs from its paint at most: what alpha's rounding leaves."""

PURE_OPAQUE = 1
"""The same for an opaque pixel, which no rounding of alpha touches."""

LEAST_ALPHA = 128
"""Alpha (of 255) from which a soft pixel is more paint than clear cel."""

LEAST = 2
"""Pixels of a crumb; fewer are a blend that happens to have a paint's color."""

LEAST_CORE = 3
"""Pixels of a flat's core below which its pixels are looked at as crumbs: joined, they may make a mark."""

_STEPS = np.stack(np.meshgrid(np.arange(4), np.arange(4)), axis=-1).reshape(-1, 2)
"""x, y from the corner of a square of four to each of its pixels."""


def with_crumbs(ground: Ground, flats: Flats, palette: Palette) -> Flats:
    """Add the crumbs of a drawing to its flats.

    Args:
        ground: the art's rectangle.
        flats: its flats, which are used up: their maps become the new ones'.
        palette: the level's colors; crumbs of its paints are looked for, since ink is found by itself.

    Returns:
        The flats with their maps extended, and a row for each crumb that touches no fill of its color.
    """
    paints = tuple(color.srgb for color in palette.colors if color.use is Use.PAINT)
    flats = _without_tiny_cores(flats)
    pixels = ground.rgba.view(np.uint32).ravel()[flats.bare].view(np.uint8).reshape(-1, 4)
    likely = may_be(pixels, paints, PURE) & (pixels[:, 3] >= LEAST_ALPHA)
    free, pixels = flats.bare[likely], pixels[likely]
    which = _which_paint(pixels, paints)
    pure = which >= 0
    free, which = free[pure], which[pure]
    colors = np.array(paints, np.int16).reshape(-1, 3)
    free, which = _join(flats, free, which, colors)
    flats = _own(flats, free, which, colors) if len(free) >= LEAST else flats
    return replace(flats, bare=flats.bare[flats.filled.ravel()[flats.bare] == 0])


def _which_paint(pixels: NDArray[np.uint8], paints: tuple[Rgb, ...]) -> NDArray[np.int64]:
    """Return for `(n, 4)` pixels the last paint whose pure color they have, or -1."""
    # A fill's few colors come up again and again, so that only those that differ are held against each paint.
    words, where = np.unique(pixels.view(np.uint32).ravel(), return_inverse=True)
    colors = words.view(np.uint8).reshape(-1, 4)
    most = np.where(colors[:, 3] == 255, PURE_OPAQUE, PURE)
    which = np.full(len(colors), -1)
    for number, paint in enumerate(paints):
        which[np.abs(colors[:, :3].astype(np.int16) - np.array(paint)).max(axis=1, initial=0) <= most] = (
            number
        )
    return which[where]


def _without_tiny_cores(flats: Flats) -> Flats:
    """Take the flats whose core is tiny off the map, in place; their pixels are bare.

    Such a core has two pixels at most, so all that was given back to it lies in a square of four around them.
    """
    filled = flats.filled
    tiny = np.flatnonzero(flats.area < LEAST_CORE)
    tiny = tiny[tiny > 0]
    spots = flats.box[tiny, None, :2] + _STEPS
    cols = np.minimum(spots[..., 0], filled.shape[1] - 1)
    rows = np.minimum(spots[..., 1], filled.shape[0] - 1)
    mine = filled[rows, cols] == tiny[:, None]
    taken = np.unique(rows[mine] * filled.shape[1] + cols[mine])
    filled.ravel()[taken] = 0
    return replace(flats, bare=np.insert(flats.bare, np.searchsorted(flats.bare, taken), taken))


def _join(
    flats: Flats,
    free: NDArray[np.int64],
    which: NDArray[np.int64],
    colors: NDArray[np.int16],
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Join pure pixels to fills of their color beside them, in place; return those that are left."""
    flat, width = flats.filled.ravel(), flats.filled.shape[1]
    for _ in range(2):
        for step in (-1, 1, -width, width):
            beside = flat[free + step]
            apart = np.abs(flats.rgb[beside].astype(np.int16) - colors[which]).max(axis=1, initial=0)
            joins = (beside > 0) & (apart <= PURE)
            flat[free[joins]] = beside[joins]
            free, which = free[~joins], which[~joins]
    return free, which


def _own(flats: Flats, free: NDArray[np.int64], which: NDArray[np.int64], colors: NDArray[np.int16]) -> Flats:
    """Make the pure pixels that are left into flats of their own; the maps are changed in place."""
    width = flats.filled.shape[1]
    key = joined(free, (1, width)) * len(colors) + which
    _, group, counts = np.unique(key, return_inverse=True, return_counts=True)
    kept = np.cumsum(counts >= LEAST) * (counts >= LEAST)
    mine = kept[group]
    free, which, mine = free[mine > 0], which[mine > 0], mine[mine > 0]
    number = int(kept.max(initial=0))
    if not number:
        return flats
    flats.labels.ravel()[free] = flats.filled.ravel()[free] = len(flats.area) - 1 + mine
    rows, cols = np.divmod(free, width)
    low, high = np.full((number, 2), 2**30), np.zeros((number, 2), np.int64)
    rgb = np.zeros((number, 3), np.uint8)
    rgb[mine - 1] = colors[which]
    area = np.bincount(mine - 1, minlength=number)
    for axis, place in enumerate((cols, rows)):
        np.minimum.at(low[:, axis], mine - 1, place)
        np.maximum.at(high[:, axis], mine - 1, place)
    return replace(
        flats,
        area=np.concatenate([flats.area, area]),
        box=np.concatenate([flats.box, np.concatenate([low, high - low + 1], axis=1).astype(np.int32)]),
        rgb=np.concatenate([flats.rgb, rgb]),
        lab=np.concatenate([flats.lab, srgb8_to_lab(rgb)]),
    )
