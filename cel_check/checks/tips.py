"""Ends of line, and which of them face each other.

An end of line sees ink on one side only: a ring around it meets its line once and nothing else. The ring is
as wide as the line is there, so that an end close to a fork is one too.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.drawing import Drawing

RING = (0.9, 2.0)
"""Radius of the ring around an end: widths of the line there, and pixels more."""

SPOTS = 48
"""Places on the ring."""

LOOKS: tuple[tuple[int, tuple[float, ...]], ...] = (
    (8, (0.0, 0.3, 0.6)),
    (16, (0.0, 0.25, 0.5, 0.75, 1.0)),
    (SPOTS, (0.0, 0.14, 0.28, 0.43, 0.57, 0.71, 0.86, 1.0)),
)
"""Directions, and places in each by their share of the way from the line's rim to the ring, at each of three
looks: most of a ridge is no end, and few places tell. All must be ink: past a gap it is not this line.
"""

RIM = 1.5
"""Pixels past a line's edge of the first of these places, which lies in a gap of 2 px."""

MOST_ARC = 0.35
"""Share of the ring that an end's own ink reaches at most; corners have more, a line's middle two arcs."""

THINNEST = 0.5
"""Pen widths of a line that ends: the ridge of a blunt end runs into its two corners, thinner and thinner."""

MOST = 400
"""Ends that are looked at: a drawing with more is hatched."""

PAST = 4.0
"""Pixels past a line's width in which the side of a joint is looked for."""

Spots = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Tips:
    """The n ends of line of a drawing. Coordinates are the ground's, lengths pixels.

    Attributes:
        spots: `(n, 2)` x, y, half a line's width before its end.
        ways: `(n, 2)` unit vectors by which the lines run out of them.
        widths: `(n,)` of the lines there.
    """

    spots: Spots
    ways: Spots
    widths: Spots

    def facing(self, pen: float, widest: tuple[float, float], cosine: float) -> Iterator[tuple[int, int]]:
        """Yield the pairs of ends that face each other, in line, each end with its nearest.

        Args:
            pen: of the drawing; a line that is drawn with a wider one counts by its own.
            widest: pens between the two ends of line at most; pixels, for thin pens.
            cosine: of the angle between the way of each end and the way to the other, at least.
        """
        span = self.spots - self.spots[:, None]
        far = np.hypot(span[..., 0], span[..., 1])
        own = np.maximum(pen, (self.widths + self.widths[:, None]) / 2.0)
        most = np.maximum(widest[1], widest[0] * own) + own  # a spot lies half a line's width before its end
        unit = span / np.maximum(far, 1e-9)[..., None]
        towards = (unit * self.ways[:, None]).sum(axis=2)
        back = (unit * self.ways).sum(axis=2)
        fit = (far > 0) & (far <= most) & (towards >= cosine) & (back <= -cosine)
        for first in np.flatnonzero(fit.any(axis=1)).tolist():
            others = np.flatnonzero(fit[first])
            second = int(others[far[first, others].argmin()])
            if first < second:
                yield first, second


def tips_of(drawing: Drawing) -> Tips:
    """Find the ends of a drawing's lines; none where there are more than `MOST`."""
    ridge, depth = drawing.ink.ridge, drawing.ink.depth
    widths = 2.0 * depth[ridge[:, 0], ridge[:, 1]].astype(np.float64) - 0.5
    kept = widths >= max(1.0, THINNEST * drawing.ink.pen)
    ridge, widths = ridge[kept], widths[kept]
    if not len(ridge):
        return Tips(np.zeros((0, 2)), np.zeros((0, 2)), widths)
    line, here = drawing.ink.line, ridge[:, 0] * depth.shape[1] + ridge[:, 1]
    some: NDArray[np.int64] = np.arange(len(here))
    for number, look in enumerate(LOOKS):
        ink = _ring(line, here[some], widths[some], look)
        # What is ink on one side of a line's middle is ink on the other.
        half = look[0] // 2
        end = (ink[:, :half] != ink[:, half:]).any(axis=1)
        if number:
            end &= _one_arc(ink) & (ink.mean(axis=1) <= MOST_ARC + 1 / look[0])
        some, ink = some[end], ink[end]
    spots, widths = ridge[some][:, ::-1].astype(np.float64), widths[some]
    ways = -(ink @ _around(SPOTS))
    ways /= np.maximum(1e-9, np.hypot(ways[:, 0], ways[:, 1]))[:, None]
    return _outermost(Tips(spots, ways, widths))


def _around(count: int) -> Spots:
    """Return `(count, 2)` places on a circle of radius 1."""
    angles = 2 * np.pi * np.arange(count) / count
    return np.stack([np.cos(angles), np.sin(angles)], axis=1)


def _ring(
    line: NDArray[np.uint8], here: NDArray[np.int64], widths: Spots, look: tuple[int, tuple[float, ...]]
) -> NDArray[np.bool_]:
    """Return `(n, directions)` whether all places from the rim of a line to the ring are ink.

    Args:
        line: `(h, w)` more than 0 on ink. Past its sides the rows before and after are looked at.
        here: `(n,)` the spots in it, counted row by row.
        widths: `(n,)` of the lines.
        look: number of directions, and the places in each.
    """
    # Thousands of spots look at dozens of places each, but their lines have few widths: the steps to the
    # places are worked out once a width.
    kinds = np.rint(2.0 * widths).astype(np.int64)
    x, y = _places(int(kinds.max(initial=0)) + 1, look)
    steps = y * line.shape[1] + x
    least = np.full((len(here), look[0]), 255, np.uint8)
    for step in steps:
        at = np.take(step, kinds, axis=0)
        at += here[:, None]
        np.minimum(least, np.take(line, at, mode="clip"), out=least)
    return least > 0


@lru_cache(maxsize=32)
def _places(count: int, look: tuple[int, tuple[float, ...]]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return `(places, count, directions)` steps across and down from the middle of lines to the places.

    The lines are 0, half a pixel, one pixel and so on wide.
    """
    widths, circle = np.arange(count) / 2.0, _around(look[0])
    rim = widths / 2.0 + RIM
    out = rim + np.array(look[1])[:, None] * np.maximum(0.0, RING[0] * widths + RING[1] - rim)
    x, y = (np.rint(out[..., None] * circle[:, axis]).astype(np.int64) for axis in (0, 1))
    return x, y


def _one_arc(ink: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell which rings meet ink in one arc."""
    starts = (ink[:, 1:] & ~ink[:, :-1]).sum(axis=1) + (ink[:, 0] & ~ink[:, -1])
    return np.asarray(starts == 1)


def _outermost(tips: Tips) -> Tips:
    """Keep of each cluster of spots the one that lies farthest out."""
    keep: list[int] = []
    left = np.ones(len(tips.spots), bool)
    for start in range(len(tips.spots)):
        if not left[start]:
            continue
        far = np.hypot(*(tips.spots - tips.spots[start]).T)
        near = left & (far <= RING[0] * tips.widths[start] + RING[1]) & (tips.ways @ tips.ways[start] > 0.5)
        left &= ~near
        members = np.flatnonzero(near)
        keep.append(int(members[(tips.spots[members] @ tips.ways[start]).argmax()]))
    if len(keep) > MOST:
        keep = []
    return Tips(tips.spots[keep], tips.ways[keep], tips.widths[keep])


def beside_joint(labels: NDArray[np.int32], one: Spots, two: Spots, way: tuple[float, float]) -> list[int]:
    """Return what lies on the two sides of two ends of line that are joined, where something does.

    Args:
        labels: `(h, w)`, 0 or less where the lines and the joint lie.
        one: x, y of the first end.
        two: of the second.
        way: pixels from the joint's middle between which a side is looked for.
    """
    middle, span = (one + two) / 2.0, two - one
    normal = np.array([-span[1], span[0]]) / max(1e-9, float(np.hypot(*span)))
    met = []
    for side in (1.0, -1.0):
        for out in np.arange(*way):
            col, row = (round(float(value)) for value in middle + side * out * normal)
            if 0 <= row < labels.shape[0] and 0 <= col < labels.shape[1] and labels[row, col] > 0:
                met.append(int(labels[row, col]))
                break
    return met


def past_half(width: float) -> tuple[float, float]:
    """Return the way on which a joint half as thick as its line has its sides."""
    return width / 4.0 + 1.0, width + PAST
