"""Tells dust and hairs on the clear cel from dirt: they are thin, once the blur around them is off.

They are measured on the scan as it was read: at the working size a hair that is folded looks like a speck. A
mark's own width is that of its pixels which differ from the card by half of what its middle does.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.scan.clear_card import most
from cel_check.scan.punch import MM_PER_INCH

Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]

_LONGEST_MM = 4.0
"""Length up to which a lone mark may be dust or hair; longer ones were drawn."""

_THIN_MM = 0.31
"""Width up to which a mark is dust or hair: so wide is a blurred disk of 0.33 mm; one of 0.5 mm is 0.44."""

_FOLDED_MM, _FULL = 0.4, 0.8
"""Width up to which a hair may be where it lies across itself, its hull covered no more; dirt fills it."""

_FINE = 4
"""Times as fine as the scan widths are measured: in whole pixels a slanting hair is as wide as a spot."""

_AROUND = 3
"""Pixels of the scan around a mark, its card among them."""


@dataclass(frozen=True, eq=False)
class Full:
    """A scan as it was read.

    Attributes:
        rgba: `(h, w, 4)` uint8.
        back: `(2, 3)` from x, y of the working size to x, y of it.
        dpi: its pixels an inch.
    """

    rgba: Bytes
    back: NDArray[np.float64]
    dpi: float


def without_dust(clear: Mask, full: Full, dpi: float) -> tuple[Mask, int]:
    """Return clear cel with dust and hairs counted to it, and how many there were.

    Args:
        clear: `(h, w)` where the card shows, at the working size.
        full: the scan as it was read.
        dpi: pixels an inch of the working size.
    """
    _, labels, stats, _ = cv2.connectedComponentsWithStats((~clear).view(np.uint8), connectivity=8)
    sides = stats[:, 2:4].max(axis=1)
    sides[0] = 0
    clear, count = clear.copy(), 0
    for mark in np.flatnonzero((sides > 0) & (sides < _LONGEST_MM * dpi / MM_PER_INCH)).tolist():
        x, y, w, h = stats[mark, :4].tolist()
        if _is_thin(_window(full, (x, y, w, h)), full.dpi):
            window = (slice(y, y + h), slice(x, x + w))
            clear[window][labels[window] == mark] = True
            count += 1
    return clear, count


def _window(full: Full, box: tuple[int, int, int, int]) -> Bytes:
    """Return the scan where a box of the working size lies."""
    x, y, w, h = box
    corners = np.array([(x, y, 1), (x + w, y, 1), (x, y + h, 1), (x + w, y + h, 1)], float) @ full.back.T
    left, top = (max(0, int(v) - _AROUND) for v in corners.min(axis=0))
    right, bottom = (max(0, int(v) + 1 + _AROUND) for v in corners.max(axis=0))
    return np.ascontiguousarray(full.rgba[top:bottom, left:right, :3])


def _is_thin(rgb: Bytes, dpi: float) -> bool:
    """Tell whether what differs from the window's own border is nowhere wider than dust."""
    if not rgb.size:
        return True
    edge = np.concatenate([rgb[0], rgb[-1], rgb[:, 0], rgb[:, -1]])
    card = np.median(edge, axis=0).astype(np.uint8)
    apart = most(cv2.GaussianBlur(cv2.absdiff(rgb, np.broadcast_to(card, rgb.shape).copy()), (0, 0), 0.6))
    fine = np.asarray(cv2.resize(apart, None, fx=_FINE, fy=_FINE, interpolation=cv2.INTER_LINEAR))
    half = np.pad((fine >= max(1.0, 0.5 * float(apart.max()))).view(np.uint8), 2)
    deepest = float(cv2.distanceTransform(half, cv2.DIST_L2, cv2.DIST_MASK_5).max())
    width = (2.0 * deepest - 1.0) / _FINE * MM_PER_INCH / dpi
    return width <= _THIN_MM or (width <= _FOLDED_MM and _fullness(half) < _FULL)


def _fullness(mark: Bytes) -> float:
    """Return the share of its convex hull that a mark covers."""
    rows, columns = np.nonzero(mark)
    hull = cv2.convexHull(np.column_stack([columns, rows]).astype(np.int32))
    # The hull runs through the middles of the outermost pixels.
    return len(rows) / max(1.0, cv2.contourArea(hull) + cv2.arcLength(hull, True) / 2 + 1)
