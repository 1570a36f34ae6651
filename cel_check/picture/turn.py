"""Orientation: how a stored picture is turned to be shown (TIFF 6.0, tag 274; the same numbers in Exif)."""

import numpy as np

from cel_check.picture.raster import Samples

UPRIGHT = 1

WORDS = {
    2: "mirrored left to right",
    3: "turned by 180 degrees",
    4: "mirrored top to bottom",
    5: "mirrored left to right and turned left by 90 degrees",
    6: "turned right by 90 degrees",
    7: "mirrored left to right and turned right by 90 degrees",
    8: "turned left by 90 degrees",
}
"""What `upright` does for each orientation."""


def upright(pixels: Samples, orientation: int) -> Samples:
    """Return the pixels as they are shown, C-contiguous.

    Args:
        pixels: `(height, width, channels)` as stored.
        orientation: 1 to 8; 1 changes nothing, 5 to 8 swap width and height.
    """
    turned = pixels
    if orientation in (2, 4, 5, 7):
        turned = turned[::-1] if orientation == 4 else turned[:, ::-1]
    quarter_turns = {3: 2, 5: 1, 6: 3, 7: 3, 8: 1}.get(orientation, 0)
    return np.ascontiguousarray(np.rot90(turned, quarter_turns))
