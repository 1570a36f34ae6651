"""Which pixels may have a paint's pure color: one look into a table for all the paints of a model at once."""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

BITS = 6
"""Bits a channel of the table."""

Rgb = tuple[int, int, int]


def may_be(pixels: NDArray[np.uint8], paints: tuple[Rgb, ...], step: int) -> NDArray[np.bool_]:
    """Tell which pixels may differ from one of some paints by a few levels; all that do are among them.

    Args:
        pixels: `(n, 4)` uint8, C-contiguous, sRGB; alpha is not looked at.
        paints: the paints' sRGB colors.
        step: levels (of 255, 4 at most) by which a channel may differ.
    """
    # The upper bits of the three channels of each pixel's word (red lowest), red first: a cell of the table.
    words = pixels.view("<u4").ravel()
    cells = ((words & 0xFC) << 10) | ((words >> 4) & 0xFC0) | ((words >> 18) & 0x3F)
    likely: NDArray[np.bool_] = _table(paints, step)[cells]
    return likely


@lru_cache(maxsize=16)
def _table(paints: tuple[Rgb, ...], step: int) -> NDArray[np.bool_]:
    """Return for each cell of colors whether a paint lies in it or within a step of it."""
    side = 1 << BITS
    table = np.zeros((side, side, side), bool)
    for paint in paints:
        low = np.maximum(np.array(paint) - step, 0) >> (8 - BITS)
        high = np.minimum(np.array(paint) + step, 255) >> (8 - BITS)
        table[tuple(slice(first, last + 1) for first, last in zip(low, high, strict=True))] = True
    return table.ravel()
