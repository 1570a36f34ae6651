"""Pictures made smaller, colors weighted by their alpha: what hides under clear pixels must not bleed in."""

import cv2
import numpy as np
from numpy.typing import NDArray

_FEW = 4
"""Times by which a side may be shrunk before every other row and column will do."""


def shrunk(rgba: NDArray[np.uint8], width: int, height: int) -> NDArray[np.uint8]:
    """Return `(h, w, 4)` uint8 straight-alpha sRGB pixels at a smaller size, as means over areas.

    Where the picture is shrunk to less than a quarter, every other row and column is looked at: four pixels
    and more still go into each one.

    Args:
        rgba: the picture.
        width: pixels, at most the picture's.
        height: the same.
    """
    if rgba.shape[1] > _FEW * width:
        rgba = np.ascontiguousarray(rgba.view(np.uint32)[::2, ::2]).view(np.uint8)
    alpha = cv2.extractChannel(rgba, 3)
    weighted = cv2.multiply(rgba, cv2.merge([alpha, alpha, alpha, np.full_like(alpha, 255)]), scale=1 / 255)
    small = np.asarray(cv2.resize(weighted, (width, height), interpolation=cv2.INTER_AREA), np.float32)
    small[:, :, :3] *= 255.0 / np.maximum(small[:, :, 3:], 1.0)
    return np.rint(np.minimum(small, 255.0)).astype(np.uint8)
