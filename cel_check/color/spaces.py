"""sRGB, CIE XYZ and CIE L*a*b*, on arrays of any shape whose last axis holds the three values.

All arithmetic is float64. XYZ is relative, with Y = 1 for the white; L*a*b* has L* from 0 to 100. Both
mean nothing without a white: every name or argument here says which one it is. The observer is the CIE
1931 2 degree one.

Sources: IEC 61966-2-1:1999 (transfer curve, primaries), ASTM E308 (the whites' tristimulus values), CIE 15
(L*a*b* with the exact constants 216/24389 and 24389/27), and the Bradford cone matrix as public color
libraries print it.
"""

from enum import StrEnum
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


class White(StrEnum):
    """The reference whites that a color may be declared under."""

    D50 = "D50"
    D65 = "D65"


_WHITE_XYZ = {White.D50: (0.96422, 1.0, 0.82521), White.D65: (0.95047, 1.0, 1.08883)}  # ASTM E308, 2 degree

_SRGB_PRIMARIES_XY = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))  # IEC 61966-2-1: R, G, B

_BRADFORD = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])

_LAB_EPSILON = 216.0 / 24389.0
_LAB_KAPPA = 24389.0 / 27.0

_HALF_A_STEP = 0.5 / 255.0  # what rounding to 8 bits may change anyway


def white_xyz(white: White) -> Floats:
    """Return the XYZ of a white, shape `(3,)`, Y = 1 (ASTM E308, 2 degree observer)."""
    return np.array(_WHITE_XYZ[white])


def _primaries_matrix() -> Floats:
    """Derive linear sRGB -> XYZ (D65) from the primaries' chromaticities, so that white is the D65 white."""
    primaries = np.array([[x / y, 1.0, (1.0 - x - y) / y] for x, y in _SRGB_PRIMARIES_XY]).T
    luminances = np.linalg.solve(primaries, white_xyz(White.D65))
    return primaries * luminances


_RGB_TO_XYZ_D65 = _primaries_matrix()
_XYZ_D65_TO_RGB = np.linalg.inv(_RGB_TO_XYZ_D65)


def srgb_to_linear(srgb: ArrayLike) -> Floats:
    """Decode sRGB values, 0 to 1, to linear light, 0 to 1 (IEC 61966-2-1). Negative values are mirrored."""
    values = np.asarray(srgb, dtype=np.float64)
    size = np.abs(values)
    linear = np.where(size <= 0.04045, size / 12.92, ((size + 0.055) / 1.055) ** 2.4)
    return np.copysign(linear, values)


def linear_to_srgb(linear: ArrayLike) -> Floats:
    """Encode linear light, 0 to 1, as sRGB, 0 to 1 (IEC 61966-2-1). Negative values are mirrored."""
    values = np.asarray(linear, dtype=np.float64)
    size = np.abs(values)
    srgb = np.where(size <= 0.0031308, size * 12.92, 1.055 * size ** (1.0 / 2.4) - 0.055)
    return np.copysign(srgb, values)


def linear_to_xyz_d65(linear: ArrayLike) -> Floats:
    """Convert linear sRGB `(..., 3)`, 0 to 1, to XYZ under D65."""
    return np.asarray(linear, dtype=np.float64) @ _RGB_TO_XYZ_D65.T


def xyz_d65_to_linear(xyz_d65: ArrayLike) -> Floats:
    """Convert XYZ `(..., 3)` under D65 to linear sRGB; below 0 or above 1 where out of gamut."""
    return np.asarray(xyz_d65, dtype=np.float64) @ _XYZ_D65_TO_RGB.T


def xyz_to_lab(xyz: ArrayLike, white: White) -> Floats:
    """Convert XYZ `(..., 3)`, Y = 1 for the white, to CIE L*a*b* relative to `white`."""
    ratio = np.asarray(xyz, dtype=np.float64) / white_xyz(white)
    f = np.where(ratio > _LAB_EPSILON, np.cbrt(ratio), (_LAB_KAPPA * ratio + 16.0) / 116.0)
    lab = np.empty_like(f)
    lab[..., 0] = 116.0 * f[..., 1] - 16.0
    lab[..., 1] = 500.0 * (f[..., 0] - f[..., 1])
    lab[..., 2] = 200.0 * (f[..., 1] - f[..., 2])
    return lab


def lab_to_xyz(lab: ArrayLike, white: White) -> Floats:
    """Convert CIE L*a*b* `(..., 3)` relative to `white` to XYZ, Y = 1 for the white."""
    values = np.asarray(lab, dtype=np.float64)
    f = np.empty_like(values)
    f[..., 1] = (values[..., 0] + 16.0) / 116.0
    f[..., 0] = f[..., 1] + values[..., 1] / 500.0
    f[..., 2] = f[..., 1] - values[..., 2] / 200.0
    cube = f**3
    ratio = np.where(cube > _LAB_EPSILON, cube, (116.0 * f - 16.0) / _LAB_KAPPA)
    return ratio * white_xyz(white)


@cache
def _bradford(source: White, target: White) -> Floats:
    cones_source = _BRADFORD @ white_xyz(source)
    cones_target = _BRADFORD @ white_xyz(target)
    matrix = np.linalg.solve(_BRADFORD, (cones_target / cones_source)[:, None] * _BRADFORD)
    matrix.setflags(write=False)  # shared by every caller
    return matrix


def adapt(xyz: ArrayLike, source: White, target: White) -> Floats:
    """Adapt XYZ `(..., 3)` seen under `source` to what looks the same under `target` (linear Bradford)."""
    values = np.array(xyz, dtype=np.float64)
    return values if source is target else values @ _bradford(source, target).T


@cache
def linear_of_code(bits: int) -> Floats:
    """Return the linear light, 0 to 1, of every sRGB code of `bits` bits; not to be written to."""
    top = 2**bits - 1
    table = srgb_to_linear(np.arange(top + 1) / top)
    table.setflags(write=False)  # shared by every caller
    return table


def srgb8_to_lab(rgb: NDArray[np.uint8]) -> Floats:
    """Convert 8-bit sRGB `(..., 3)` uint8 to L*a*b* under D65.

    Raises:
        TypeError: where `rgb` is not uint8, since other numbers would be read at a wrong scale.
    """
    return _codes_to_lab(rgb, 8)


def srgb16_to_lab(rgb: NDArray[np.uint16]) -> Floats:
    """Convert 16-bit sRGB `(..., 3)` uint16 (65535 = 1) to L*a*b* under D65.

    Raises:
        TypeError: where `rgb` is not uint16, since other numbers would be read at a wrong scale.
    """
    return _codes_to_lab(rgb, 16)


def _codes_to_lab(rgb: NDArray[np.uint8] | NDArray[np.uint16], bits: int) -> Floats:
    if rgb.dtype != np.dtype(f"uint{bits}"):
        raise TypeError(f"{bits}-bit sRGB must be uint{bits}, not {rgb.dtype}")
    return xyz_to_lab(linear_to_xyz_d65(linear_of_code(bits)[rgb]), White.D65)


def lab_to_srgb(lab: ArrayLike, white: White) -> tuple[Floats, NDArray[np.bool_]]:
    """Convert L*a*b* `(..., 3)` relative to `white` to sRGB.

    Returns:
        sRGB `(..., 3)` from 0 to 1, clipped channel by channel, and a mask `(...)` that is True where the
        color is in the gamut: where clipping changed no channel by more than half an 8-bit step.
    """
    xyz_d65 = adapt(lab_to_xyz(lab, white), white, White.D65)
    srgb = linear_to_srgb(xyz_d65_to_linear(xyz_d65))
    clipped = np.clip(srgb, 0.0, 1.0)
    in_gamut: NDArray[np.bool_] = np.all(np.abs(srgb - clipped) <= _HALF_A_STEP, axis=-1)
    return clipped, in_gamut


def to_8_bit(srgb: ArrayLike) -> NDArray[np.uint8]:
    """Round sRGB from 0 to 1 (any shape; clipped first) to uint8, halves upward."""
    return (np.clip(np.asarray(srgb, dtype=np.float64), 0.0, 1.0) * 255.0 + 0.5).astype(np.uint8)
