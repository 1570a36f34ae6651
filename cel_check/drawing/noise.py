"""Tells the noise of lossy compression from digital paint and its soft edges.

Digital flats repeat one color exactly, and a pixel of a soft edge lies between its neighbors: those left and
right of it or those above and below. Compression leaves grain: pixels that differ a little from every
neighbor and lie past them, in rings around each edge.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

Pixels = NDArray[np.uint8]
Mask = NDArray[np.bool_]

GRAIN = 12
"""Levels (of 255) by which grain differs from its neighbors; JPEG at quality 85 stays below beside flats."""

SHARE = 0.02
"""Pixels of grain to pixels of edge that make a picture noisy: below 0.004 on the digital art of the samples,
from 0.06 on as JPEG at quality 50 to 98 and 0.024 as WebP at 60."""

LEAST = 3
"""Pixels of grain at least: of the samples' smallest cels as JPEG, 4 and more."""

ROWS = 16
"""Every so many rows one is looked at."""


def is_noisy(rgba: NDArray[np.uint8], box: tuple[int, int, int, int]) -> bool:
    """Tell whether a picture has the noise of lossy compression.

    Args:
        rgba: `(h, w, 4)` uint8, sRGB, straight alpha.
        box: x, y, width, height of what can be seen; nothing outside is looked at.
    """
    if rgba.shape[0] < 3 or rgba.shape[1] < 3:
        return False
    x, y, w, h = box
    left, right = max(0, x - 1), min(rgba.shape[1], x + w + 1)
    last = (rgba.shape[0] - 3) // ROWS
    first, last = max(0, (y - 1) // ROWS), min(last, (y + h - 2) // ROWS)
    if first > last or right - left < 3:
        return False
    rows = slice(first, last + 1)
    above, here, below = (np.ascontiguousarray(rgba[start::ROWS][rows, left:right]) for start in range(3))
    middle = np.ascontiguousarray(here[:, 1:-1])
    beside, along = (here[:, :-2], here[:, 2:]), (above[:, 1:-1], below[:, 1:-1])
    apart = cv2.absdiff(middle, beside[0])
    for other in (beside[1], *along):
        cv2.max(apart, cv2.absdiff(middle, other), apart)
    visible = middle[:, :, 3] > 0
    edge = _largest(apart) > GRAIN
    grain = int((_past(middle, *beside) & _past(middle, *along) & ~edge & visible).sum())
    return grain > max(LEAST, SHARE * int((edge & visible).sum()))


def _past(middle: Pixels, one: Pixels, other: Pixels) -> Mask:
    """Return which `(h, w, 4)` pixels lie past both neighbors in some channel: no mix of the two."""
    over = cv2.subtract(middle, cv2.max(one, other))
    under = cv2.subtract(cv2.min(one, other), middle)
    return np.asarray(_largest(cv2.max(over, under)) > 0)


def _largest(pixels: cv2.typing.MatLike) -> Pixels:
    """Return the largest of four channels."""
    red, green, blue, alpha = cv2.split(pixels)
    return np.asarray(cv2.max(cv2.max(red, green), cv2.max(blue, alpha)), np.uint8)
