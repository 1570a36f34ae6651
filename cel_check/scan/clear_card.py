"""Clears the card away: what looks like it becomes clear cel, and dust on it too.

A pixel is card where its smoothed color is no farther from the card's than its own grain explains. What
is left and is as small as dust is cleared as well, and counted.
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.scan.punch import MM_PER_INCH

DUST_MM = 0.33
"""Diameter up to which a speck on clear cel is dust: two pixels of 1920 over a 12 field (a house choice)."""

_LEAST, _SIGMAS = 5.0, 5.0
"""Levels (of 255), and robust standard deviations of the card's grain, within which a pixel is card."""


@dataclass(frozen=True, eq=False)
class Cleared:
    """Which of a scan is clear cel.

    Attributes:
        clear: `(h, w)` bool.
        dust: how many specks were taken for dust.
    """

    clear: NDArray[np.bool_]
    dust: int


def clear_card(rgb: NDArray[np.uint8], card: tuple[int, int, int], dpi: float) -> Cleared:
    """Tell the clear cel of a scan from its art.

    Args:
        rgb: `(h, w, 3)` uint8 sRGB, corrected and evened.
        card: the card's sRGB.
        dpi: pixels an inch, by which dust is told from dirt.
    """
    smooth = cast("NDArray[np.uint8]", cv2.medianBlur(rgb, 5 if dpi >= 200 else 3))
    apart = cv2.absdiff(smooth, np.full_like(smooth, card)).max(axis=2)
    near = apart < 4 * _LEAST
    grain = 1.4826 * float(np.median(apart[near])) if near.any() else 0.0
    art = np.asarray(apart > max(_LEAST, _SIGMAS * grain), np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(art, connectivity=8)
    dust = stats[:, cv2.CC_STAT_AREA] < np.pi / 4 * (DUST_MM * dpi / MM_PER_INCH) ** 2
    dust[0] = True  # the card itself
    clear: NDArray[np.bool_] = dust[labels]
    return Cleared(clear, int(dust[1:count].sum()))
