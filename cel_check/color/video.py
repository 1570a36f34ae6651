"""Video signals of a color: BT.709 luma and color differences, digital codes, and the limits of EBU R 103.

R'G'B' here are the encoded (not linear) values, 0 for black and 1 for white; below 0 or above 1 where a color
is outside the gamut. sRGB and BT.709 share primaries and white, and by common practice (no source) the codes
of an sRGB picture go to a BT.709 master as they are: this module does not trade one transfer curve for the
other.

Sources: ITU-R BT.709-6 (06/2015), items 3.2 to 3.5, for the coefficients and codes; EBU R 103 v3.0 (May 2020)
for the tolerance of -5 % to +105 % on R, G, B and Y alike.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

_LUMA = np.array([0.2126, 0.7152, 0.0722])
_BLUE_SPAN, _RED_SPAN = 1.8556, 1.5748

BLACK, RANGE, COLOR_RANGE, COLOR_ZERO = 16, 219, 224, 128
"""Codes at 8 bits: black, black to white, the span of a color difference, and its zero."""

TOLERANCE = 0.05
"""EBU R 103: how far a signal may pass black and white, as a share of the range between them."""


def luma(rgb: ArrayLike) -> Floats:
    """Return E'Y of encoded R'G'B' `(..., 3)`, shape `(...)` (BT.709 item 3.2)."""
    return np.asarray(np.asarray(rgb, dtype=np.float64) @ _LUMA)


def ycbcr(rgb: ArrayLike) -> Floats:
    """Return E'Y (0 to 1), E'CB and E'CR (-0.5 to 0.5) of encoded R'G'B' `(..., 3)` (BT.709 item 3.3)."""
    values = np.asarray(rgb, dtype=np.float64)
    y = luma(values)
    blue = (values[..., 2] - y) / _BLUE_SPAN
    red = (values[..., 0] - y) / _RED_SPAN
    return np.stack([y, blue, red], axis=-1)


def narrow_codes(rgb: ArrayLike, bits: int = 8) -> NDArray[np.int64]:
    """Return the narrow-range codes of encoded R'G'B' `(..., 3)` at 8, 10 or 12 bits (item 3.4)."""
    return _rounded((RANGE * np.asarray(rgb, dtype=np.float64) + BLACK) * 2 ** (bits - 8))


def narrow_ycbcr_codes(rgb: ArrayLike, bits: int = 8) -> NDArray[np.int64]:
    """Return the codes D'Y, D'CB, D'CR of encoded R'G'B' `(..., 3)` at 8, 10 or 12 bits (item 3.5)."""
    spans = np.array([RANGE, COLOR_RANGE, COLOR_RANGE])
    zeros = np.array([BLACK, COLOR_ZERO, COLOR_ZERO])
    return _rounded((spans * ycbcr(rgb) + zeros) * 2 ** (bits - 8))


def signal_of_codes(codes: ArrayLike) -> Floats:
    """Return the signal that 8-bit narrow-range codes stand for: code 16 is 0 and code 235 is 1."""
    return (np.asarray(codes, dtype=np.float64) - BLACK) / RANGE


def tolerated_codes(bits: int = 8) -> tuple[int, int]:
    """Return the lowest and highest code that EBU R 103 tolerates for R, G, B and Y (8 bits: 5 and 246)."""
    step = 2 ** (bits - 8)
    low = math.floor((BLACK - TOLERANCE * RANGE) * step)
    high = math.ceil((BLACK + RANGE + TOLERANCE * RANGE) * step)
    return low, high


def excursion(rgb: ArrayLike) -> Floats:
    """Return by how much R', G', B' or luma, whichever is worst, passes black or white; 0 where none does.

    Args:
        rgb: encoded R'G'B' `(..., 3)`, not clipped.

    Returns:
        `(...)` as a share of the range between black and white; above `TOLERANCE` it breaks EBU R 103.
    """
    values = np.asarray(rgb, dtype=np.float64)
    signals = np.concatenate([values, luma(values)[..., None]], axis=-1)
    return np.asarray(np.maximum(np.maximum(-signals, signals - 1.0).max(axis=-1), 0.0))


def _rounded(values: Floats) -> NDArray[np.int64]:
    return np.floor(values + 0.5).astype(np.int64)
