"""Leaks: gaps in the lines of a cel that is inked and not yet painted, through which a fill would run out.

An end of line sees ink on one side only, on a ring around it. Two ends that face each other, in line, are
joined for a trial: where that parts one place into two that somebody would paint, a fill leaks between them.
Strokes that end in a place without closing it off (hair, wrinkles, marks of motion) part nothing.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.drawing import Drawing
from cel_check.drawing.regions import LINE

WIDEST = 3.2
"""Pen widths between two ends of line at most."""

WIDEST_PIXELS = 13.0
"""The same in pixels, for thin pens."""

RING = (1.4, 2.5)
"""Radius of the ring around an end: pen widths, and pixels more."""

SPOTS = 48
"""Places on the ring."""

STEPS = 10
"""Places on the way to each, which must be ink too: what lies across a gap is not this line."""

MOST_ARC = 0.3
"""Share of the ring that an end's own ink reaches at most; corners have more, a line's middle two arcs."""

FACING = 0.75
"""Cosine between the way an end of line runs and the way to the other end."""

LEAST_PLACE = 12.0
"""Squared pen widths of a place that somebody would paint."""

Spots = NDArray[np.float64]


@dataclass(frozen=True)
class Leak:
    """A gap through which a fill would run. Coordinates are the ground's, lengths pixels.

    Attributes:
        ends: x, y of the last of the ridge of the two ends of line.
        length: from one end of line to the other.
        area: of the smaller of the two places that it joins, pixels.
    """

    ends: tuple[tuple[float, float], tuple[float, float]]
    length: float
    area: int


def leaks_of(drawing: Drawing) -> Iterator[Leak]:
    """Find the gaps of a cel without paint.

    Args:
        drawing: the cel, taken apart.

    Yields:
        The gaps, by the order of their ends.
    """
    pen = drawing.ink.pen
    tips, ways = _tips(drawing)
    pairs = list(_pairs(tips, ways, max(WIDEST_PIXELS, WIDEST * pen) + pen))
    if not pairs:
        return
    line = (drawing.regions.ids == LINE).astype(np.uint8)
    for first, second in pairs:
        ends = [tuple(int(v) for v in np.rint(tips[tip])) for tip in (first, second)]
        cv2.line(line, ends[0], ends[1], 2, max(2, round(pen / 2)))
    _, places, stats, _ = cv2.connectedComponentsWithStats((line == 0).astype(np.uint8), connectivity=4)
    areas = np.where(np.arange(len(stats)) > 0, stats[:, cv2.CC_STAT_AREA], 0)
    for first, second in pairs:
        met = _beside(places, (tips[first] + tips[second]) / 2.0, tips[second] - tips[first], pen)
        sizes = sorted(int(areas[place]) for place in met)
        if len(sizes) == 2 and sizes[0] >= LEAST_PLACE * pen * pen:
            a, b = tips[first], tips[second]
            span = max(1.0, float(np.hypot(*(b - a))) - pen)  # a ridge ends half a pen before its line
            yield Leak(((float(a[0]), float(a[1])), (float(b[0]), float(b[1]))), span, sizes[0])


def _tips(drawing: Drawing) -> tuple[Spots, Spots]:
    """Return `(n, 2)` x, y of the ends of line and the unit vectors by which the lines run out of them."""
    ids, pen = drawing.regions.ids, drawing.ink.pen
    rows, cols = drawing.ink.ridge.T
    radius = RING[0] * pen + RING[1]
    angles = 2 * np.pi * np.arange(SPOTS) / SPOTS
    ring = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    ink = np.ones((len(rows), SPOTS), bool)
    for out in np.linspace(pen / 2.0, radius, STEPS):
        x = np.clip(np.rint(cols[:, None] + out * ring[:, 0]).astype(np.int64), 0, ids.shape[1] - 1)
        y = np.clip(np.rint(rows[:, None] + out * ring[:, 1]).astype(np.int64), 0, ids.shape[0] - 1)
        ink &= ids[y, x] == LINE
    arcs = (ink & ~np.roll(ink, 1, axis=1)).sum(axis=1)
    share = ink.mean(axis=1)
    tip = (arcs == 1) & (share <= MOST_ARC)
    way = -(ink[tip] @ ring)
    way /= np.maximum(1e-9, np.hypot(way[:, 0], way[:, 1]))[:, None]
    spots = np.stack([cols[tip], rows[tip]], axis=1).astype(np.float64)
    return _outermost(spots, way, radius)


def _outermost(spots: Spots, way: Spots, radius: float) -> tuple[Spots, Spots]:
    """Keep of each cluster of spots the one that lies farthest out."""
    keep: list[int] = []
    left = np.ones(len(spots), bool)
    for start in range(len(spots)):
        if not left[start]:
            continue
        near = left & (np.hypot(*(spots - spots[start]).T) <= radius) & (way @ way[start] > 0.5)
        left &= ~near
        members = np.flatnonzero(near)
        keep.append(int(members[(spots[members] @ way[start]).argmax()]))
    return spots[keep], way[keep]


def _pairs(tips: Spots, ways: Spots, widest: float) -> Iterator[tuple[int, int]]:
    """Yield the pairs of ends that face each other, in line, each end with its nearest."""
    for first in range(len(tips)):
        span = tips - tips[first]
        far = np.hypot(span[:, 0], span[:, 1])
        unit = span / np.maximum(far, 1e-9)[:, None]
        fit = (
            (far > 0)
            & (far <= widest)
            & (unit @ ways[first] >= FACING)
            & ((ways * unit).sum(axis=1) <= -FACING)
        )
        others = np.flatnonzero(fit)
        if len(others):
            second = int(others[far[others].argmin()])
            if first < second:
                yield first, second


def _beside(places: NDArray[np.int32], middle: Spots, span: Spots, pen: float) -> set[int]:
    """Return the places on the two sides of a trial line."""
    normal = np.array([-span[1], span[0]]) / max(1e-9, float(np.hypot(*span)))
    met = set()
    for way in (1.0, -1.0):
        for step in np.arange(pen / 4 + 1.0, pen + 4.0):
            x, y = (round(float(v)) for v in middle + way * step * normal)
            if 0 <= y < places.shape[0] and 0 <= x < places.shape[1] and places[y, x]:
                met.add(int(places[y, x]))
                break
    return met
