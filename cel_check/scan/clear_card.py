"""Clears the card away: what looks like it becomes clear cel, and dust on it too.

A pixel is card where its smoothed color is no farther from the card's than its own grain explains; paint
throws a shadow, so in a small hole the card may be a little darker all over. What is left and is as small as
dust is cleared as well, and counted.
"""

from collections.abc import Sequence
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

SHADE = 0.88
"""Share of the card's codes to which paint's shadow darkens it: a quarter of its light (a house choice)."""

_OFF_SHADE = 6.0
"""Levels within which a pixel is the card in shadow."""


@dataclass(frozen=True, eq=False)
class Cleared:
    """Which of a scan is clear cel.

    Attributes:
        clear: `(h, w)` bool.
        dust: how many specks were taken for dust.
    """

    clear: NDArray[np.bool_]
    dust: int


def clear_card(
    rgb: NDArray[np.uint8],
    card: tuple[int, int, int],
    dpi: float,
    paints: Sequence[tuple[int, int, int]] = (),
) -> Cleared:
    """Tell the clear cel of a scan from its art.

    Args:
        rgb: `(h, w, 3)` uint8 sRGB, corrected and evened.
        card: the card's sRGB.
        dpi: pixels an inch, by which dust is told from dirt.
        paints: the model's colors; one that looks like the card in shadow keeps shadow from being cleared.
    """
    smooth = cast("NDArray[np.uint8]", cv2.medianBlur(rgb, 5 if dpi >= 200 else 3))
    apart = most(cv2.absdiff(smooth, np.full_like(smooth, card)))
    near = apart < 4 * _LEAST
    grain = 1.4826 * float(np.median(apart[near][::7])) if near.any() else 0.0
    limit = max(_LEAST, _SIGMAS * grain)
    art = np.asarray(apart > limit, np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(art, connectivity=8)
    dust = stats[:, cv2.CC_STAT_AREA] < np.pi / 4 * (DUST_MM * dpi / MM_PER_INCH) ** 2
    dust[0] = True  # the card itself
    clear: NDArray[np.bool_] = dust[labels]
    _clear_shade(clear, smooth, apart, (card, 0.8 * limit), paints)
    return Cleared(clear, int(dust[1:count].sum()))


def _clear_shade(
    clear: NDArray[np.bool_],
    smooth: NDArray[np.uint8],
    apart: NDArray[np.uint8],
    terms: tuple[tuple[int, int, int], float],
    paints: Sequence[tuple[int, int, int]],
) -> None:
    """Clear the card in shadow, in place, unless a paint looks like it."""
    card, limit = terms
    own = np.array(paints, np.float32).reshape(-1, 3)
    if (off_shade(own, card) < 3 * _OFF_SHADE).any():
        return
    maybe = np.flatnonzero(~clear.ravel() & (apart.ravel() < (1 - SHADE) * max(card) + _OFF_SHADE))
    off = off_shade(smooth.reshape(-1, 3)[maybe].astype(np.float32), card)
    clear.ravel()[maybe[off < max(_OFF_SHADE, limit)]] = True


def most(channels: cv2.typing.MatLike) -> NDArray[np.uint8]:
    """Return the largest of three channels at each pixel; numpy's own maximum takes ten times as long."""
    first, second, third = cv2.split(channels)
    return cast("NDArray[np.uint8]", cv2.max(cv2.max(first, second), third))


def off_shade(colors: NDArray[np.float32], card: tuple[int, int, int]) -> NDArray[np.float32]:
    """Return how far `(n, 3)` colors lie from the card in light and in shadow, in levels."""
    own = np.array(card, np.float32)
    share = np.clip(colors @ own / max(float(own @ own), 1.0), SHADE, 1.0)
    off: NDArray[np.float32] = np.abs(colors - share[:, None] * own).max(axis=1, initial=0.0)
    return off
