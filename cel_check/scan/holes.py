"""Finds the peg holes in the strip along a scan's edge, to a fraction of a pixel.

A hole shows what lies behind the sheet: lighter or darker than the strip, it differs. So whatever differs
from the strip's own smooth color is looked at, and what has a hole's size and shape is one. Its middle is the
mean of its pixels, each by how much it differs: soft and noisy rims average out.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.scan.clear_card import most
from cel_check.scan.punch import Punch, Side

Bytes = NDArray[np.uint8]
Spot = NDArray[np.float64]
Pair = tuple[float, float]

WORK_DPI = 300.0
"""Pixels an inch at which holes are measured: 1 is 0.085 mm, and middles are exact to a tenth of that."""

_LEAST_DPI = 120.0
"""Pixels an inch at which holes are still told from what is none."""

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
    strip = rgb[top : top + depth, :, :3]
    if rgb.shape[2] == 4:
        strip = np.asarray(cv2.cvtColor(rgb[top : top + depth], cv2.COLOR_RGBA2RGB), np.uint8)
    scale = min(1.0, WORK_DPI / dpi)
    if scale < 1.0:
        strip = np.asarray(
            cv2.resize(strip, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8
        )
    found = _shapes(strip, dpi * scale, punch)
    return Candidates(*((spots + 0.5) / scale - 0.5 + (0.0, top) for spots in found))


def cover_holes(rgb: Bytes, dpi: float, punch: Punch, side: Side, spots: Spot) -> None:
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
    size = (pixels.shape[1], pixels.shape[0])
    ground = np.asarray(cv2.resize(_ground(pixels, _SMALL), size, interpolation=cv2.INTER_LINEAR), np.uint8)
    differs = _differs(_apart(pixels, ground, (1.0, 1.0), (0, 0)))
    _, labels, stats, middles = cv2.connectedComponentsWithStats(differs, connectivity=8)
    near = np.hypot(*(middles[:, None] - (spots - (0.0, top))).transpose(2, 0, 1)).min(axis=1) < _REACH * dpi
    holes = near & (stats[:, 2:4].max(axis=1) < _WHOLE * dpi)
    holes[0] = False
    rim = 2 * round(_RIM * dpi) + 1
    mask = cv2.dilate(holes[labels].view(np.uint8), np.ones((rim, rim), np.uint8)) > 0
    view[mask] = ground[mask]


def _shapes(strip: Bytes, dpi: float, punch: Punch) -> tuple[Spot, ...]:
    """Return the middles `(n, 2)` of what may be a round hole, a slot, or a torn one.

    Shapes are looked for at half of the size where that is fine enough, and measured at all of it.
    """
    times = 2 if dpi >= 2 * _LEAST_DPI and min(strip.shape[:2]) > 1 else 1
    size = (strip.shape[1] // times, strip.shape[0] // times)
    strip = strip[: size[1] * times, : size[0] * times]
    coarse = np.asarray(cv2.resize(strip, size, interpolation=cv2.INTER_AREA), np.uint8)
    ground = _ground(coarse, _SMALL // times)
    scale = (ground.shape[1] / size[0], ground.shape[0] / size[1])
    differs = _differs(_apart(coarse, ground, scale, (0, 0)))
    mask = cv2.morphologyEx(differs, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    _, labels, stats, _ = cv2.connectedComponentsWithStats(mask, connectivity=8)
    fine = (scale[0] / times, scale[1] / times)
    kinds: tuple[list[Spot], ...] = ([], [], [])
    least = 0.2 * punch.slot_length * punch.slot_height * (dpi / times) ** 2
    for label in (np.flatnonzero(stats[1:, cv2.CC_STAT_AREA] >= least) + 1).tolist():
        x, y, w, h = stats[label, :4].tolist()
        left, top = max(0, x - 3), max(0, y - 3)
        mine = np.asarray(labels[top : y + h + 3, left : x + w + 3] == label, np.uint8)
        mine = mine.repeat(times, axis=0).repeat(times, axis=1)
        left, top = left * times, top * times
        part = np.ascontiguousarray(strip[top : top + mine.shape[0], left : left + mine.shape[1]])
        spot, measures = _measured(_apart(part, ground, fine, (left, top)), mine)
        kinds[_kind(measures, dpi, punch)].append(spot + np.array([left, top]))
    return tuple(np.array(spots).reshape(-1, 2) for spots in kinds)


def _differs(apart: Bytes) -> Bytes:
    """Return 1 where a pixel is farther from the strip's color than grain explains."""
    some = apart[::2, ::2].astype(np.float32)
    middle = float(np.median(some))
    sigma = 1.4826 * float(np.median(np.abs(some - middle))) + middle
    return np.asarray(apart > max(_LEAST_CONTRAST, _SIGMAS * sigma), np.uint8)


def _ground(strip: Bytes, times: int) -> Bytes:
    """Return the strip's own smooth color, so many times smaller."""
    height, width = strip.shape[:2]
    size = (max(1, width // times), max(1, height // times))
    small = np.asarray(cv2.resize(strip, size, interpolation=cv2.INTER_AREA), np.uint8)
    kernel = 51  # wider than two slots; OpenCV's median takes any odd size for 8 bits
    return np.asarray(cv2.medianBlur(small, kernel), np.uint8)


def _apart(pixels: Bytes, ground: Bytes, scale: Pair, corner: Pair) -> NDArray[np.uint8]:
    """Return how far each pixel is from the strip's smooth color, in levels, the most of its channels.

    Args:
        pixels: `(h, w, 3)` a part of the strip.
        ground: the whole strip's color, smaller.
        scale: its width and height over the strip's.
        corner: x and y of the part.
    """
    size = (pixels.shape[1], pixels.shape[0])
    across, down = ((at + 0.5) * by - 0.5 for at, by in zip(corner, scale, strict=True))
    move = np.array([[scale[0], 0.0, across], [0.0, scale[1], down]])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    own = cv2.warpAffine(ground, move, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
    return most(cv2.absdiff(cv2.GaussianBlur(pixels, (0, 0), 0.8), own))


def _measured(apart: NDArray[np.uint8], mine: NDArray[np.uint8]) -> tuple[Spot, tuple[float, float, float]]:
    """Return a shape's middle by weight, and its length, height and area where it differs by half or more."""
    near = cv2.dilate(mine, np.ones((5, 5), np.uint8)) > 0
    full = float(np.percentile(apart[mine > 0], 75))
    weight = np.clip(apart / full, 0.0, 1.0) * near
    weight[weight < 0.15] = 0.0
    rows, columns = np.mgrid[: weight.shape[0], : weight.shape[1]]
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
