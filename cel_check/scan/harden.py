"""Makes the rims between lines and fills hard: each soft pixel becomes whichever of the two it has more of.

A slit of two or three pixels in a line is blurred through, so that nothing in it is quite the fill's; half of
the way from line to fill is where its edges lie. Where the two sides of the line meet in it, a pixel is mixed
of three colors, and becomes line where it has more of that than of both sides.
"""

from itertools import product
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Places = NDArray[np.int64]
Real = NDArray[np.floating[Any]]

_NEAR = 7
"""Side in pixels of the window in which a soft pixel beside a line is its rim: three pixels of blur."""

_STEPS = np.arange(-8, 9)
_WINDOW = sorted(
    ((int(y), int(x)) for y in _STEPS for x in _STEPS), key=lambda step: step[0] ** 2 + step[1] ** 2
)
"""Places around a pixel in which a line has its other side, the nearest first: across a pen of 2 mm."""

_MIX = 28.0
"""Levels by which a soft pixel may be off the mix of a line and the fill beside it."""


def harden(rgb: Bytes, flat: Mask, inks: Bytes) -> None:
    """Give the soft pixels between lines and fills to one of the two, in place.

    Args:
        rgb: `(h, w, 3)` sRGB without grain; pixels of line have an ink's very color.
        flat: `(h, w)` where a fill or a broad line is, its rim left out.
        inks: `(n, 3)` the inks.
    """
    line = np.zeros(flat.shape, np.uint8)
    for ink in inks:
        cv2.bitwise_or(line, cv2.inRange(rgb, ink, ink), line)
    fill = flat & (line == 0)
    # Half a slit farther off, line has part in a pixel only from both sides.
    wide = cv2.dilate(line, np.ones((_NEAR + 2, _NEAR + 2), np.uint8))
    soft = np.flatnonzero((wide > line) & ~fill)
    if not len(soft) or not fill.any():
        return
    beside = beside_of(rgb, fill, soft).astype(np.float32)
    near = np.flatnonzero(cv2.dilate(line, np.ones((_NEAR, _NEAR), np.uint8)).ravel()[soft])
    left = np.ones(len(soft), bool)
    left[near] = _halve(rgb, (soft[near], beside[near]), inks)
    left &= _between(line, soft)
    _part(rgb, fill, (soft[left], beside[left]), inks)


def _halve(rgb: Bytes, mixed: tuple[Places, Real], inks: Bytes) -> Mask:
    """Give pixels that are mixed of line and the fill beside to one of them, in place; tell which are not."""
    where, beside = mixed
    pixels = rgb.reshape(-1, 3)
    found = pixels[where].astype(np.float32)
    least = np.full(len(where), _MIX, np.float32)
    for ink in inks.astype(np.float32):
        share, off = mix_of(found, beside, ink)
        better = off < least
        least[better] = off[better]
        pixels[where[better]] = np.where(share[:, None] >= 0.5, beside, ink)[better].astype(np.uint8)
    return np.asarray(least == _MIX)


def _between(line: Bytes, where: Places) -> Mask:
    """Return which places have line near by on two opposite sides: in a slit they have, in a hole not."""
    height, width = line.shape
    rows, columns = np.divmod(where, width)
    found = np.zeros(len(where), bool)
    for down, right in ((0, 1), (1, 0), (1, 1), (1, -1)):
        sides = np.zeros((2, len(where)), bool)
        for way, step in product((0, 1), range(1, _NEAR // 2 + 2)):
            row = np.clip(rows + (1 - 2 * way) * step * down, 0, height - 1)
            column = np.clip(columns + (1 - 2 * way) * step * right, 0, width - 1)
            sides[way] |= line[row, column] > 0
        found |= sides.all(axis=0)
    return found


def _part(rgb: Bytes, fill: Mask, mixed: tuple[Places, Real], inks: Bytes) -> None:
    """Give pixels that are mixed of line and of both of its sides to one of the three, in place.

    Args:
        rgb: `(h, w, 3)`; changed.
        fill: `(h, w)` the solid pixels.
        mixed: the places, and `(n, 3)` the color beside each.
        inks: `(n, 3)` the inks.
    """
    where, first = mixed
    second = _other_side(rgb, fill, where, first)
    known = second[:, 0] >= 0
    where, first, second = where[known], first[known], second[known]
    pixels = rgb.reshape(-1, 3)
    found = pixels[where].astype(np.float32)
    least = np.full(len(where), _MIX, np.float32)
    for ink in inks.astype(np.float32):
        one, two, off = _shares(found - ink, first - ink, second - ink)
        better = off < least
        least[better] = off[better]
        side = np.where((one >= two)[:, None], first, second)
        pixels[where[better]] = np.where((one + two >= 0.5)[:, None], side, ink)[better].astype(np.uint8)


def _other_side(rgb: Bytes, fill: Mask, where: Places, first: Real) -> Real:
    """Return `(n, 3)` the nearest solid color around each place that is another one; -1 where none is."""
    height, width = fill.shape
    rows, columns = np.divmod(where, width)
    second = np.full((len(where), 3), -1.0, np.float32)
    open_ = np.ones(len(where), bool)
    for down, right in _WINDOW:
        if not open_.any():
            break
        row, column = rows + down, columns + right
        inside = open_ & (row >= 0) & (row < height) & (column >= 0) & (column < width)
        spot = np.flatnonzero(inside)
        color = rgb[row[spot], column[spot]].astype(np.float32)
        other = fill[row[spot], column[spot]] & (np.abs(color - first[spot]).max(axis=1, initial=0) > _MIX)
        second[spot[other]] = color[other]
        open_[spot[other]] = False
    return second


def _shares(found: Real, first: Real, second: Real) -> tuple[Real, Real, Real]:
    """Return the shares of two colors in mixes of them and black, and how far off its mix each is.

    All are `(n, 3)`; the least squares of two unknowns, cut to shares that three colors can have.
    """
    aa, bb, ab = ((a * b).sum(axis=1) for a, b in ((first, first), (second, second), (first, second)))
    af, bf = (first * found).sum(axis=1), (second * found).sum(axis=1)
    size = np.maximum(aa * bb - ab * ab, 1.0)
    one, two = np.clip((af * bb - bf * ab) / size, 0, 1), np.clip((bf * aa - af * ab) / size, 0, 1)
    over = np.maximum(one + two, 1.0)
    one, two = one / over, two / over
    off = np.abs(found - one[:, None] * first - two[:, None] * second).max(axis=1, initial=0.0)
    return one, two, off


def beside_of(rgb: Bytes, solid: Mask, where: Places) -> Bytes:
    """Return the color of the solid pixel nearest to each place (flat index); some pixel must be solid."""
    bare = np.asarray(~solid).view(np.uint8)
    # What is nearest is at an edge: of those pixels there are few, of solid ones up to millions.
    edge = np.asarray(
        cv2.bitwise_and(cv2.dilate(bare, np.ones((3, 3), np.uint8)), solid.view(np.uint8)), np.uint8
    )
    if not edge.any():
        edge = np.asarray(solid).view(np.uint8)
    _, nearest = cv2.distanceTransformWithLabels(
        np.asarray(1 - edge, np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
    )
    # Each of them has a number of its own, in reading order.
    places = np.flatnonzero(edge.ravel())
    numbers = nearest.ravel()
    table = np.zeros((len(places) + 1, 3), np.uint8)
    table[numbers[places]] = rgb.reshape(-1, 3)[places]
    colors: Bytes = table[numbers[where]]
    return colors


def mix_of(found: Real, color: Real, ground: Real) -> tuple[Real, Real]:
    """Return the share (0 to 1) of a color in mixes of it and a ground, and how far off the mix each is.

    Args:
        found: `(n, 3)` levels.
        color: `(n, 3)` or `(3,)` levels.
        ground: `(3,)` levels.
    """
    full = color - ground
    share = np.clip(((found - ground) * full).sum(axis=1) / np.maximum((full**2).sum(axis=-1), 1.0), 0, 1)
    off = np.abs(found - ground - share[:, None] * np.atleast_2d(full)).max(axis=1, initial=0.0)
    return share, off
