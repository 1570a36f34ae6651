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


_ISLAND = 4
"""Pixels below which a thin clear place inside art is none; a pinhole of 0.5 mm has seven and is not thin."""


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
    # Four floats are a color to OpenCV, not a picture.
    apart = most(cv2.absdiff(smooth, np.array([*card, 0], np.float64)))
    limit = max(_LEAST, _SIGMAS * _grain(apart))
    _, art = cv2.threshold(apart, limit, 1, cv2.THRESH_BINARY)
    clear = np.asarray(art == 0)
    dust = _clear_dust(clear, np.asarray(art, np.uint8), np.pi / 4 * (DUST_MM * dpi / MM_PER_INCH) ** 2)
    _clear_shade(clear, smooth, apart, (card, 0.8 * limit), paints)
    _cover_islands(clear)
    return Cleared(clear, dust)


def _cover_islands(clear: NDArray[np.bool_]) -> None:
    """Count clear places of a few pixels to the art, in place: line and fill mixed may look like card.

    A hole so small is told by what lies around it (`lift`).
    """
    seen = clear.view(np.uint8)
    wide = cv2.morphologyEx(seen, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
    thin = np.asarray(cv2.subtract(seen, cv2.dilate(wide, np.ones((3, 3), np.uint8))), np.uint8)
    _, labels = cv2.connectedComponents(thin, connectivity=8)
    where = np.flatnonzero(thin.ravel())
    mine = labels.ravel()[where]
    clear.ravel()[where[np.bincount(mine)[mine] < _ISLAND]] = False


def _grain(apart: NDArray[np.uint8]) -> float:
    """Return the card's robust standard deviation, in levels: by what is near the card's color."""
    counts = cv2.calcHist([apart], [0], None, [round(4 * _LEAST)], [0, 4 * _LEAST]).ravel().cumsum()
    return 1.4826 * float(np.searchsorted(counts, counts[-1] / 2)) if counts[-1] else 0.0


def _clear_dust(clear: NDArray[np.bool_], art: NDArray[np.uint8], least: float) -> int:
    """Clear what is smaller than so many pixels, in place; return how many there were."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(art, connectivity=8)
    small = np.flatnonzero(stats[1:, cv2.CC_STAT_AREA] < least) + 1
    for x, y, w, h in stats[small, :4].tolist():
        # Whatever else reaches into its box is larger.
        window = (slice(y, y + h), slice(x, x + w))
        clear[window] |= stats[labels[window], cv2.CC_STAT_AREA] < least
    return len(small)


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
