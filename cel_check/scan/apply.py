"""A scan's colors brought to sRGB by its scanner's profile, at the depth of its file."""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import White, adapt, linear_to_srgb, xyz_d65_to_linear
from cel_check.picture.picture import Picture
from cel_check.scan.correct import Correction, Kind, terms
from cel_check.scan.light import Light
from cel_check.scan.patches import codes_of
from cel_check.scan.profile import Profile

Linear = NDArray[np.float32]

_ROWS = 256
"""Rows that are worked on at a time: their float columns stay small, whatever the scan's size."""

_STEPS = 65536
"""Steps of the table from linear light to sRGB's codes: half a step is 0.03 levels of 255 in the shadows."""


def linear_srgb(picture: Picture, profile: Profile) -> NDArray[np.float32]:
    """Return a scan's linear sRGB light, `(h, w, 3)`; below 0 and above 1 where out of gamut."""
    codes = codes_of(picture)
    table = _table(profile.correction, int(np.iinfo(codes.dtype).max))
    matrix = _to_srgb(profile.correction)
    light = _light(profile.light, picture)
    out = np.empty(codes.shape, np.float32)
    for start in range(0, len(codes), _ROWS):
        rows = slice(start, start + _ROWS)
        linear = _linear(codes[rows], table)
        if light is not None:
            linear = linear / light[rows]
        if profile.correction.kind is Kind.MATRIX:
            cv2.transform(linear, matrix.T, out[rows])
        else:
            out[rows] = terms(linear.astype(np.float64), profile.correction.kind) @ matrix
    return out


def _linear(codes: NDArray[np.uint8] | NDArray[np.uint16], table: list[NDArray[np.float32]]) -> Linear:
    """Return `(h, w, 3)` linear light of codes, by a table for each channel."""
    if codes.dtype == np.uint8:
        return np.asarray(cv2.LUT(codes, np.stack(table, axis=-1)[None]), np.float32)
    return np.stack([table[c][codes[:, :, c]] for c in range(3)], axis=-1)


def encoded(linear: NDArray[np.float32], picture: Picture) -> Picture:
    """Return a picture with other colors: those of `(h, w, 3)` linear sRGB light, clipped to 0 to 1."""
    # Scaled, rounded and clipped in one pass.
    steps = np.asarray(cv2.addWeighted(linear, _STEPS - 1.0, linear, 0.0, 0.0, dtype=cv2.CV_16U), np.uint16)
    ramp = linear_to_srgb(np.arange(_STEPS) / (_STEPS - 1))
    rgba = picture.rgba.copy()
    if picture.rgb16 is None:
        rgba[:, :, :3] = np.rint(ramp * 255).astype(np.uint8)[steps]
        return replace(picture, rgba=rgba)
    codes = np.rint(ramp * 65535).astype(np.uint16)[steps]
    rgba[:, :, :3] = (codes.astype(np.uint32) * 255 + 32767) // 65535
    return replace(picture, rgba=rgba, rgb16=codes)


def _table(correction: Correction, top: int) -> list[NDArray[np.float32]]:
    codes = np.arange(top + 1) / top
    return [curve.light(codes).astype(np.float32) for curve in correction.curves]


def _to_srgb(correction: Correction) -> NDArray[np.float64]:
    """Return `(terms, 3)` from the correction's terms to linear sRGB: every step after them is linear."""
    xyz = adapt(correction.matrix.T, White.D50, White.D65)
    return xyz_d65_to_linear(xyz)


def _light(light: Light | None, picture: Picture) -> NDArray[np.float32] | None:
    """Return the light on a scan, or None: it holds for the whole bed, so only for scans of its shape."""
    if light is None or abs(picture.width * light.height / (picture.height * light.width) - 1) > 0.02:
        return None
    return light.over(picture.width, picture.height)
