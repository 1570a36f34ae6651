"""Takes the grain out of a scan: each fill becomes one flat color, its soft rim at the card stays as scanned.

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

from cel_check.scan.clear_card import most
from cel_check.scan.harden import harden
from cel_check.scan.peaks import REACH, Colors, cells, find_colors
from cel_check.scan.punch import MM_PER_INCH

Bytes = NDArray[np.uint8]

_EVEN = 7.0
"""Levels (of 255) between neighbors, smoothed, up to which a place is even; more noise raises it."""

_LEAST_CORE = 5
"""Pixels of an even place that becomes flat; less is a crossing of soft rims."""

_JOIN = 9.0
"""Levels by which a pixel at a fill's rim may differ from it and still be its own."""

_DEEP = 16
"""Pixels that a fill grows into a slit between two ends of line at most."""

_NEAR_INK = 7.0
"""ΔE*ab from an ink within which line is that ink: a profile leaves some 2 in the dark (a house choice)."""

_SPECK_MM = 0.33
"""Diameter up to which a speck inside a fill is dust: below the smallest pinhole that matters, 0.5 mm."""


@dataclass(frozen=True, eq=False)
class Inks:
    """The model's colors `(n, 3)` uint8 sRGB, and `(n,)` which of them are ink."""

    known: Bytes
    which: NDArray[np.bool_]


NO_INKS = Inks(np.zeros((0, 3), np.uint8), np.zeros(0, bool))


@dataclass(frozen=True, eq=False)
class Own:
    """By how much each pixel's fill varies.

    Attributes:
        labels: `(h, w)` number the fills; 0 on rims.
        spreads: `(n,)` a fill's standard deviation in levels of 255, or what that is worth.
        corner: x and y of the labels in the picture.
    """

    labels: NDArray[np.int32]
    spreads: NDArray[np.float64]
    corner: tuple[int, int] = (0, 0)

    def at(self, x: int, y: int) -> float:
        """Return it at a pixel of the picture; 0 on a rim, and outside."""
        x, y = x - self.corner[0], y - self.corner[1]
        height, width = self.labels.shape
        if not (0 <= x < width and 0 <= y < height):
            return 0.0
        return float(self.spreads[self.labels[y, x]])


@dataclass(frozen=True, eq=False)
class Flattened:
    """A scan without its grain.

    Attributes:
        rgb: `(h, w, 3)` uint8 sRGB.
        flat: `(h, w)` where a fill is, its soft rim left out.
        spread: levels of 255: the median standard deviation of the fills' cores.
        own: the same of each pixel's own fill; 0 on rims.
        specks: how many specks of dust were taken off fills.
    """

    rgb: Bytes
    flat: NDArray[np.bool_]
    spread: float
    own: Own
    specks: int


def flatten(rgb: Bytes, known: Bytes, dpi: float, inks: Inks = NO_INKS) -> Flattened:
    """Take the grain out of a scan.

    Args:
        rgb: `(h, w, 3)` uint8 sRGB, corrected and evened.
        known: `(n, 3)` uint8 sRGB that may be there: the model's colors and the card.
        dpi: pixels an inch.
        inks: which of them are ink.
    """
    smooth = np.asarray(cv2.bilateralFilter(rgb, 5, 22, 2.0), np.uint8)
    change = most(cv2.morphologyEx(smooth, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8)))
    limit = max(_EVEN, 2.5 * float(np.median(change[::3, ::3])))
    _, even = cv2.threshold(change, limit, 1, cv2.THRESH_BINARY_INV)
    colors = find_colors(smooth, even.view(bool), _lab(known))
    labels = _components(_kinds(smooth, even.view(bool), colors))
    area = np.bincount(labels.ravel())
    labels = np.take(np.where(area < _LEAST_CORE, 0, np.arange(len(area), dtype=np.int32)), labels)
    mean, spread = _measured(labels, smooth)
    specks = _without_specks(labels, dpi)
    _grow(labels, mean, smooth)
    mine = labels > 0
    out = _painted(labels, _inked(np.rint(mean).astype(np.uint8), inks, _NEAR_INK))
    rim = np.flatnonzero(~mine)
    out.reshape(-1, 3)[rim] = _inked(smooth.reshape(-1, 3)[rim], inks, _NEAR_INK)
    harden(out, mine, inks.known[inks.which])
    big = np.bincount(labels.ravel(), minlength=len(spread)) > 200
    big[0] = False
    spread[0] = 0.0
    middle = float(np.median(spread[big])) if big.any() else 0.0
    return Flattened(out, mine, middle, Own(labels, spread), specks)


def _painted(labels: NDArray[np.int32], colors: Bytes) -> Bytes:
    """Return `(h, w, 3)`, at each pixel its label's color of `(n, 3)`, looked up as one word."""
    words = np.zeros((len(colors), 4), np.uint8)
    words[:, :3] = colors
    pixels = np.take(words.view(np.uint32).ravel(), labels, mode="clip").view(np.uint8)
    return np.asarray(cv2.cvtColor(pixels.reshape(*labels.shape, 4), cv2.COLOR_RGBA2RGB), np.uint8)


def _kinds(smooth: Bytes, even: NDArray[np.bool_], colors: Colors) -> NDArray[np.uint8]:
    """Return the number of each even pixel's heap, from 1; 0 where none is near."""
    kinds = np.where(colors.apart < 1.3 * REACH, colors.table + 1, 0).astype(np.uint8)
    found = np.take(kinds.ravel(), cells(smooth, 2), mode="clip")
    return np.asarray(cv2.bitwise_and(found, found, mask=even.view(np.uint8)), np.uint8)


def _inked(colors: Bytes, inks: Inks, reach: float) -> Bytes:
    """Return `(n, 3)` colors with those that are an ink's within reach made that ink, all of a line alike.

    Ink is judged by no finer measure on a scan: a line of four pixels is blurred through.
    """
    if not inks.which.any() or not len(colors):
        return colors
    lab, own = _lab(colors), _lab(inks.known)
    apart = np.stack([np.sqrt(((lab - one) ** 2).sum(axis=1)) for one in own])
    nearest = apart.argmin(axis=0)
    hit = inks.which[nearest] & (apart.min(axis=0) <= reach)
    out = colors.copy()
    out[hit] = inks.known[nearest[hit]]
    return out


def _lab(rgb: Bytes) -> NDArray[np.float32]:
    pixels = rgb.reshape(1, -1, 3).astype(np.float32) / np.float32(255)
    return np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2Lab)[0], np.float32)


def _components(kinds: NDArray[np.uint8]) -> NDArray[np.int32]:
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
    """Join pixels to the area beside them whose color they have, in place: rims, and slits without a core.

    After the first round only what lies beside a pixel that was just joined can be joined.
    """
    flat, (height, width) = labels.ravel(), labels.shape
    pixels, mean = rgb.reshape(-1, 3), mean.astype(np.float32)
    rows, columns = np.nonzero(labels[1:-1, 1:-1] == 0)
    free = (rows + 1) * width + columns + 1
    steps = np.array([-1, 1, -width, width])
    for _ in range(_DEEP):
        joined = []
        for step in steps:
            beside = flat[free + step]
            near = np.flatnonzero(beside)
            apart = np.abs(pixels[free[near]] - mean[beside[near]]).max(axis=1, initial=0)
            joins = near[apart <= _JOIN]
            joined.append(free[joins])
            flat[free[joins]] = beside[joins]
            free = np.delete(free, joins)
        new = np.concatenate(joined)
        free = np.unique(new[:, None] + steps)
        row, column = np.divmod(free, width)
        inside = (row > 0) & (row < height - 1) & (column > 0) & (column < width - 1)
        free = free[inside & (flat[free] == 0)]
        if not len(free):
            break
