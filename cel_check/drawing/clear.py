"""Which pixels of a picture are clear cel, and which rectangle holds the art.

A digital cel with alpha is clear where alpha is (nearly) nothing. A picture without alpha was laid on a card:
its border tells the card's color, and what is joined to the border in that color is clear.
"""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.match import nearest_colors
from cel_check.drawing.noise import is_noisy
from cel_check.model.colormodel import Palette
from cel_check.picture.picture import Picture

CLEAR_ALPHA = 8
"""Below this alpha (of 255) nobody sees anything: 3 % of a paint over its background."""

PAD = 3
"""Clear pixels kept around the art, so that every neighborhood stays inside the arrays."""

CARD_SHARE = 0.55
"""Share of the border that one color must fill to be the card."""

CARD_STEP = 6
"""Levels (of 255) by which a card's pixels may differ from its color."""

CARD_STEP_NOISY = 14
"""The same with the noise of lossy compression."""


@dataclass(frozen=True, eq=False)
class Ground:
    """The art's rectangle, cut out and padded.

    Attributes:
        rgba: `(h, w, 4)` uint8, the art with `PAD` clear pixels around it; all four channels 0 where clear.
        clear: `(h, w)` uint8, 255 where clear.
        origin: x, y of the array's first pixel in the picture (negative inside the pad).
        size: width, height of the picture.
        card: the card's color where the picture has no alpha; None on a clear cel.
        empty: True where nothing is on the cel at all.
        noisy: True where the picture has the noise of lossy compression.
        per_mm: pixels a millimeter of a scan; 0 on digital paintings, which have no size on paper.
    """

    rgba: NDArray[np.uint8]
    clear: NDArray[np.uint8]
    origin: tuple[int, int]
    size: tuple[int, int]
    card: tuple[int, int, int] | None
    empty: bool
    noisy: bool = False
    per_mm: float = 0.0


def ground_of(picture: Picture, palette: Palette) -> Ground:
    """Cut the art out of a picture.

    Args:
        picture: the cel.
        palette: its colors, which tell a card from a paint where a picture has no alpha.

    Returns:
        The art's rectangle; `empty` with a rectangle of pad only, where there is none.
    """
    card = card_color(picture.rgba) if picture.opaque else None
    noisy = is_noisy(picture.rgba, picture.visible)
    x, y, w, h = picture.visible
    if card is None:
        alpha = cv2.extractChannel(picture.rgba[y : y + h, x : x + w], 3) if w else np.zeros((1, 1), np.uint8)
        _, solid = cv2.threshold(alpha, CLEAR_ALPHA - 1, 255, cv2.THRESH_BINARY)
    else:
        solid = _not_card(picture.rgba, card, palette, noisy)
    left, top, w, h = cv2.boundingRect(solid)
    size = (picture.width, picture.height)
    if w == 0 or h == 0:
        blank = np.zeros((2 * PAD, 2 * PAD), np.uint8)
        return Ground(np.zeros((*blank.shape, 4), np.uint8), blank + 255, (-PAD, -PAD), size, card, True)
    solid = solid[top : top + h, left : left + w]
    x, y = x + left, y + top
    mask = cv2.copyMakeBorder(solid, PAD, PAD, PAD, PAD, cv2.BORDER_CONSTANT, value=0)
    rgba = np.zeros((h + 2 * PAD, w + 2 * PAD, 4), np.uint8)
    cv2.copyTo(picture.rgba[y : y + h, x : x + w], solid, rgba[PAD:-PAD, PAD:-PAD])
    return Ground(rgba, _inverse(mask), (x - PAD, y - PAD), size, card, False, noisy)


def card_color(rgba: NDArray[np.uint8]) -> tuple[int, int, int] | None:
    """Return the color that fills most of the picture's border, or None where no color does."""
    edge = np.concatenate([rgba[0], rgba[-1], rgba[:, 0], rgba[:, -1]])[:, :3]
    middle = np.median(edge, axis=0)
    near = (np.abs(edge.astype(np.int16) - middle) <= CARD_STEP).all(axis=1)
    if float(near.mean()) >= CARD_SHARE:
        r, g, b = np.median(edge[near], axis=0).astype(int)
        return int(r), int(g), int(b)
    colors, counts = np.unique(edge, axis=0, return_counts=True)
    best = int(counts.argmax())
    if counts[best] < CARD_SHARE * len(edge):
        return None
    r, g, b = colors[best]
    return int(r), int(g), int(b)


def _not_card(
    rgba: NDArray[np.uint8], card: tuple[int, int, int], palette: Palette, noisy: bool
) -> NDArray[np.uint8]:
    """Return 255 where a pixel is not card: outside art always, inside only where no paint has its color."""
    step = CARD_STEP_NOISY if noisy else CARD_STEP
    low = tuple(max(0, v - step) for v in card)
    high = tuple(min(255, v + step) for v in card)
    like_card = cast("NDArray[np.uint8]", cv2.inRange(rgba, (*low, 0), (*high, 255)))
    lab = srgb8_to_lab(np.array([card], np.uint8))
    index, _ = nearest_colors(lab, palette)
    if int(index[0]) < 0:
        return _inverse(like_card)
    return _inverse(_joined_to_border(like_card))


def _inverse(mask: cv2.typing.MatLike) -> NDArray[np.uint8]:
    """Return 255 where a mask has 0, and 0 where it has 255; OpenCV does not tell that the type stays."""
    return cast("NDArray[np.uint8]", cv2.bitwise_not(mask))


def _joined_to_border(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return the part of a mask that is 4-connected to the picture's border."""
    framed = cv2.copyMakeBorder(mask, 1, 1, 1, 1, cv2.BORDER_CONSTANT, value=255)
    _, labels = cv2.connectedComponents(framed, connectivity=4)
    outside = labels == labels[0, 0]
    return np.ascontiguousarray(outside[1:-1, 1:-1]).astype(np.uint8) * 255
