"""What is kept of a cel's colors, so that another tolerance can be judged without opening the cel again."""

import numpy as np
from numpy.typing import NDArray

from cel_check.checks.ink_color import PURE_DEPTH
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE
from cel_check.drawing.separate import LEAST_PAINT
from cel_check.scene.results import Measured


def measured(drawing: Drawing) -> Measured:
    """Return every color of a drawing that was held against the tolerances of its palette.

    Those are the mean colors of the flats, the pure pixels of the lines, the pixels of stretches of line in a
    wrong color, and the card. Colors of marks that became a fault stand in the fault.
    """
    if drawing.ground.empty:
        return Measured(_packed(_card(drawing)), drawing.ground.noisy)
    # A smaller flat is held against no tolerance: it matches nothing, whatever its color.
    flats = drawing.flats.rgb[drawing.flats.area >= LEAST_PAINT]
    colors = np.concatenate([flats, _ridges(drawing), _stretches(drawing), _card(drawing)])
    numbers = np.unique(colors.astype(np.uint32) @ np.array([1 << 16, 1 << 8, 1], np.uint32))
    # Big-endian numbers hold red, green and blue in that order behind a zero.
    unique = numbers.astype(">u4").view(np.uint8).reshape(-1, 4)[:, 1:]
    return Measured(_packed(unique), drawing.ground.noisy)


def _ridges(drawing: Drawing) -> NDArray[np.uint8]:
    rows, cols = drawing.ink.ridge.T
    pure = drawing.ink.depth[rows, cols] >= PURE_DEPTH
    here = rows[pure] * drawing.ground.rgba.shape[1] + cols[pure]
    colors: NDArray[np.uint8] = drawing.ground.rgba.reshape(-1, 4)[here, :3]
    return colors


def _stretches(drawing: Drawing) -> NDArray[np.uint8]:
    wrong = drawing.lines & (drawing.index == NONE)
    wrong[0] = False
    if not wrong.any():
        return np.zeros((0, 3), np.uint8)
    colors: NDArray[np.uint8] = drawing.ground.rgba[wrong[drawing.flats.filled], :3]
    return colors


def _card(drawing: Drawing) -> NDArray[np.uint8]:
    card = drawing.ground.card
    return np.array([] if card is None else [card], np.uint8).reshape(-1, 3)


def _packed(colors: NDArray[np.uint8]) -> str:
    return np.ascontiguousarray(colors, np.uint8).tobytes().hex()
