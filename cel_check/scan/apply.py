"""A scan's colors brought to sRGB by its scanner's profile."""

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import White, adapt, linear_of_code, linear_to_srgb, xyz_d65_to_linear
from cel_check.scan.correct import Correction, Kind
from cel_check.scan.lit import light_over
from cel_check.scan.profile import Profile

Linear = NDArray[np.float32]
Codes = NDArray[np.uint8] | NDArray[np.uint16]

_ROWS = 256
"""Rows that are worked on at a time: their float columns stay small, whatever the scan's size."""

_BAND = 8
"""Rows that are evened at a time: they stay in the processor's cache, and light that loses a third over a
scan changes by 0.2 % over them at most."""

_STEPS = 65536
"""Steps of the table from linear light to sRGB's codes: half a step is 0.03 levels of 255 in the shadows."""

_NEXT = np.array([[0, 1, 0], [0, 0, 1], [1, 0, 0]], np.float32)
"""Puts green, blue and red where red, green and blue are."""


def linear_srgb(codes: Codes, profile: Profile) -> Linear:
    """Return a scan's linear sRGB light, `(h, w, 3)`; below 0 and above 1 where out of gamut.

    Args:
        codes: `(h, w, 3)` at the depth of the file; of the whole bed where the profile's light is to hold.
        profile: the scanner's.
    """
    table = _table(profile.correction, int(np.iinfo(codes.dtype).max))
    matrix = _to_srgb(profile.correction)
    light = _lamp(profile, codes, len(codes))
    out = np.empty(codes.shape, np.float32)
    for start in range(0, len(codes), _ROWS):
        rows = slice(start, start + _ROWS)
        linear = _linear(codes[rows], table)
        if light is not None:
            linear = linear / light[rows]
        out[rows] = _mixed(linear, profile.correction.kind, matrix)
    return out


def evened(codes: NDArray[np.uint8], profile: Profile | None, field: Linear | None) -> NDArray[np.uint8]:
    """Return `(h, w, 3)` sRGB codes of a scan, a few rows at a time: nothing of its size is a float.

    Args:
        codes: `(h, w, 3)` as scanned.
        profile: the scanner's; None where the codes are sRGB.
        field: `(n, m, 3)` light to divide by, evenly spread over the picture; None where it is even.
    """
    height, width = codes.shape[:2]
    bands = -(-height // _BAND)
    table = _table(profile.correction, 255) if profile else [linear_of_code(8)] * 3
    curve = np.stack(table, axis=-1).astype(np.float32)[None]
    light = _lamp(profile, codes, bands)
    over = None if field is None else np.asarray(cv2.resize(1 / field, (width, bands)), np.float32)
    ramp = np.rint(linear_to_srgb(np.arange(_STEPS) / (_STEPS - 1)) * 255).astype(np.uint8)
    out = np.empty(codes.shape, np.uint8)
    matrix = _to_srgb(profile.correction) if profile else np.eye(3)
    for band in range(bands):
        rows = slice(band * _BAND, (band + 1) * _BAND)
        linear = np.asarray(cv2.LUT(codes[rows], curve), np.float32)
        if light is not None:
            linear /= light[band]
        if profile is not None:
            linear = _mixed(linear, profile.correction.kind, matrix)
        if over is not None:
            linear *= over[band]
        # Scaled, rounded and clipped in one pass.
        steps = cv2.addWeighted(linear, _STEPS - 1.0, linear, 0.0, 0.0, dtype=cv2.CV_16U)
        np.take(ramp, np.asarray(steps, np.uint16), mode="clip", out=out[rows])
    return out


def _mixed(linear: Linear, kind: Kind, matrix: NDArray[np.float64]) -> Linear:
    """Return linear sRGB of a scanner's linear light `(h, w, 3)`, by the `(terms, 3)` of its correction.

    The same terms as `correct.terms` lists, without a column for each.
    """
    weights = matrix.T.astype(np.float32)
    if kind is not Kind.ROOT:
        return np.asarray(cv2.transform(linear, weights), np.float32)
    least = np.maximum(linear, np.float32(0))
    # Roots of red and green, green and blue, blue and red; `terms` has red and blue before green and blue.
    roots = cv2.sqrt(cv2.multiply(least, cv2.transform(least, _NEXT)))
    mixed = cv2.transform(linear, np.ascontiguousarray(weights[:, :3]))
    return np.asarray(mixed + cv2.transform(roots, np.ascontiguousarray(weights[:, [3, 5, 4]])), np.float32)


def _linear(codes: Codes, table: list[NDArray[np.float32]]) -> Linear:
    """Return `(h, w, 3)` linear light of codes, by a table for each channel."""
    if codes.dtype == np.uint8:
        return np.asarray(cv2.LUT(codes, np.stack(table, axis=-1)[None]), np.float32)
    return np.stack([table[c][codes[:, :, c]] for c in range(3)], axis=-1)


def _table(correction: Correction, top: int) -> list[NDArray[np.float32]]:
    codes = np.arange(top + 1) / top
    return [curve.light(codes).astype(np.float32) for curve in correction.curves]


def _to_srgb(correction: Correction) -> NDArray[np.float64]:
    """Return `(terms, 3)` from the correction's terms to linear sRGB: every step after them is linear."""
    xyz = adapt(correction.matrix.T, White.D50, White.D65)
    return xyz_d65_to_linear(xyz)


def _lamp(profile: Profile | None, codes: Codes, rows: int) -> Linear | None:
    """Return the light on a scan in so many rows, or None: it holds for the whole bed, and its shape."""
    height, width = codes.shape[:2]
    light = profile.light if profile else None
    if light is None or abs(width * light.height / (height * light.width) - 1) > 0.02:
        return None
    return light_over(light, width, rows)
