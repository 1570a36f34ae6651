"""What stands behind a clear cel in the report's pictures: a dotted neutral gray that no paint looks like."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from cel_check.picture.alpha import soft_places
from cel_check.picture.shrink import shrunk

Rgb = NDArray[np.uint8]
Rgba = NDArray[np.uint8]

GRAY = 150
"""sRGB value of the ground: light enough for black ink, dark enough for white paint (a house choice)."""
DOT = 128
"""sRGB value of its dots."""
PITCH = 8
"""Pixels between dots; every second row is shifted by half of it."""


def ground(height: int, width: int) -> Rgb:
    """Return the `(height, width, 3)` uint8 ground."""
    cell = np.full((PITCH, PITCH), GRAY, np.uint8)
    cell[0:2, 0:2] = DOT
    cell[PITCH // 2 : PITCH // 2 + 2, PITCH // 2 : PITCH // 2 + 2] = DOT
    tiled = np.tile(cell, (-(-height // PITCH), -(-width // PITCH)))[:height, :width]
    return np.repeat(tiled[:, :, None], 3, axis=2)


def lay_over(rgba: Rgba, below: Rgb) -> Rgb:
    """Return straight-alpha `rgba` laid over the opaque `below` of the same size, rounded to 8 bits."""
    art = np.ascontiguousarray(rgba)
    alpha = np.asarray(cv2.extractChannel(art, 3), np.uint8)
    opaque = cv2.threshold(alpha, 254, 255, cv2.THRESH_BINARY)[1]
    laid = np.asarray(cv2.copyTo(cv2.cvtColor(art, cv2.COLOR_RGBA2RGB), opaque, below.copy()), np.uint8)
    soft = soft_places(alpha)
    over, pixels = art.reshape(-1, 4)[soft], laid.reshape(-1, 3)
    share = over[:, 3:].astype(np.uint16)
    pixels[soft] = (over[:, :3] * share + pixels[soft] * (255 - share) + 127) // 255
    return laid


def shrink(rgba: Rgba, width: int, height: int) -> Rgba:
    """Return `rgba` at another size; clear pixels lend no color to their neighbors."""
    if rgba.shape[:2] == (height, width):
        return rgba
    if width <= rgba.shape[1] and height <= rgba.shape[0]:
        return _shrunk(rgba, width, height)
    # Pillow multiplies by alpha before it filters RGBA and divides after.
    image = Image.fromarray(np.ascontiguousarray(rgba))
    return np.asarray(image.resize((width, height), Image.Resampling.BILINEAR))


def _shrunk(rgba: Rgba, width: int, height: int) -> Rgba:
    """Return `rgba` at a smaller size; of a cel, mostly clear, only the art is worked on."""
    x, y, wide, high = cv2.boundingRect(cv2.extractChannel(rgba, 3))
    across, to_across = _around(x, x + wide, rgba.shape[1], width)
    down, to_down = _around(y, y + high, rgba.shape[0], height)
    small = np.zeros((height, width, 4), np.uint8)
    place = small[to_down, to_across]
    if place.size:
        place[:] = shrunk(np.ascontiguousarray(rgba[down, across]), place.shape[1], place.shape[0])
    return small


def _around(first: int, last: int, whole: int, small: int) -> tuple[slice, slice]:
    """Return the least span around another along one axis that is one of whole pixels at both sizes."""
    common = math.gcd(whole, small)
    begin, end = first * common // whole, -(-last * common // whole)
    step, to_step = whole // common, small // common
    return slice(begin * step, end * step), slice(begin * to_step, end * to_step)


def enlarge(rgba: Rgba, times: int) -> Rgba:
    """Return `rgba` with every pixel repeated `times` times in both directions."""
    return rgba.repeat(times, axis=0).repeat(times, axis=1)


def png_bytes(rgb: Rgb) -> bytes:
    """Return `rgb` as a PNG that carries pixels and nothing else.

    Flat art packs as well without filters, and in a third of the time.
    """
    no_filter = (cv2.IMWRITE_PNG_FILTER, cv2.IMWRITE_PNG_FILTER_NONE)
    return _packed(rgb, ".png", (cv2.IMWRITE_PNG_COMPRESSION, 3, *no_filter))


def jpeg_bytes(rgb: Rgb, quality: int = 85) -> bytes:
    """Return `rgb` as a JPEG with whole chroma that carries pixels and nothing else.

    WebP takes two thirds of the bytes and ten times as long, for some thirty frames a scene.
    """
    whole_chroma = (cv2.IMWRITE_JPEG_SAMPLING_FACTOR, cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444)
    return _packed(rgb, ".jpg", (cv2.IMWRITE_JPEG_QUALITY, quality, *whole_chroma))


def _packed(rgb: Rgb, ending: str, how: tuple[int, ...]) -> bytes:
    done, packed = cv2.imencode(ending, cv2.cvtColor(rgb, cv2.COLOR_RGB2BGR), how)
    if not done:
        raise OSError(f"a picture of the report could not be packed as {ending[1:].upper()}")
    return packed.tobytes()
