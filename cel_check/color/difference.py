"""Color differences between CIE L*a*b* colors, on arrays.

CIEDE2000 follows Sharma, Wu and Dalal, "The CIEDE2000 Color-Difference Formula: Implementation Notes,
Supplementary Test Data, and Mathematical Observations", Color Res. Appl. 30(1), 2005,
doi:10.1002/col.20070; the numbers in brackets are that paper's equations. The parametric factors kL, kC
and kH are 1.

Both colors must be relative to the same white (D65 everywhere in this program).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

_25_TO_THE_7 = 25.0**7

_BLOCK = 1 << 15  # colors a block: some twenty float64 columns of it stay in a core's cache

_OPPOSITE = 180.0 + 1e-9
"""Hues up to this many degrees apart are averaged the short way.

The mean hue jumps where two hues lie exactly opposite (the paper's section on discontinuities, and its
pair 14: 4.8045 one way, 4.7461 the other). Whether two computed angles differ by 180 or by
180.00000000000003 is a matter of the machine's arctangent, so a difference that is 180 to within rounding
counts as 180, which the paper averages plainly.
"""


class _Hues(NamedTuple):
    delta_chroma: Floats
    mean_chroma: Floats
    delta_hue: Floats
    mean_hue: Floats


def delta_e_76(lab1: ArrayLike, lab2: ArrayLike) -> Floats:
    """Return ΔE*ab (CIE 1976), the distance in L*a*b*, of broadcastable `(..., 3)` arrays, shape `(...)`."""
    difference = np.asarray(lab1, dtype=np.float64) - np.asarray(lab2, dtype=np.float64)
    distance: Floats = np.sqrt(np.einsum("...i,...i->...", difference, difference))
    return distance


def ciede2000(lab1: ArrayLike, lab2: ArrayLike) -> Floats:
    """Return ΔE00 of two broadcastable `(..., 3)` arrays of L*a*b* under one white, shape `(...)`.

    For every color of a picture against every color of a model pass `(n, 1, 3)` and `(m, 3)` and get
    `(n, m)`. The order of the two does not matter.
    """
    first, second = np.broadcast_arrays(
        np.asarray(lab1, dtype=np.float64), np.asarray(lab2, dtype=np.float64)
    )
    if first.ndim < 2 or first.size <= 3 * _BLOCK:
        return _ciede2000(first, second)
    rows = max(1, _BLOCK * first.shape[0] * 3 // first.size)
    result = np.empty(first.shape[:-1])
    for start in range(0, first.shape[0], rows):
        block = slice(start, start + rows)
        result[block] = _ciede2000(first[block], second[block])
    return result


def _ciede2000(lab1: Floats, lab2: Floats) -> Floats:
    mean_l = (lab1[..., 0] + lab2[..., 0]) / 2.0  # (12)
    delta_l = lab2[..., 0] - lab1[..., 0]  # (8)
    delta_c, mean_c, delta_h, mean_h = _hues(lab1, lab2)

    t = (
        1.0
        - 0.17 * np.cos(np.radians(mean_h - 30.0))
        + 0.24 * np.cos(np.radians(2.0 * mean_h))
        + 0.32 * np.cos(np.radians(3.0 * mean_h + 6.0))
        - 0.20 * np.cos(np.radians(4.0 * mean_h - 63.0))
    )  # (15)
    delta_theta = 30.0 * np.exp(-(((mean_h - 275.0) / 25.0) ** 2))  # (16)
    r_c = 2.0 * _share_of_25(mean_c)  # (17)
    from_mid = (mean_l - 50.0) ** 2
    s_l = 1.0 + 0.015 * from_mid / np.sqrt(20.0 + from_mid)  # (18)
    s_c = 1.0 + 0.045 * mean_c  # (19)
    s_h = 1.0 + 0.015 * mean_c * t  # (20)
    r_t = -np.sin(np.radians(2.0 * delta_theta)) * r_c  # (21)

    lightness, chroma, hue = delta_l / s_l, delta_c / s_c, delta_h / s_h
    square = lightness * lightness + chroma * chroma + hue * hue + r_t * chroma * hue  # (22)
    return np.sqrt(np.maximum(square, 0.0))  # |r_t| < 2, so only rounding can go below 0


def _hues(lab1: Floats, lab2: Floats) -> _Hues:
    """Return the differences and means of chroma and hue, equations (2) to (7), (9) to (11), (13), (14)."""
    a1, b1, a2, b2 = lab1[..., 1], lab1[..., 2], lab2[..., 1], lab2[..., 2]
    g = 0.5 * (1.0 - _share_of_25((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2.0))  # (2) to (4)
    a1, a2 = (1.0 + g) * a1, (1.0 + g) * a2  # (5)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)  # (6)
    h1, h2 = _hue_degrees(a1, b1), _hue_degrees(a2, b2)  # (7)

    neutral = c1 * c2 == 0.0  # one of the two has no hue: the other's counts
    apart = h2 - h1
    far = np.abs(apart) > _OPPOSITE
    apart = np.where(far, apart - np.copysign(360.0, apart), apart)
    apart = np.where(neutral, 0.0, apart)  # (10)
    delta_hue = 2.0 * np.sqrt(c1 * c2) * np.sin(np.radians(apart / 2.0))  # (11)

    total = h1 + h2
    turned = np.where(total < 360.0, total + 360.0, total - 360.0)
    mean_hue = np.where(neutral, total, np.where(far, turned, total) / 2.0)  # (14)
    return _Hues(c2 - c1, (c1 + c2) / 2.0, delta_hue, mean_hue)  # (9), (13)


def _hue_degrees(a: Floats, b: Floats) -> Floats:
    """Return the hue angle from 0 to 360; a neutral color's is 0, as arctan2(0, 0) is."""
    angle = np.degrees(np.arctan2(b, a))
    return np.where(angle < 0.0, angle + 360.0, angle)


def _share_of_25(chroma: Floats) -> Floats:
    """Return sqrt(C^7 / (C^7 + 25^7)), which (4) and (17) share."""
    seventh = chroma**7
    return np.sqrt(seventh / (seventh + _25_TO_THE_7))
