"""Luminance contrast of two colors, by the formula of the Web Content Accessibility Guidelines.

Source: W3C, WCAG 2.2, definitions of "relative luminance" and "contrast ratio". Its limits are for text and
    signs;
what is too little on a cel is for its user to say.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
_FLARE = 0.05


def relative_luminance(linear: ArrayLike) -> Floats:
    """Return the relative luminance, 0 to 1, of linear sRGB `(..., 3)`, shape `(...)`."""
    return np.asarray(np.asarray(linear, dtype=np.float64) @ _LUMINANCE)


def contrast_ratio(first: ArrayLike, second: ArrayLike) -> Floats:
    """Return the contrast ratio, 1 to 21, of broadcastable relative luminances, in any order."""
    one, other = np.asarray(first, dtype=np.float64), np.asarray(second, dtype=np.float64)
    return np.asarray((np.maximum(one, other) + _FLARE) / (np.minimum(one, other) + _FLARE))
