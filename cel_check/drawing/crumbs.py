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


def with_crumbs(ground: Ground, flats: Flats, palette: Palette) -> Flats:
    """Add the crumbs of a drawing to its flats.

    Args:
        ground: the art's rectangle.
        flats: its flats.
        palette: the level's colors; crumbs of its paints are looked for, since ink is found by itself.

    Returns:
        The flats with `filled` extended, and a row for each crumb that touches no fill of its color.
    """
    paints = tuple(color.srgb for color in palette.colors if color.use is Use.PAINT)
    filled = _without_tiny_cores(flats)
    free = np.flatnonzero((filled == 0) & (ground.clear == 0))
    pixels = ground.rgba.reshape(-1, 4)[free]
    likely = may_be(pixels, paints, PURE) & (pixels[:, 3] >= LEAST_ALPHA)
    free, pixels = free[likely], pixels[likely]
    which = _which_paint(pixels, paints)
    pure = which >= 0
    free, which = free[pure], which[pure]
    colors = np.array(paints, np.int16).reshape(-1, 3)
    free, which = _join(filled, flats, free, which, colors)
    return (
        _own(replace(flats, filled=filled), free, which, colors)
        if len(free) >= LEAST
        else replace(flats, filled=filled)
    )


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


def _without_tiny_cores(flats: Flats) -> NDArray[np.int32]:
    """Return a copy of `filled` without the flats whose core is tiny.

    Such a core has two pixels at most, so all that was given back to it lies in a square of four around them.
    """
    filled = flats.filled.copy()
    tiny = np.flatnonzero(flats.area < LEAST_CORE)
    tiny = tiny[tiny > 0]
    steps = np.stack(np.meshgrid(np.arange(4), np.arange(4)), axis=-1).reshape(-1, 2)
    spots = flats.box[tiny, None, :2] + steps[None]
    cols = np.minimum(spots[..., 0], filled.shape[1] - 1)
    rows = np.minimum(spots[..., 1], filled.shape[0] - 1)
    mine = filled[rows, cols] == tiny[:, None]
    filled[rows[mine], cols[mine]] = 0
    return filled


def _join(
    filled: NDArray[np.int32],
    flats: Flats,
    free: NDArray[np.int64],
    which: NDArray[np.int64],
    colors: NDArray[np.int16],
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Join pure pixels to fills of their color beside them, in place; return those that are left."""
    flat, width = filled.ravel(), filled.shape[1]
    for _ in range(2):
        for step in (-1, 1, -width, width):
            beside = flat[free + step]
            apart = np.abs(flats.rgb[beside].astype(np.int16) - colors[which]).max(axis=1, initial=0)
            joins = (beside > 0) & (apart <= PURE)
            flat[free[joins]] = beside[joins]
            free, which = free[~joins], which[~joins]
    return free, which


def _own(flats: Flats, free: NDArray[np.int64], which: NDArray[np.int64], colors: NDArray[np.int16]) -> Flats:
    """Make the pure pixels that are left into flats of their own; `filled` is changed in place."""
    width = flats.filled.shape[1]
    key = joined(free, (1, width)) * len(colors) + which
    _, group, counts = np.unique(key, return_inverse=True, return_counts=True)
    kept = np.cumsum(counts >= LEAST) * (counts >= LEAST)
    mine = kept[group]
    free, which, mine = free[mine > 0], which[mine > 0], mine[mine > 0]
    number = int(kept.max(initial=0))
    if not number:
        return flats
    labels, filled = flats.labels.copy(), flats.filled
    labels.ravel()[free] = filled.ravel()[free] = len(flats.area) - 1 + mine
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
        labels=labels,
        filled=filled,
        area=np.concatenate([flats.area, area]),
        box=np.concatenate([flats.box, np.concatenate([low, high - low + 1], axis=1).astype(np.int32)]),
        rgb=np.concatenate([flats.rgb, rgb]),
        lab=np.concatenate([flats.lab, srgb8_to_lab(rgb)]),
    )
