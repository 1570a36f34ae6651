"""Makes the rims between lines and fills hard: each soft pixel becomes whichever of the two it has more of.

A slit of two or three pixels in a line is blurred through, so that nothing in it is quite the fill's; half of
the way from line to fill is where its edges lie.
"""

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
    near = cv2.dilate(line, np.ones((_NEAR, _NEAR), np.uint8))
    soft = np.flatnonzero((near > line) & ~fill)
    if not len(soft) or not fill.any():
        return
    beside = beside_of(rgb, fill, soft).astype(np.float32)
    pixels = rgb.reshape(-1, 3)
    found = pixels[soft].astype(np.float32)
    least = np.full(len(soft), _MIX, np.float32)
    for ink in inks.astype(np.float32):
        share, off = mix_of(found, beside, ink)
        better = off < least
        least[better] = off[better]
        pixels[soft[better]] = np.where(share[:, None] >= 0.5, beside, ink)[better].astype(np.uint8)


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
