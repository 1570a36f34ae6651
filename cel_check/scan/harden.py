"""Makes the rims between lines and fills hard: each soft pixel becomes whichever of the two it has more of.

A slit of two or three pixels in a line is blurred through, so that nothing in it is quite the fill's; half of
the way from line to fill is where its edges lie.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]
Places = NDArray[np.int64]

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
    line = np.zeros(flat.shape, bool)
    for ink in inks:
        line |= (rgb == ink).all(axis=2)
    fill = flat & ~line
    near = cv2.dilate(line.view(np.uint8), np.ones((_NEAR, _NEAR), np.uint8)) > 0
    soft = np.flatnonzero(near & ~fill & ~line)
    if not len(soft) or not fill.any():
        return
    beside = beside_of(rgb, fill, soft).astype(np.float32)
    pixels = rgb.reshape(-1, 3)
    found = pixels[soft].astype(np.float32)
    least = np.full(len(soft), _MIX, np.float32)
    for ink in inks.astype(np.float32):
        share, off = _mixed(found, beside, ink)
        better = off < least
        least[better] = off[better]
        pixels[soft[better]] = np.where(share[:, None] >= 0.5, beside, ink)[better].astype(np.uint8)


def beside_of(rgb: Bytes, solid: Mask, where: Places) -> Bytes:
    """Return the color of the solid pixel nearest to each place (flat index); some pixel must be solid."""
    _, nearest = cv2.distanceTransformWithLabels(
        (~solid).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
    )
    table = np.zeros((int(nearest.max()) + 1, 3), np.uint8)
    table[nearest[solid]] = rgb[solid]
    colors: Bytes = table[nearest.ravel()[where]]
    return colors


def _mixed(
    found: NDArray[np.float32], fills: NDArray[np.float32], ink: NDArray[np.float32]
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the share of the fill in `(n, 3)` mixes of fill and ink, and how far off the mix each is."""
    full = fills - ink
    share = np.clip(((found - ink) * full).sum(axis=1) / np.maximum((full**2).sum(axis=1), 1.0), 0, 1)
    off = np.abs(found - ink - share[:, None] * full).max(axis=1)
    return share.astype(np.float32), off.astype(np.float32)
