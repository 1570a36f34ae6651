"""Pictures made smaller, colors weighted by their alpha: what hides under clear pixels must not bleed in."""

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.picture.alpha import soft_places

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
    small = np.asarray(
        cv2.resize(_multiplied(rgba), (width, height), interpolation=cv2.INTER_AREA), np.uint8
    ).reshape(height, width, 4)
    pixels = small.reshape(-1, 4)
    soft = soft_places(np.asarray(cv2.extractChannel(small, 3), np.uint8))
    alpha = pixels[soft, 3:].astype(np.float32)
    pixels[soft, :3] = np.rint(np.minimum(pixels[soft, :3] * (255.0 / alpha), 255.0))
    return small


def _multiplied(rgba: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return pixels with their colors multiplied by alpha, rounded; clear ones are 0 throughout."""
    art = np.ascontiguousarray(rgba)
    alpha = np.asarray(cv2.extractChannel(art, 3), np.uint8)
    weighted = np.asarray(cv2.copyTo(art, alpha), np.uint8)
    pixels, soft = weighted.reshape(-1, 4), soft_places(alpha)
    share = pixels[soft, 3:].astype(np.float32) / 255.0
    pixels[soft, :3] = np.rint(pixels[soft, :3] * share)
    return weighted
