"""A cel that art fills to its edges: outside drawings side by side on paint, hundreds of parts and lines."""

import cv2
import numpy as np
from art import Art, Color, held_out, pick_names, straight
from cases import model_of
from numpy.typing import NDArray

from cel_check.model.colormodel import Palette

SIDE = 270
COLUMNS, ROWS = 7, 4
SIZE = (1080, 1920)
MARGIN = 6
"""Clear pixels around the art: without any the cel would be opaque, and its paint taken for a card."""

PEN = 5
PAINT: Color = (177, 204, 51)
"""One of the drawings' own greens (`#B1CC33`), behind them all."""


def flat_drawings(count: int) -> list[Art]:
    """Return the first `count` drawings of flat colors that are not held out."""

    found: list[Art] = []
    for name, _ in pick_names():
        if len(found) == count:
            break
        if held_out(name):
            continue
        try:
            found.append(Art(name))
        except ValueError:
            continue
    return found


def dense_cel() -> tuple[NDArray[np.uint8], Palette]:
    """Return `(1080, 1920, 4)` straight RGBA and the model of its colors."""
    arts = flat_drawings(COLUMNS * ROWS)
    picture = _sheet()
    used: dict[Color, tuple[bool, bool]] = {PAINT: (True, False), (0, 0, 0): (False, True)}
    left, top = (SIZE[1] - COLUMNS * SIDE) // 2, (SIZE[0] - ROWS * SIDE) // 2
    for place, art in enumerate(arts):
        row, column = divmod(place, COLUMNS)
        y, x = top + row * SIDE, left + column * SIDE
        window = picture[y : y + SIDE, x : x + SIDE]
        drawn = art.render(SIDE)
        window[:] = drawn + window * (1 - drawn[..., 3:] / 255.0)
        for color, (fill, stroke) in art.colors().items():
            old = used.get(color, (False, False))
            used[color] = (old[0] or fill, old[1] or stroke)
    return straight(picture), model_of(used)


def _sheet() -> NDArray[np.float64]:
    """Return an inked frame full of paint, premultiplied."""
    picture = np.zeros((*SIZE, 4))
    inside = np.zeros(SIZE, np.uint8)
    inside[MARGIN:-MARGIN, MARGIN:-MARGIN] = 1
    picture[inside > 0] = (0, 0, 0, 255)
    painted = cv2.erode(inside, np.ones((2 * PEN + 1, 2 * PEN + 1), np.uint8))
    picture[painted > 0] = (*PAINT, 255)
    return picture
