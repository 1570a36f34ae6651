"""Finds the 24-patch chart in a scan, in any quarter turn and slight skew, by its grid and its colors.

The grid alone (`quads`) says where patches are; which of them is the dark skin, and whether it is a chart at
all, is told by their colors: of every way to lay the chart over the grid, that one is right whose colors come
nearest to the reference after the best affine map, which takes out the scanner's cast and contrast.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb8_to_lab
from cel_check.scan.chart import COLUMNS, PATCHES, ROWS, Chart
from cel_check.scan.quads import Grid, find_grid, shrunk

_LONGEST = (1100, 600)
"""Pixels of the longer side at which the grid is looked for: paper grain and noise are gone there."""

_LEAST_PATCHES = 15
"""Patches that must stand in the grid; the places of the others follow from them."""

_MOST_APART = 14.0
"""Root mean square ΔE*ab of a chart's colors after the affine map, for it to be one (measured: a chart at
most 8 with strong cast and a covered patch, a chart laid the wrong way 18 at least)."""


@dataclass(frozen=True, eq=False)
class Found:
    """Where the chart lies.

    Attributes:
        place: `(3, 3)` homography from column (0 to 5) and row (0 to 3) of a patch to x, y of its middle in
            the whole picture.
        patches: how many patches the grid itself showed; 24 where a person gave the corners.
    """

    place: NDArray[np.float64]
    patches: int

    def spots(self) -> NDArray[np.float64]:
        """Return the patches' middles, `(24, 2)` x, y, in the chart's order."""
        cells = np.array([[[c, r] for r in range(ROWS) for c in range(COLUMNS)]], np.float64)
        spots: NDArray[np.float64] = cv2.perspectiveTransform(cells, self.place)[0].astype(np.float64)
        return spots


@dataclass(frozen=True)
class NotFound:
    """Why no chart was found.

    Attributes:
        patches: how many even squares stood in one grid.
        mirrored: True where a chart is there, but the picture is a mirror image.
    """

    patches: int
    mirrored: bool = False


def find_chart(rgb: NDArray[np.uint8], chart: Chart) -> Found | NotFound:
    """Find the chart in `(h, w, 3)` uint8 sRGB.

    Args:
        rgb: the scan, not yet corrected.
        chart: the reference, whose colors tell which way the chart lies.
    """
    most = 0
    mirrored = False
    for longest in _LONGEST:
        small, scale = shrunk(rgb, longest)
        grid = find_grid(small)
        most = max(most, len(grid.cells))
        if len(grid.cells) < _LEAST_PATCHES:
            continue
        found = _laid(small, grid, chart)
        if isinstance(found, Found):
            back = np.diag([1.0 / scale, 1.0 / scale, 1.0])
            shift = np.array([[1.0, 0, 0.5], [0, 1.0, 0.5], [0, 0, 1.0]])  # pixel middles are at half pixels
            return Found(np.linalg.inv(shift) @ back @ shift @ found.place, found.patches)
        mirrored |= found.mirrored
    return NotFound(min(most, PATCHES), mirrored)


def chart_at(corners: NDArray[np.float64]) -> Found:
    """Return the chart whose corner patches' middles a person gave.

    Args:
        corners: `(4, 2)` x, y of the middles of dark skin, bluish green, black and white: clockwise from the
            chart's top left.
    """
    cells = np.array([[0, 0], [COLUMNS - 1, 0], [COLUMNS - 1, ROWS - 1], [0, ROWS - 1]], np.float32)
    place = cv2.getPerspectiveTransform(cells, corners.astype(np.float32))
    return Found(np.asarray(place, np.float64), PATCHES)


def _laid(small: NDArray[np.uint8], grid: Grid, chart: Chart) -> Found | NotFound:
    """Lay the chart over a grid in every way and keep the one whose colors fit."""
    best: tuple[float, bool, Found] | None = None
    for cells, mirror in _ways(grid):
        inside = ((cells >= 0) & (cells < (COLUMNS, ROWS))).all(axis=1)
        if inside.sum() < _LEAST_PATCHES:
            continue
        place, _ = cv2.findHomography(cells[inside].astype(np.float64), grid.spots[inside], cv2.RANSAC, 3.0)
        if place is None:
            continue
        found = Found(np.asarray(place, np.float64), int(inside.sum()))
        apart = _apart(small, found, chart)
        if best is None or apart < best[0]:
            best = (apart, mirror, found)
    if best is None or best[0] > _MOST_APART:
        return NotFound(len(grid.cells))
    return NotFound(len(grid.cells), mirrored=True) if best[1] else best[2]


def _ways(grid: Grid) -> Iterator[tuple[NDArray[np.int64], bool]]:
    """Yield the grid's cells in all four quarter turns, plain and mirrored, at every shift that may fit."""
    for mirror in (False, True):
        cells = grid.cells * (np.array([-1, 1]) if mirror else 1)
        for _ in range(4):
            cells = np.stack([-cells[:, 1], cells[:, 0]], axis=1)
            low, high = cells.min(axis=0), cells.max(axis=0)
            spare = np.maximum(0, np.abs(high - low + 1 - (COLUMNS, ROWS)))
            for right in range(-int(spare[0]), int(spare[0]) + 1):
                for down in range(-int(spare[1]), int(spare[1]) + 1):
                    yield cells - low + (right, down), mirror


def _apart(small: NDArray[np.uint8], found: Found, chart: Chart) -> float:
    """Return how far the colors under a chart are from its reference, whatever the scanner's cast."""
    spots = np.rint(found.spots()).astype(int)
    height, width = small.shape[:2]
    if not ((spots >= 1).all() and (spots[:, 0] < width - 1).all() and (spots[:, 1] < height - 1).all()):
        return float("inf")
    colors = np.array([np.median(small[y - 1 : y + 2, x - 1 : x + 2], axis=(0, 1)) for x, y in spots])
    terms = np.column_stack([srgb8_to_lab(colors.astype(np.uint8)), np.ones(PATCHES)])
    fit, *_ = np.linalg.lstsq(terms, chart.lab, rcond=None)
    square = ((terms @ fit - chart.lab) ** 2).sum(axis=1)
    return float(np.sqrt(np.sort(square)[:-1].mean()))  # one patch may be covered: that is said later
