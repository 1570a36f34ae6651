"""Finds the patches of a chart in a picture: flat squares of about one size that stand in a grid.

A patch is an even area with a rim around it. Even areas are found at several strengths of rim, so that dark
ones on a dark mount and light ones on paper are both seen; what is square enough is a candidate. A grid then
grows from each candidate to its neighbors, a step at a time, with the step taken from the places themselves:
that follows skew and perspective. Sizes are pixels of the picture that is given (the caller shrinks it).
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

Spot = NDArray[np.float64]

_RIMS = (4, 8, 14, 24, 40)
"""Levels (of 255) that a pixel differs from its neighbors at a patch's rim, from faint to strong."""

_LEAST_SIDE, _MOST_SHARE = 7.0, 0.04
"""A patch's side in pixels, and its share of the picture: 24 patches and their rims fill it at most."""

_SQUARE = 0.78
"""Share of its tightest upright or turned rectangle that a patch fills, at least."""

_LONGEST = 1.45
"""A patch's longer side over its shorter one: the rim's blur and perspective make rectangles of squares."""

_SIZES = 1.8
"""Areas of neighbors in a grid differ by this factor at most."""

_STEP = (1.0, 2.2)
"""The pitch of the grid in sides of a patch."""

_OFF = 0.25
"""How far from where the grid expects it a patch may lie, in pitches."""


@dataclass(frozen=True)
class Grid:
    """Patches that stand in a grid.

    Attributes:
        cells: `(n, 2)` column and row of each patch, from anywhere; columns run clockwise to rows.
        spots: `(n, 2)` x, y of the patches' middles.
    """

    cells: NDArray[np.int64]
    spots: Spot


@dataclass(frozen=True)
class _Candidates:
    spots: Spot
    area: NDArray[np.float64]


def find_grid(rgb: NDArray[np.uint8]) -> Grid:
    """Return the grid with the most patches in an `(h, w, 3)` uint8 picture; empty where there is none."""
    found = _candidates(rgb)
    best = Grid(np.zeros((0, 2), np.int64), np.zeros((0, 2)))
    seen: set[int] = set()
    for seed in range(len(found.spots)):
        if seed in seen:
            continue
        grown = _grow(found, seed)
        if len(grown) > len(best.cells):
            members = list(grown)
            best = Grid(np.array([grown[m] for m in members], np.int64), found.spots[members])
            seen |= grown.keys()
    return best


def _candidates(rgb: NDArray[np.uint8]) -> _Candidates:
    smooth = cv2.medianBlur(rgb, 3)
    rim = cv2.morphologyEx(smooth, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)).max(axis=2)
    spots: list[tuple[float, float]] = []
    area: list[float] = []
    for strength in _RIMS:
        for x, y, size in _squares(np.asarray(rim <= strength, np.uint8)):
            if not _known(spots, area, (x, y), size):
                spots.append((x, y))
                area.append(size)
    return _Candidates(np.array(spots).reshape(-1, 2), np.array(area))


def _known(
    spots: list[tuple[float, float]], area: list[float], spot: tuple[float, float], size: float
) -> bool:
    if not spots:
        return False
    apart = np.hypot(*(np.array(spots) - spot).T)
    return bool((apart < 0.4 * np.sqrt(np.maximum(size, area))).any())


def _squares(even: NDArray[np.uint8]) -> list[tuple[float, float, float]]:
    """Return x, y and area of the even areas that are square enough."""
    most = _MOST_SHARE * even.size
    count, labels, stats, _ = cv2.connectedComponentsWithStats(even, connectivity=4)
    found = []
    for label in range(1, count):
        x, y, w, h, area = (int(v) for v in stats[label])
        if not _LEAST_SIDE**2 <= area <= most or max(w, h) > 2.2 * min(w, h):
            continue
        mask = np.asarray(labels[y : y + h, x : x + w] == label, np.uint8)
        contours, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
        (cx, cy), (a, b), _ = cv2.minAreaRect(contours[0])
        if _fits(area, a + 1.0, b + 1.0):
            found.append((x + cx, y + cy, (a + 1.0) * (b + 1.0)))
    return found


def _fits(area: float, a: float, b: float) -> bool:
    return max(a, b) <= _LONGEST * min(a, b) and area >= _SQUARE * a * b


def _grow(found: _Candidates, seed: int) -> dict[int, tuple[int, int]]:
    """Return the candidates that stand in one grid with `seed`, each with its column and row."""
    basis = _basis(found, seed)
    if basis is None:
        return {}
    placed = {seed: (0, 0)}
    taken = {(0, 0)}
    steps = {seed: basis}
    queue = [seed]
    while queue:
        here = queue.pop(0)
        for (column, row), step in _ways(steps[here]):
            cell = (placed[here][0] + column, placed[here][1] + row)
            there = _nearest(found, found.spots[here] + step, here, float(np.hypot(*step)))
            if there is None or there in placed or cell in taken or max(map(abs, cell)) > 5:
                continue
            placed[there] = cell
            taken.add(cell)
            steps[there] = _bent(steps[here], found.spots[there] - found.spots[here], (column, row))
            queue.append(there)
    return placed


def _ways(basis: Spot) -> tuple[tuple[tuple[int, int], Spot], ...]:
    right, down = basis
    return ((1, 0), right), ((-1, 0), -right), ((0, 1), down), ((0, -1), -down)


def _bent(basis: Spot, step: Spot, way: tuple[int, int]) -> Spot:
    """Return the steps that hold further on: halfway to the one that was really made."""
    bent = basis.copy()
    axis = 0 if way[0] else 1
    bent[axis] = 0.5 * bent[axis] + 0.5 * step * (way[0] + way[1])
    return bent


def _basis(found: _Candidates, seed: int) -> Spot | None:
    """Return the steps to a candidate's neighbors, to the right and down as the grid is turned."""
    step = found.spots - found.spots[seed]
    length = np.hypot(step[:, 0], step[:, 1])
    side = np.sqrt(found.area[seed])
    ratio = found.area / found.area[seed]
    near = (length > _STEP[0] * side) & (length < _STEP[1] * side) & (ratio < _SIZES) & (ratio > 1 / _SIZES)
    order = [int(n) for n in np.argsort(length) if near[n]]
    if not order:
        return None
    first = step[order[0]]
    for other in order[1:]:
        second = step[other]
        lengths = float(np.hypot(*first)), float(np.hypot(*second))
        cosine = float(first @ second) / (lengths[0] * lengths[1])
        if abs(cosine) < 0.35 and max(lengths) < 1.35 * min(lengths):
            turn = float(first[0] * second[1] - first[1] * second[0])
            return np.array([first, second if turn > 0 else -second])
    return None


def _nearest(found: _Candidates, spot: Spot, like: int, pitch: float) -> int | None:
    apart = np.hypot(*(found.spots - spot).T)
    ratio = found.area / found.area[like]
    apart[(ratio > _SIZES) | (ratio < 1 / _SIZES)] = np.inf
    best = int(apart.argmin())
    return best if apart[best] <= _OFF * pitch else None


def shrunk(rgb: NDArray[np.uint8], longest: int) -> tuple[NDArray[np.uint8], float]:
    """Return a picture at most `longest` pixels long, and the factor it was shrunk by (1 at most)."""
    scale = min(1.0, longest / max(rgb.shape[:2]))
    if scale == 1.0:
        return np.ascontiguousarray(rgb), 1.0
    size = (max(1, round(rgb.shape[1] * scale)), max(1, round(rgb.shape[0] * scale)))
    return cast("NDArray[np.uint8]", cv2.resize(rgb, size, interpolation=cv2.INTER_AREA)), scale
