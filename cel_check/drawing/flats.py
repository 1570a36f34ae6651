"""Flats: connected areas of one color, found in one pass whatever the number of colors.

A pixel belongs to a flat where its right and its lower neighbor have its own color. On the left or upper side of
every change of color the pixel is dropped, so no two colors touch, and one run of connected components labels the
flats of every color at once. Blended pixels differ from their neighbors and fall out by themselves.
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb8_to_lab

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
        center: `(n, 2)` mean x, y in the array.
        solid: `(n,)` bool, True where the flat holds a block of its color (3 x 3 pixels on digital art).
        rgb: `(n, 3)` uint8 mean color.
        lab: `(n, 3)` CIE L*a*b*, D65, of that color.
        noisy: True where the picture has the noise of lossy compression.
    """

    labels: NDArray[np.int32]
    filled: NDArray[np.int32]
    area: NDArray[np.int64]
    box: NDArray[np.int32]
    center: NDArray[np.float64]
    solid: NDArray[np.bool_]
    rgb: NDArray[np.uint8]
    lab: NDArray[np.float64]
    noisy: bool


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
        rgba = cv2.medianBlur(rgba, 5)  # type: ignore[assignment]
    step = STEP_NOISY if noisy else STEP
    same = _same_as_next(rgba, step)
    same[clear > 0] = 0
    count, found, stats, center = cv2.connectedComponentsWithStats(same, connectivity=4)
    labels = cast("NDArray[np.int32]", found)
    filled = _give_back(rgba, labels, clear, step)
    side = BLOCK_NOISY if noisy else BLOCK
    block = cv2.erode(same, np.ones((side, side), np.uint8), anchor=(0, 0))
    solid = np.zeros(count, bool)
    solid[labels[block > 0]] = True
    solid[0] = False
    rgb = _mean_colors(rgba, labels, count)
    area = stats[:, cv2.CC_STAT_AREA].astype(np.int64)
    return Flats(labels, filled, area, stats[:, :4], center, solid, rgb, srgb8_to_lab(rgb), noisy)


def _same_as_next(rgba: NDArray[np.uint8], step: int) -> NDArray[np.uint8]:
    """Return 255 where a pixel differs from its right and its lower neighbor by no more than `step`."""
    low, high = (0, 0, 0, 0), (step, step, step, step)
    height, width = rgba.shape[:2]
    same = np.zeros((height, width), np.uint8)
    right = cv2.inRange(cv2.absdiff(rgba[:, 1:], rgba[:, :-1]), low, high)  # type: ignore[call-overload]
    down = cv2.inRange(cv2.absdiff(rgba[1:], rgba[:-1]), low, high)  # type: ignore[call-overload]
    cv2.bitwise_and(right[:-1], down[:, :-1], same[:-1, :-1])
    return same


def _give_back(
    rgba: NDArray[np.uint8], labels: NDArray[np.int32], clear: NDArray[np.uint8], step: int
) -> NDArray[np.int32]:
    """Give the pixels that were dropped at a flat's right and lower edge back to it, by their own color.

    Without that every flat would end a pixel early on two of its four sides, and turned art would be judged
    otherwise.
    """
    width = labels.shape[1]
    filled = labels.copy()
    flat, pixels = filled.ravel(), rgba.reshape(-1, 4)
    for back in (1, width):
        here = np.flatnonzero((flat == 0) & (clear.ravel() == 0))
        near = here - back
        # The pad keeps every step inside the array.
        candidates = flat[near] > 0
        here, near = here[candidates], near[candidates]
        apart = np.abs(pixels[here].astype(np.int16) - pixels[near]).max(axis=1, initial=0)
        alike = apart <= step
        flat[here[alike]] = flat[near[alike]]
    return filled


def _mean_colors(rgba: NDArray[np.uint8], labels: NDArray[np.int32], count: int) -> NDArray[np.uint8]:
    """Return the mean color of each label, from every fourth row and column where those meet the label."""
    flat = np.ascontiguousarray(labels[::4, ::4]).ravel()
    pixels = np.ascontiguousarray(rgba[::4, ::4, :3]).reshape(-1, 3)
    missed = np.bincount(flat, minlength=count) == 0
    if missed.any():
        there = np.flatnonzero(missed[labels])
        flat = np.concatenate([flat, labels.ravel()[there]])
        pixels = np.concatenate([pixels, rgba.reshape(-1, 4)[there, :3]])
    number = np.maximum(np.bincount(flat, minlength=count), 1)
    sums = [np.bincount(flat, weights=pixels[:, channel], minlength=count) for channel in range(3)]
    return np.rint(np.stack(sums, axis=1) / number[:, None]).astype(np.uint8)
