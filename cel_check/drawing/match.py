"""Colors held against a palette: the nearest model color, and whether it is within tolerance."""

import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.model.colormodel import Palette

NONE = -1
"""The index of a color that no model color matches within tolerance."""

FILL_SLACK = 1.0
"""ΔE00 that the noise of lossy compression moves the mean color of a fill at most."""

LINE_SLACK = 8.0
"""ΔE00 that it moves a thin line's color at most, mostly by halved channels."""


def distances(lab: NDArray[np.float64], palette: Palette) -> NDArray[np.float64]:
    """Return the `(n, colors)` CIEDE2000 differences between `(n, 3)` Lab D65 colors and a palette's."""
    model = np.array([color.lab for color in palette.colors], np.float64)
    return ciede2000(lab[:, None, :], model[None, :, :])


def nearest_colors(
    lab: NDArray[np.float64], palette: Palette, slack: float = 0.0
) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Match colors to the palette.

    Args:
        lab: `(n, 3)` CIE L*a*b*, D65.
        palette: the colors of the level.
        slack: ΔE00 allowed beyond each color's tolerance, for what a picture's noise does to it.

    Returns:
        `(n,)` indices of the model color within tolerance (the one with the least share of its tolerance
        used), or `NONE`; and the `(n, colors)` ΔE00 table.
    """
    table = distances(lab, palette)
    allowed = np.array([color.tolerance + slack for color in palette.colors])
    used = table / allowed
    best = used.argmin(axis=1)
    within = used[np.arange(len(lab)), best] <= 1.0
    return np.where(within, best, NONE), table
