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
    small = np.asarray(
        cv2.resize(_multiplied(rgba), (width, height), interpolation=cv2.INTER_AREA), np.uint8
    ).reshape(height, width, 4)
    pixels = small.reshape(-1, 4)
    soft = _soft(small)
    alpha = pixels[soft, 3:].astype(np.float32)
    pixels[soft, :3] = np.rint(np.minimum(pixels[soft, :3] * (255.0 / alpha), 255.0))
    return small


def _soft(rgba: NDArray[np.uint8]) -> NDArray[np.int64]:
    """Return the places, in reading order, of the pixels that are neither clear nor opaque: few, on a cel."""
    # 0 less 1 wraps to the top, so that one comparison leaves both out.
    return np.flatnonzero(cv2.extractChannel(rgba, 3).ravel() - np.uint8(1) < 254)


def _multiplied(rgba: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return pixels with their colors multiplied by alpha, rounded; clear ones are 0 throughout."""
    art = np.ascontiguousarray(rgba)
    weighted = np.asarray(cv2.copyTo(art, cv2.extractChannel(art, 3)), np.uint8)
    pixels = weighted.reshape(-1, 4)
    soft = _soft(weighted)
    alpha = pixels[soft, 3:].astype(np.float32)
    pixels[soft, :3] = np.rint(pixels[soft, :3] * (alpha / 255.0))
    return weighted
