"""Flats: connected areas of one color, found in one pass whatever the number of colors.

A pixel belongs to a flat where its right and its lower neighbor have its own color. On the left or upper side
of every change of color the pixel is dropped, so no two colors touch, and one run of connected components
labels the flats of every color at once. Blended pixels differ from their neighbors and fall out by
themselves.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.rows import Rows, pixels_in, row_runs

STEP = 2
"""Levels (of 255) between neighbors of one flat on art that was painted digitally: rounding alone."""

STEP_NOISY = 9
"""The same on pictures with the noise of JPEG compression; neighbors of two paints differ by more."""


BLOCK = 2
"""Side of the block of core pixels that makes a flat solid: 3 x 3 pixels of one color."""

BLOCK_NOISY = 8
"""The same with the noise of lossy compression, which halves color channels over squares of this side."""


@dataclass(frozen=True, eq=False)
class Flats:
    """Every flat of a drawing, row `i` for label `i` (row 0 is no flat).

    Attributes:
        labels: `(h, w)` int32, 0 where no flat is: the cores, of which no two touch.
        filled: the same with each core's dropped right and lower pixels given back.
        area: `(n,)` pixels.
        box: `(n, 4)` x, y, width, height in the array.
        rgb: `(n, 3)` uint8 mean color.
        lab: `(n, 3)` CIE L*a*b*, D65, of that color.
        bare: `(k,)` the art's pixels that are in none, counted in reading order.
        noisy: True where the picture has the noise of lossy compression.
    """

    labels: NDArray[np.int32]
    filled: NDArray[np.int32]
    area: NDArray[np.int64]
    box: NDArray[np.int32]
    rgb: NDArray[np.uint8]
    lab: NDArray[np.float64]
    bare: NDArray[np.int64]
    noisy: bool

    @cached_property
    def rows(self) -> Rows:
        """The row runs of `filled`: `rows.spread` gives each pixel what its flat has."""
        return row_runs(self.filled)

    @cached_property
    def center(self) -> NDArray[np.float64]:
        """`(n, 2)` mean x, y of the cores in the array."""
        return row_runs(self.labels).center(len(self.area))

    def solid(self, which: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return which of some flats hold a block of their color: 3 x 3 pixels on digital art.

        Args:
            which: `(n,)` the flats to look at, few as a rule.
        """
        side = BLOCK_NOISY if self.noisy else BLOCK
        solid = np.zeros(len(which), bool)
        large = which & (self.box[:, 2:].min(axis=1) >= side)
        large[0] = False
        for label in np.flatnonzero(large).tolist():
            x, y, w, h = self.box[label].tolist()
            core = (self.labels[y : y + h, x : x + w] == label).view(np.uint8)
            # Outside its box nothing is the flat's, so no block may begin in the last row or column.
            block = cv2.erode(core, np.ones((side, side), np.uint8), anchor=(0, 0), borderValue=(0, 0, 0, 0))
            solid[label] = bool(block.any())
        return solid


def find_flats(rgba: NDArray[np.uint8], clear: NDArray[np.uint8], noisy: bool = False) -> Flats:
    """Find the flats of `(h, w, 4)` straight-alpha sRGB art.

    Args:
        rgba: the art, clear pixels zeroed.
        clear: `(h, w)` uint8, 255 where the cel is clear.
        noisy: whether the picture has the noise of lossy compression.

    Returns:
        The flats. On noisy pictures the colors are smoothed by a 5 x 5 median first.
    """
    if noisy:
        rgba = cast("NDArray[np.uint8]", cv2.medianBlur(rgba, 5))
    step = STEP_NOISY if noisy else STEP
    art = cast("NDArray[np.uint8]", cv2.bitwise_not(clear))
    left, above = _alike(rgba, step)
    same = np.zeros(art.shape, np.uint8)
    cv2.bitwise_and(left.view(np.uint8)[:-1, 1:], art[:-1, :-1], same[:-1, :-1])
    same[:-1, :-1] &= above.view(np.uint8)[1:, :-1]
    count, found = cv2.connectedComponents(same, connectivity=4)
    labels = cast("NDArray[np.int32]", found)
    filled, bare = _give_back(labels, same, art, left, above)
    rows = row_runs(labels)
    area, box = rows.area(count), rows.box(count).astype(np.int32)
    rgb = _mean_colors(rgba, labels, box)
    return Flats(labels, filled, area, box, rgb, srgb8_to_lab(rgb), bare, noisy)


def _alike(rgba: NDArray[np.uint8], step: int) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return whether a pixel differs from its left (and from its upper) neighbor by `step` at most."""
    left, above = np.zeros((2, *rgba.shape[:2]), bool)
    _within(rgba[:, 1:], rgba[:, :-1], step, left[:, 1:])
    _within(rgba[1:], rgba[:-1], step, above[1:])
    return left, above


def _within(pixels: NDArray[np.uint8], others: NDArray[np.uint8], step: int, out: NDArray[np.bool_]) -> None:
    """Tell which `(h, w, 4)` pixels differ from others by `step` at most in every channel."""
    apart = cv2.absdiff(pixels, others)
    # What differs by less becomes 0, so that all four channels are held against 0 as one word.
    cv2.threshold(apart, step, 255, cv2.THRESH_TOZERO, apart)
    np.equal(apart.view(np.uint32)[:, :, 0], 0, out=out)


def _give_back(
    labels: NDArray[np.int32],
    core: NDArray[np.uint8],
    art: NDArray[np.uint8],
    left: NDArray[np.bool_],
    above: NDArray[np.bool_],
) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """Give the pixels that were dropped at a flat's right and lower edge back to it, by their own color.

    Without that every flat would end a pixel early on two of its four sides, and turned art would be judged
    otherwise.

    Args:
        labels: `(h, w)`, 0 where no core is.
        core: `(h, w)` 1 on the cores.
        art: `(h, w)` 255 on the art.
        left: whether a pixel is like its left neighbor.
        above: whether it is like its upper neighbor.

    Returns:
        The new map, and the art's pixels that are still in no flat, counted in reading order.
    """
    filled = labels.copy()
    flat = filled.ravel()
    bare = np.flatnonzero(((art & 1) ^ core).view(np.bool_))
    for back, alike in ((1, left), (labels.shape[1], above)):
        # The first row and column are like nobody, so that no step leads round to another row.
        ours = flat[bare - back] * alike.ravel()[bare]
        flat[bare] = ours
        bare = bare[ours == 0]
    return filled, bare


def _mean_colors(
    rgba: NDArray[np.uint8], labels: NDArray[np.int32], box: NDArray[np.int32]
) -> NDArray[np.uint8]:
    """Return the mean color of each label, from every fourth row and column where those meet the label."""
    count, width = len(box), labels.shape[1]
    flat = np.ascontiguousarray(labels[::4, ::4]).ravel()
    pixels = np.ascontiguousarray(rgba.view(np.uint32)[::4, ::4, 0]).ravel()
    missed = np.flatnonzero(np.bincount(flat, minlength=count) == 0)
    if len(missed):
        there, owner = pixels_in(box[missed], width)
        mine = labels.ravel()[there] == missed[owner]
        flat = np.concatenate([flat, missed[owner[mine]]])
        pixels = np.concatenate([pixels, rgba.view(np.uint32).ravel()[there[mine]]])
    number = np.maximum(np.bincount(flat, minlength=count), 1)
    channels = pixels.view(np.uint8).reshape(-1, 4).T[:3]
    sums = [np.bincount(flat, weights=channel, minlength=count) for channel in channels]
    return np.rint(np.stack(sums, axis=1) / number[:, None]).astype(np.uint8)
