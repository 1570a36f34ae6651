"""Takes the grain out of a scan: each fill becomes one flat color, its soft rim stays as it was scanned.

What comes out is like a digital painting on a card, so that every check of a drawing runs on it as it stands.
Even places that are joined and whose color belongs to one heap (`peaks`) are one fill; a fill's color is the
mean of its core, away from its rim, and its spread tells how sure that is. Rims and thin lines, which have no
even core, are smoothed with their edges kept (Tomasi and Manduchi, "Bilateral filtering", ICCV 1998).
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.scan.peaks import REACH, find_colors
from cel_check.scan.punch import MM_PER_INCH

Bytes = NDArray[np.uint8]

_EVEN = 7.0
"""Levels (of 255) between neighbors, smoothed, up to which a place is even; more noise raises it."""

_LEAST_CORE = 5
"""Pixels of an even place that becomes flat; less is a crossing of soft rims."""

_JOIN = 9.0
"""Levels by which a pixel at a fill's rim may differ from it and still be its own."""

_SPECK_MM = 0.33
"""Diameter up to which a speck inside a fill is dust: below the smallest pinhole that matters, 0.5 mm."""


@dataclass(frozen=True, eq=False)
class Flattened:
    """A scan without its grain.

    Attributes:
        rgb: `(h, w, 3)` uint8 sRGB.
        flat: `(h, w)` where a fill is, its soft rim left out.
        spread: levels of 255: the median standard deviation of the fills' cores.
        specks: how many specks of dust were taken off fills.
    """

    rgb: Bytes
    flat: NDArray[np.bool_]
    spread: float
    specks: int


def flatten(rgb: Bytes, known: Bytes, dpi: float) -> Flattened:
    """Take the grain out of a scan.

    Args:
        rgb: `(h, w, 3)` uint8 sRGB, corrected and evened.
        known: `(n, 3)` uint8 sRGB that may be there: the model's colors and the card.
        dpi: pixels an inch.
    """
    smooth = cast("Bytes", cv2.bilateralFilter(rgb, 5, 22, 2.0))
    change = cast("Bytes", cv2.morphologyEx(smooth, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))).max(
        axis=2
    )
    even = change <= max(_EVEN, 2.5 * float(np.median(change)))
    colors = find_colors(smooth, even, _lab(known))
    r, g, b = cv2.split(smooth >> 2)
    sure = even & (colors.apart[r, g, b] < 1.3 * REACH)
    kinds = np.where(sure, colors.table[r, g, b].astype(np.int32) + 1, 0)
    labels = _components(kinds)
    area = np.bincount(labels.ravel())
    labels[area[labels] < _LEAST_CORE] = 0
    mean, spread = _measured(labels, smooth)
    specks = _without_specks(labels, dpi)
    _grow(labels, mean, smooth)
    out = smooth.copy()
    mine = labels > 0
    out[mine] = np.rint(mean).astype(np.uint8)[labels[mine]]
    big = np.bincount(labels.ravel(), minlength=len(spread)) > 200
    big[0] = False
    return Flattened(out, mine, float(np.median(spread[big])) if big.any() else 0.0, specks)


def _lab(rgb: Bytes) -> NDArray[np.float32]:
    pixels = rgb.reshape(1, -1, 3).astype(np.float32) / np.float32(255)
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2Lab)[0], np.float32)


def _components(kinds: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return a number for each connected area of one kind, 0 where none is (4-connected).

    On the left or upper side of every change of kind the pixel is dropped, so one run labels all kinds.
    """
    same = (kinds > 0).astype(np.uint8)
    same[:, :-1] &= ((kinds[:, :-1] == kinds[:, 1:]) | (kinds[:, 1:] == 0)).view(np.uint8)
    same[:-1] &= ((kinds[:-1] == kinds[1:]) | (kinds[1:] == 0)).view(np.uint8)
    _, labels = cv2.connectedComponents(same, connectivity=4)
    return cast("NDArray[np.int32]", labels)


def _measured(labels: NDArray[np.int32], rgb: Bytes) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return each area's `(n, 3)` mean code, and the `(n,)` spread of its green."""
    flat = labels.ravel()
    count = np.maximum(np.bincount(flat), 1)
    channels = [rgb[:, :, c].ravel().astype(np.float64) for c in range(3)]
    mean = np.stack([np.bincount(flat, weights=channel) / count for channel in channels], axis=1)
    square = np.bincount(flat, weights=channels[1] ** 2) / count
    return mean, np.sqrt(np.maximum(square - mean[:, 1] ** 2, 0.0))


def _without_specks(labels: NDArray[np.int32], dpi: float) -> int:
    """Give specks that lie wholly inside one area to it, in place; return how many."""
    bare = (labels == 0).astype(np.uint8)
    _, found, stats, _ = cv2.connectedComponentsWithStats(bare, connectivity=8)
    # A soft rim of a pixel all round belongs to the speck.
    most = np.pi / 4 * (_SPECK_MM * dpi / MM_PER_INCH + 2.0) ** 2
    taken = 0
    for speck in np.flatnonzero(stats[:, cv2.CC_STAT_AREA] < most).tolist():
        x, y, w, h = stats[speck, :4].tolist()
        window = (slice(max(0, y - 1), y + h + 1), slice(max(0, x - 1), x + w + 1))
        mine = found[window] == speck
        around = np.unique(labels[window][cv2.dilate(mine.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0])
        around = around[around > 0]
        if speck and len(around) == 1:
            labels[window][mine] = around[0]
            taken += 1
    return taken


def _grow(labels: NDArray[np.int32], mean: NDArray[np.float64], rgb: Bytes) -> None:
    """Join pixels to the area beside them whose color they have, in place; twice, for two pixels of rim."""
    flat, width = labels.ravel(), labels.shape[1]
    pixels = rgb.reshape(-1, 3)
    for _ in range(2):
        inner = labels[1:-1, 1:-1] == 0
        rows, columns = np.nonzero(inner)
        free = (rows + 1) * width + columns + 1
        for step in (-1, 1, -width, width):
            beside = flat[free + step]
            apart = np.abs(pixels[free] - mean[beside]).max(axis=1, initial=0)
            joins = (beside > 0) & (apart <= _JOIN)
            flat[free[joins]] = beside[joins]
            free = free[~joins]
