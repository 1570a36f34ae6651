"""Contact runs: connected stretches of border in which two regions touch with no line between them.

In inked art the borders of fills carry ink. Where two regions touch bare for a short stretch between two ends
on ink, the line is open there, or paint has crossed it. The checks judge that from a run's ends, its chord
and how far it bulges from the chord.
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.regions import LINE, Regions
from cel_check.drawing.sparse import grouped, joined_near

NEAR_INK = 5
"""Side in pixels of the window in which a run's pixel counts as touching ink."""

LONGEST = 400
"""Edges; a longer bare border is the drawing's style, not an accident at a line."""


@dataclass(frozen=True, eq=False)
class Run:
    """One contact run.

    Attributes:
        pair: the two regions' ids, the lower first.
        points: `(n, 2)` int32 x, y.
        ends: the two points on ink that lie farthest apart; None where the run does not touch ink twice.
        chord: distance in pixels between the ends.
        depth: largest distance in pixels of the run from its chord (for a closed run: its own width).
        deepest: the point at that distance.
    """

    pair: tuple[int, int]
    points: NDArray[np.int32]
    ends: tuple[tuple[int, int], tuple[int, int]] | None
    chord: float
    depth: float
    deepest: tuple[int, int]


def contact_runs(regions: Regions) -> tuple[Run, ...]:
    """Return the contact runs of up to `LONGEST` edges that touch ink, in reading order."""
    if not len(regions.pairs):
        return ()
    near = cv2.dilate((regions.ids == LINE).view(np.uint8), np.ones((NEAR_INK, NEAR_INK), np.uint8))
    groups = _groups(regions)
    runs = []
    for members in groups:
        if len(members) <= LONGEST:
            run = _run(regions, members, cast("NDArray[np.uint8]", near))
            if run is not None:
                runs.append(run)
    return tuple(runs)


def _groups(regions: Regions) -> list[NDArray[np.int64]]:
    """Return the indices of the contact edges, grouped into connected runs of one pair."""
    label = joined_near(regions.points[:, 1], regions.points[:, 0], 3)
    size = int(regions.area.size) + 1
    return grouped((label * size + regions.pairs[:, 0]) * size + regions.pairs[:, 1])


def _run(regions: Regions, members: NDArray[np.int64], near: NDArray[np.uint8]) -> Run | None:
    """Measure one run; None where it touches no ink."""
    points = regions.points[members]
    low, high = (int(v) for v in regions.pairs[members[0]])
    on_ink = points[near[points[:, 1], points[:, 0]] > 0]
    if not len(on_ink):
        return None
    first, second = _farthest(on_ink)
    chord = float(np.hypot(*(first - second)))
    distance = _distance_from_chord(points, first, second)
    deepest = int(distance.argmax())
    ends = ((int(first[0]), int(first[1])), (int(second[0]), int(second[1])))
    x, y = (int(v) for v in points[deepest])
    return Run((low, high), points, ends, chord, float(distance[deepest]), (x, y))


def _farthest(points: NDArray[np.int32]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the two points farthest apart (exact for the few points that touch ink)."""
    spread = points.astype(np.int64)
    if len(spread) > 300:
        spread = spread[:: len(spread) // 300 + 1]
    x, y = spread.T
    square = (x[:, None] - x) ** 2 + (y[:, None] - y) ** 2
    first, second = np.unravel_index(int(square.argmax()), square.shape)
    return spread[first].astype(np.float64), spread[second].astype(np.float64)


def _distance_from_chord(
    points: NDArray[np.int32], first: NDArray[np.float64], second: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the distances of `(n, 2)` points from the line through the ends."""
    span = second - first
    length = float(np.hypot(*span))
    offset = points - first
    if length < 1.0:
        return np.hypot(offset[:, 0], offset[:, 1])
    distance: NDArray[np.float64] = np.abs(span[0] * offset[:, 1] - span[1] * offset[:, 0]) / length
    return distance
