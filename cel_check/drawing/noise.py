"""Tells the noise of lossy compression from digital paint and its soft edges.

Digital flats repeat one color exactly, and an edge, however soft, differs much from its neighbor on one side
at least. Compression leaves grain: pixels that differ a little from every neighbor, in rings around each
edge.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

GRAIN = 12
"""Levels (of 255) by which grain differs from its neighbors; JPEG at quality 85 stays below beside flats."""

SHARE = 0.5
"""Pixels of grain to pixels of edge that make a picture noisy: below 0.1 on digital art, above 1 on JPEG."""

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
    apart = cv2.absdiff(middle, here[:, :-2])
    for other in (here[:, 2:], above[:, 1:-1], below[:, 1:-1]):
        cv2.max(apart, cv2.absdiff(middle, other), apart)
    red, green, blue, alpha = cv2.split(apart)
    most = np.asarray(cv2.max(cv2.max(red, green), cv2.max(blue, alpha)))
    visible = middle[:, :, 3] > 0
    edge = most > GRAIN
    grain = int(((most > 0) & ~edge & visible).sum())
    return grain > max(20.0, SHARE * int((edge & visible).sum()))
