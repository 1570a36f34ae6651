"""The colors that a scan has: peaks of its pixels' colors where the picture is even.

Paint on acetate has grain and thickness, so no two pixels of a fill are alike; together they make a heap in
L*a*b*, and another paint makes another. Heaps are taken from the highest down, each with all that lies within
its reach, until only blends are left.
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

REACH = 4.5
"""ΔE*ab around a heap's top that belong to it: paint's grain after smoothing is 1 (one standard deviation),
and paints of a model that touch are 6 and more apart. A fill off by less is told by its own mean."""

_BIN = 1.5
_LEAST = 14
"""Even pixels that make a color: a spot of 0.4 mm at 300 dpi."""

_MOST = 60


@dataclass(frozen=True, eq=False)
class Colors:
    """The colors of a scan.

    Attributes:
        lab: `(n, 3)` L*a*b* as OpenCV converts 32-bit floats: for telling heaps apart, not for judging.
        table: `(64, 64, 64)` uint8, the nearest of them for red, green and blue in steps of 4.
        apart: the same shape, float32: ΔE*ab from it; infinite where no even pixel is.
    """

    lab: NDArray[np.float32]
    table: NDArray[np.uint8]
    apart: NDArray[np.float32]


def find_colors(rgb: NDArray[np.uint8], even: NDArray[np.bool_], known: NDArray[np.float32]) -> Colors:
    """Find the colors of `(h, w, 3)` uint8 sRGB where `even`; at least one."""
    bins, counts, occupied = _histogram(rgb, even)
    tops = _tops(bins, counts, known)
    # Only the cells that even pixels have: a few thousand of 262144.
    cell = np.unique(occupied @ np.array([4096, 64, 1]))
    steps = np.stack([cell >> 12, (cell >> 6) & 63, cell & 63], axis=1)
    lab = lab_of((steps * 4 + 1.5).astype(np.float32)[None])[0]
    distance = np.sqrt(((lab[:, None] - tops) ** 2).sum(axis=2))
    nearest, apart = np.zeros(64**3, np.uint8), np.full(64**3, np.inf, np.float32)
    nearest[cell], apart[cell] = distance.argmin(axis=1), distance.min(axis=1)
    return Colors(tops, nearest.reshape(64, 64, 64), apart.reshape(64, 64, 64))


def cells(rgb: NDArray[np.uint8], shift: int) -> NDArray[np.int32]:
    """Return `(h, w)` one number for the upper bits of red, green and blue, `shift` of each left out."""
    side = 256 >> shift
    upper = (np.arange(256) >> shift)[:, None] * np.array([side * side, side, 1])
    # All of them are whole numbers below 2**24, which floats of 32 bits hold.
    parts = cv2.LUT(rgb, upper.astype(np.float32)[None])
    return np.asarray(cv2.transform(parts, np.ones((1, 3), np.float32)).astype(np.int32))


def lab_of(rgb: NDArray[np.float32]) -> NDArray[np.float32]:
    """Convert `(h, w, 3)` float32 sRGB, 0 to 255, to L*a*b*: fast, within 0.5 ΔE*ab."""
    return cast("NDArray[np.float32]", cv2.cvtColor(rgb / np.float32(255), cv2.COLOR_RGB2Lab))


def _histogram(
    rgb: NDArray[np.uint8], even: NDArray[np.bool_]
) -> tuple[NDArray[np.float32], NDArray[np.float64], NDArray[np.int64]]:
    """Return the mean L*a*b* of the occupied bins, its even pixels, and its cell of 64 steps a channel."""
    codes = cells(rgb, 1)
    codes[~even] = 1 << 21
    number = np.bincount(codes.ravel(), minlength=(1 << 21) + 1)[: 1 << 21]
    occupied = np.flatnonzero(number)
    number = number[occupied]
    steps = np.stack([(occupied >> shift) & 127 for shift in (14, 7, 0)], axis=1)
    lab = lab_of((steps * 2 + 0.5).astype(np.float32)[None])[0]
    cell = np.rint(lab / _BIN).astype(np.int64) @ np.array([1 << 40, 1 << 20, 1])
    _, where = np.unique(cell, return_inverse=True)
    counts = np.bincount(where, weights=number)
    mean = np.stack([np.bincount(where, weights=number * lab[:, c]) / counts for c in range(3)], axis=1)
    return mean.astype(np.float32), counts.astype(np.float64), steps >> 1


def _tops(
    bins: NDArray[np.float32], counts: NDArray[np.float64], known: NDArray[np.float32]
) -> NDArray[np.float32]:
    left = counts.copy()
    tops: list[NDArray[np.float64]] = []
    for color in known:
        near = np.sqrt(((bins - color) ** 2).sum(axis=1)) < 2.0
        if counts[near].sum() >= 4 * _LEAST:
            tops.append(color.astype(np.float64))
    for color in tops:
        left[np.sqrt(((bins - color) ** 2).sum(axis=1)) < REACH] = 0.0
    while len(tops) < _MOST and len(left):
        first = bins[int(left.argmax())].astype(np.float64)
        for _ in range(3):  # the heap's mean, not its fullest bin
            near = np.sqrt(((bins - first) ** 2).sum(axis=1)) < REACH
            total = float(left[near].sum())
            if total <= 0:
                break
            first = (bins[near] * left[near, None]).sum(axis=0) / total
        near = np.sqrt(((bins - first) ** 2).sum(axis=1)) < REACH
        total = float(left[near].sum())
        left[near] = 0.0
        left[int(left.argmax())] *= 1.0 if total > 0 else 0.0
        if total < _LEAST:
            break
        if not tops or np.sqrt(((np.array(tops) - first) ** 2).sum(axis=1)).min() > 0.8 * REACH:
            tops.append(first)
    return np.array(tops or [np.zeros(3)], np.float32)
