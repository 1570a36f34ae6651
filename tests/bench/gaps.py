"""A line that does not close: a short stretch of an ink line between two different sides is taken out.

The two sides meet in the middle of the gap, as paint does that was filled up to where the line should be.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from cases import Case
from numpy.typing import NDArray
from shapes import Mask, Share, distance, inked, labels_of, seen_apart
from skimage.morphology import skeletonize

Spots = NDArray[np.float64]

MARGIN = 4.0
"""Pixels of plain line that a gap has past its pen's width at both ends."""

NARROWEST = 0.25
"""Widths of the line that a gap is long at least: no pen leaves a slit of 3 px across a line of 30."""

FARTHEST = 3.0
"""Pixels past the line at which its two sides are looked at."""


@dataclass(frozen=True, eq=False)
class LineGap:
    """A gap in a line: `share` 0 to 1 of the line is gone, `first` 0 to 1 of that becomes the first side.

    Attributes:
        sides: the labels of the two sides: paints (index + 1), 0 the clear cel or the card; or parts.
        length: along the line, px.
        width: of the line, px.
    """

    sides: tuple[int, int]
    length: float
    width: float
    share: Share
    first: Share


@dataclass(frozen=True, eq=False)
class Lines:
    """A cel's lines, measured once: ink (half and any), bones, half widths, labels of all pixels."""

    ink: Mask
    any_ink: Mask
    bones: Mask
    half: NDArray[np.float32]
    labels: NDArray[np.int32]
    crisp: bool


def line_gap(case: Case, rng: np.random.Generator, wanted: float = 0.0) -> LineGap | None:
    """Find a plain stretch of line between two sides, and take 2 to 12 px or 0.5 to 3 of its widths out.

    `wanted` is a length in px instead, 0 for none.
    """

    def can_part(sides: tuple[int, int], width: float) -> bool:
        return _can_part(case, sides)

    return gap_between(rng, lines_of(case, labels_of(case)), can_part, wanted)


def lines_of(case: Case, labels: NDArray[np.int32]) -> Lines:
    """Measure a cel's lines; `labels` tells what lies on their sides, less than 0 nothing that counts."""
    ink = case.ink.max(axis=0) >= 128
    return Lines(ink, case.ink.max(axis=0) > 0, skeletonize(ink), distance(ink), labels, case.style.crisp)


def gap_between(
    rng: np.random.Generator,
    lines: Lines,
    can_part: Callable[[tuple[int, int], float], bool],
    wanted: float = 0.0,
) -> LineGap | None:
    """Find a plain stretch of line between sides that may be parted by a line of this width."""
    rows, columns = np.nonzero(lines.bones)
    in_pens, pixels, pens = bool(rng.random() < 0.5), rng.uniform(2, 12), rng.uniform(0.5, 3)
    for _ in range(80 if len(rows) else 0):
        index = int(rng.integers(len(rows)))
        spot = int(rows[index]), int(columns[index])
        width = 2.0 * float(lines.half[spot])
        length = max(2.0, NARROWEST * width, wanted or (pens * width if in_pens else pixels))
        path = _plain_path(lines, spot, length / 2 + width + MARGIN)
        sides = None if path is None else _sides(lines, path, width)
        if path is None or sides is None or not can_part(sides, width):
            continue
        gone = np.array([along for along in path if abs(along[0]) <= length / 2])[:, 1:]
        if _is_straight(gone, path, length):
            return _gap(lines, (gone, sides), length, width)
    return None


def _can_part(case: Case, sides: tuple[int, int]) -> bool:
    """Tell whether the eye tells the two sides apart, and neither has the color of a line."""
    first, second = max(sides), min(sides)
    return (
        first != second
        and seen_apart(case, first - 1, second)
        and not inked(case, first)
        and not inked(case, second)
    )


def _plain_path(lines: Lines, spot: tuple[int, int], reach: float) -> Spots | None:
    """Return `(n, 3)` length from the spot along the line (signed), row, column; None near forks and ends."""
    ways = [list(_steps(lines.bones, spot, start, reach)) for start in _beside(lines.bones, spot)]
    if len(ways) != 2 or any(not way or way[-1][0] < reach - 1.5 for way in ways):
        return None
    path = np.array([(-s, r, c) for s, r, c in ways[0][::-1]] + [(0.0, *spot)] + ways[1])
    half = lines.half[path[:, 1].astype(int), path[:, 2].astype(int)]
    return path if half.max() <= 1.3 * np.median(half) + 0.5 and half.min() >= 0.6 * np.median(half) else None


def _is_straight(gone: Spots, path: Spots, length: float) -> bool:
    """Tell whether the two ends of line face each other: nearly in line, the gap hardly bent."""
    if len(gone) < 2:
        return False
    span = gone[-1] - gone[0]
    chord = float(np.hypot(*span))
    off = np.abs(span[0] * (gone[:, 1] - gone[0, 1]) - span[1] * (gone[:, 0] - gone[0, 0])) / max(chord, 1e-9)
    ends = [path[-1, 1:] - gone[-1], gone[0] - path[0, 1:]]
    turn = float(ends[0] @ ends[1]) / max(1e-9, float(np.hypot(*ends[0]) * np.hypot(*ends[1])))
    return bool(off.max() <= 1.0 + 0.12 * length and turn >= 0.8)


def _beside(bones: Mask, spot: tuple[int, int]) -> list[tuple[int, int]]:
    """Return the bone pixels beside one; of a corner's three, the diagonal one is left out."""
    row, column = spot
    near = [
        (r, c)
        for r in range(max(row - 1, 0), min(row + 2, bones.shape[0]))
        for c in range(max(column - 1, 0), min(column + 2, bones.shape[1]))
        if bones[r, c] and (r, c) != spot
    ]
    straight = [at for at in near if at[0] == row or at[1] == column]
    rest = [at for at in near if at not in straight]
    return straight + [at for at in rest if not any(_touch(at, other) for other in straight)]


def _touch(first: tuple[int, int], second: tuple[int, int]) -> bool:
    return max(abs(first[0] - second[0]), abs(first[1] - second[1])) <= 1


def _steps(
    bones: Mask, spot: tuple[int, int], start: tuple[int, int], reach: float
) -> Iterator[tuple[float, int, int]]:
    """Walk one way along a bone, yielding length, row, column; stops at forks and ends."""
    before, here, length = spot, start, 0.0
    while True:
        length += float(np.hypot(here[0] - before[0], here[1] - before[1]))
        if length > reach:
            return
        yield length, *here
        ahead = [at for at in _beside(bones, here) if at != before and not _touch(at, before)]
        if len(ahead) != 1:
            return
        before, here = here, ahead[0]


def _sides(lines: Lines, path: Spots, width: float) -> tuple[int, int] | None:
    """Return the labels on the two sides of a path; None where they change along it."""
    seen: list[tuple[int, int]] = []
    for share in (0.0, 0.25, 0.5, 0.75, 1.0):
        index = int(share * (len(path) - 1))
        low, high = path[max(0, index - 4), 1:], path[min(len(path) - 1, index + 4), 1:]
        tangent = (high - low) / max(1e-9, float(np.hypot(*(high - low))))
        normal = np.array([-tangent[1], tangent[0]])
        out = [path[index, 1:] + way * normal * (width / 2 + FARTHEST) for way in (1.0, -1.0)]
        at = np.clip(np.rint(out).astype(int), 0, np.array(lines.labels.shape) - 1)
        seen.append((int(lines.labels[tuple(at[0])]), int(lines.labels[tuple(at[1])])))
    return seen[0] if len(set(seen)) == 1 and min(seen[0]) >= 0 else None


def _gap(lines: Lines, place: tuple[Spots, tuple[int, int]], length: float, width: float) -> LineGap:
    """Shape the gap: the pixels of line whose nearest bone is gone, softened at the ends unless crisp."""
    gone, sides = place
    _, nearest = cv2.distanceTransformWithLabels(
        (~lines.bones).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    rows, columns = gone.astype(int).T
    share = np.isin(nearest, nearest[rows, columns]).astype(np.float64)
    far = [distance(lines.labels != side) for side in sides]
    first = np.clip((far[1] - far[0]) / 2 + 0.5, 0, 1).astype(np.float64)
    if lines.crisp:
        first = np.asarray((first >= 0.5) * 1.0)
    else:
        share = np.asarray(cv2.blur(share, (3, 3)))
    # The line's blended rim goes with it, and what a paint left under that rim.
    near = cv2.dilate(lines.any_ink.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    return LineGap(sides, length, width, np.where(near, share, 0.0), first)
