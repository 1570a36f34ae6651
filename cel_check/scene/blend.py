"""Straight-alpha pictures made smaller and laid over one another, in linear light.

An antialiased edge says which share of a pixel the paint covers, and a smaller picture shows the mean of an
area: both are sums of light, not of codes. So codes are decoded by the sRGB curve (IEC 61966-2-1), mixed, and
encoded again; mixed as codes, a white edge over black would come out at half its light. Pixels that are
clear or opaque, nearly all of a cel, need no arithmetic and are copied bit for bit.
"""

from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import linear_of_code, linear_to_srgb
from cel_check.picture.alpha import soft_places

Bytes = NDArray[np.uint8]
_FINE = 65535
"""Steps of linear light in the table that encodes it: 20 of them to the darkest step of 8-bit sRGB."""


@cache
def _decoded() -> NDArray[np.float32]:
    return linear_of_code(8).astype(np.float32)


@cache
def _encoded() -> Bytes:
    return np.rint(linear_to_srgb(np.arange(_FINE + 1) / _FINE) * 255.0).astype(np.uint8)


def encode(linear: NDArray[np.float32]) -> Bytes:
    """Return linear light from 0 to 1, any shape, as 8-bit sRGB; what lies beyond is clipped."""
    return np.asarray(_encoded()[np.clip(linear * _FINE + 0.5, 0, _FINE).astype(np.uint16)], np.uint8)


def reduced(rgba: Bytes, times: int) -> Bytes:
    """Return a picture 1/`times` as wide and high, each pixel the mean light of `times` x `times` of them.

    Args:
        rgba: `(h, w, 4)` uint8, sRGB, straight alpha. Rows and columns that do not fill a whole pixel are
            filled up with the last one.
        times: 1 or more.

    Returns:
        `(ceil(h / times), ceil(w / times), 4)` uint8, sRGB, straight alpha: colors are weighted by alpha,
        so that nothing under clear pixels bleeds in.
    """
    if times == 1:
        return rgba
    height, width = (-(-side // times) for side in rgba.shape[:2])
    spare = height * times - rgba.shape[0], width * times - rgba.shape[1]
    whole = cv2.copyMakeBorder(rgba, 0, spare[0], 0, spare[1], cv2.BORDER_REPLICATE) if any(spare) else rgba
    light = np.asarray(cv2.LUT(cv2.cvtColor(whole, cv2.COLOR_RGBA2RGB), _decoded()), np.float32)
    alpha = cv2.extractChannel(whole, 3)
    clear = not bool((alpha == 255).all())
    if clear:
        light *= (alpha * np.float32(1 / 255))[..., None]
    mean = np.asarray(cv2.resize(light, (width, height), interpolation=cv2.INTER_AREA), np.float32)
    if not clear:
        return np.dstack([encode(mean), np.full((height, width), 255, np.uint8)])
    cover = cv2.resize(alpha.astype(np.float32), (width, height), interpolation=cv2.INTER_AREA) / 255
    mean /= np.maximum(cover, 1e-6)[..., None]
    return np.dstack([encode(mean), np.rint(cover * 255).astype(np.uint8)])


def lay_over(frame: Bytes, art: Bytes) -> None:
    """Lay a cel over a frame, in place.

    Args:
        frame: `(h, w, 3)` uint8, sRGB; may be cut out of a larger one.
        art: `(h, w, 4)` uint8, sRGB, straight alpha; not without pixels.
    """
    alpha = np.asarray(cv2.extractChannel(np.ascontiguousarray(art), 3), np.uint8)
    rows, columns = np.divmod(soft_places(alpha), alpha.shape[1])
    soft = art[rows, columns]
    share = soft[:, 3:] * np.float32(1 / 255)
    table = _decoded()
    mixed = encode(share * table[soft[:, :3]] + (1 - share) * table[frame[rows, columns]])
    opaque = cv2.threshold(alpha, 254, 255, cv2.THRESH_BINARY)[1]
    cv2.copyTo(cv2.cvtColor(art, cv2.COLOR_RGBA2RGB), opaque, frame)
    frame[rows, columns] = mixed
