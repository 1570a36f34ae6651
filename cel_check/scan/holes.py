"""Finds the peg holes in the strip along a scan's edge, to a fraction of a pixel.

A hole shows what lies behind the sheet: lighter or darker than the strip, it differs. So whatever differs
from the strip's own smooth color is looked at, and what has a hole's size and shape is one. Its middle is the
mean of its pixels, each by how much it differs: soft and noisy rims average out.
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.scan.clear_card import most
from cel_check.scan.punch import Punch, Side

WORK_DPI = 300.0
"""Pixels an inch at which holes are measured: 1 is 0.085 mm, and middles are exact to a tenth of that."""

_SMALL = 10
"""How many times smaller the strip's own color is made: no hole is left of it under the median."""

_LEAST_CONTRAST, _SIGMAS = 9.0, 6.0
"""Levels (of 255), and robust standard deviations, from which a pixel differs from the strip."""

_SIZE = (0.72, 1.32)
"""A hole's length, height and area over what they should be: punches wear and rims are soft."""


_REACH, _WHOLE = 0.5, 0.9
"""Inches from a hole's place within which what differs from the strip belongs to it, torn or not; and its
length and height at most: whatever is longer was painted (house choices)."""

_RIM = 0.04
"""Inches around a hole that its soft rim takes up."""


@dataclass(frozen=True, eq=False)
class Candidates:
    """What may be a hole; places are pixels of the whole picture.

    Attributes:
        round: `(n, 2)` x, y of what may be the round hole.
        slots: `(n, 2)` of what may be a slot.
        torn: `(n, 2)` middles of what differs from the strip and is too large or misshapen.
    """

    round: NDArray[np.float64]
    slots: NDArray[np.float64]
    torn: NDArray[np.float64]


def find_holes(rgb: NDArray[np.uint8], dpi: float, punch: Punch, side: Side) -> Candidates:
    """Find what may be peg holes along one edge.

    Args:
        rgb: `(h, w, 3)` uint8 or more channels, the whole scan.
        dpi: its pixels an inch.
        punch: the holes' measures.
        side: the edge.
    """
    depth = min(rgb.shape[0], round(punch.strip * dpi))
    top = 0 if side is Side.TOP else rgb.shape[0] - depth
    strip = np.ascontiguousarray(rgb[top : top + depth, :, :3])
    scale = min(1.0, WORK_DPI / dpi)
    if scale < 1.0:
        strip = cast(
            "NDArray[np.uint8]", cv2.resize(strip, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        )
    found = _shapes(strip, dpi * scale, punch)
    return Candidates(*((spots + 0.5) / scale - 0.5 + (0.0, top) for spots in found))


def cover_holes(
    rgb: NDArray[np.uint8], dpi: float, punch: Punch, side: Side, spots: NDArray[np.float64]
) -> None:
    """Cover holes that are somewhere else than they should be, whole or torn, with the strip's own color.

    Args:
        rgb: `(h, w, 3)` uint8 or more channels; changed.
        dpi: its pixels an inch.
        punch: the holes' measures.
        side: the edge.
        spots: `(n, 2)` x, y of their middles.
    """
    depth = min(rgb.shape[0], round(punch.strip * dpi))
    top = 0 if side is Side.TOP else rgb.shape[0] - depth
    view = rgb[top : top + depth, :, :3]
    pixels = np.ascontiguousarray(view)
    ground = _ground(pixels)
    differs = _differs(_apart(pixels, ground))
    _, labels, stats, middles = cv2.connectedComponentsWithStats(differs, connectivity=8)
    near = np.hypot(*(middles[:, None] - (spots - (0.0, top))).transpose(2, 0, 1)).min(axis=1) < _REACH * dpi
    holes = near & (stats[:, 2:4].max(axis=1) < _WHOLE * dpi)
    holes[0] = False
    rim = 2 * round(_RIM * dpi) + 1
    mask = cv2.dilate(holes[labels].view(np.uint8), np.ones((rim, rim), np.uint8)) > 0
    view[mask] = ground[mask]


def _shapes(strip: NDArray[np.uint8], dpi: float, punch: Punch) -> tuple[NDArray[np.float64], ...]:
    apart = _apart(strip, _ground(strip))
    differs = _differs(apart)
    mask = cv2.morphologyEx(differs, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    count, labels, stats, middles = cv2.connectedComponentsWithStats(mask, connectivity=8)
    kinds: tuple[list[NDArray[np.float64]], ...] = ([], [], [])
    least = 0.2 * punch.slot_length * punch.slot_height * dpi**2
    for label in range(1, count):
        if stats[label][4] < least:
            continue
        spot, measures = _measured(apart, labels, stats[label], label)
        kind = _kind(measures, dpi, punch)
        kinds[kind].append(spot if kind < 2 else np.asarray(middles[label], np.float64))
    return tuple(np.array(spots).reshape(-1, 2) for spots in kinds)


def _differs(apart: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Return 1 where a pixel is farther from the strip's color than grain explains."""
    sigma = 1.4826 * float(np.median(np.abs(apart - np.median(apart)))) + float(np.median(apart))
    return np.asarray(apart > max(_LEAST_CONTRAST, _SIGMAS * sigma), np.uint8)


def _apart(strip: NDArray[np.uint8], ground: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return how far each pixel is from the strip's smooth color, in levels, the most of its channels."""
    smooth = cv2.GaussianBlur(strip, (0, 0), 0.8)
    return most(cv2.absdiff(smooth, ground)).astype(np.float32)


def _ground(strip: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the strip's own smooth color at each pixel."""
    height, width = strip.shape[:2]
    size = (max(1, width // _SMALL), max(1, height // _SMALL))
    small = cv2.resize(strip, size, interpolation=cv2.INTER_AREA)
    kernel = 51  # wider than two slots; OpenCV's median takes any odd size for 8 bits
    ground = cv2.resize(cv2.medianBlur(small, kernel), (width, height), interpolation=cv2.INTER_LINEAR)
    return np.asarray(ground, np.uint8)


def _measured(
    apart: NDArray[np.float32], labels: cv2.typing.MatLike, stats: NDArray[np.int32], label: int
) -> tuple[NDArray[np.float64], tuple[float, float, float]]:
    """Return a shape's middle by weight, and its length, height and area where it differs by half or more."""
    x, y, w, h = (int(v) for v in stats[:4])
    left, top = max(0, x - 3), max(0, y - 3)
    window = (slice(top, y + h + 3), slice(left, x + w + 3))
    near = cv2.dilate(np.asarray(labels[window] == label, np.uint8), np.ones((5, 5), np.uint8)) > 0
    full = float(np.percentile(apart[window][labels[window] == label], 75))
    weight = np.clip(apart[window] / full, 0.0, 1.0).astype(np.float64) * near
    weight[weight < 0.15] = 0.0
    rows, columns = np.mgrid[top : top + weight.shape[0], left : left + weight.shape[1]]
    total = float(weight.sum())
    spot = np.array([(weight * columns).sum() / total, (weight * rows).sum() / total])
    inside = np.asarray(weight > 0.5, np.uint8)
    contours, _ = cv2.findContours(inside, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return spot, (0.0, 0.0, 0.0)
    (_, (a, b), _) = cv2.minAreaRect(max(contours, key=cv2.contourArea))
    return spot, (max(a, b) + 1.0, min(a, b) + 1.0, float(inside.sum()))


def _kind(measures: tuple[float, float, float], dpi: float, punch: Punch) -> int:
    """Return 0 for a round hole, 1 for a slot, 2 for neither."""
    round_hole = (punch.hole, punch.hole, np.pi / 4 * punch.hole**2)
    slot = (punch.slot_length, punch.slot_height, 0.95 * punch.slot_length * punch.slot_height)
    for kind, wanted in enumerate((round_hole, slot)):
        ratios = [
            found / (want * dpi ** (2 if n == 2 else 1))
            for n, (found, want) in enumerate(zip(measures, wanted, strict=True))
        ]
        if all(_SIZE[0] <= ratio <= _SIZE[1] for ratio in ratios):
            return kind
    return 2
