"""Which inks border which paints of a model, and how much of a figure each is, by its reference cels."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.drawing import Drawing
from cel_check.drawing.separate import take_apart
from cel_check.errors import BadPicture, Refused
from cel_check.model.colormodel import ColorModel, Use
from cel_check.model.resolve import palette_for
from cel_check.picture.reader import read_picture
from cel_check.settings import DEFAULTS, Settings

REACH = 2
"""Pixels over which an ink is looked for around a paint: the rim between them is blended."""

LEAST_BORDER = 20
"""Pixels of a paint along an ink from which the two border on each other; less is a corner where they
meet."""

_NO_LEVEL = 0


@dataclass(frozen=True)
class Figure:
    """What the reference cels of a model show of it.

    Attributes:
        borders: `(ink's id, paint's id)` of those that border on each other.
        areas: `(paint's id, pixels)` of the paints that are there, in the model's order.
        notes: cels that could not be read, one sentence each.
    """

    borders: frozenset[tuple[str, str]]
    areas: tuple[tuple[str, int], ...]
    notes: tuple[str, ...] = ()


def figure_of(model: ColorModel, settings: Settings = DEFAULTS) -> Figure | None:
    """Read a model's reference cels; None where it names none, or none can be read."""
    palette = palette_for((model,), None, _NO_LEVEL)
    table = np.zeros((len(palette.colors), len(palette.colors)), np.int64)
    area = np.zeros(len(palette.colors), np.int64)
    notes: list[str] = []
    read = 0
    for path in model.references:
        if not path.exists():
            continue  # the model's own notes tell of it
        try:
            drawing = take_apart(read_picture(path, settings), palette, settings)
        except (BadPicture, Refused, OSError, ValueError) as error:
            notes.append(f"{model.file}: the reference cel {path.name} cannot be read ({error}).")
            continue
        read += 1
        _count(drawing, table, area)
    if not read:
        return Figure(frozenset(), (), tuple(notes)) if notes else None
    ids = [color.id for color in palette.colors]
    inks = [n for n, color in enumerate(palette.colors) if color.use is Use.INK]
    paints = [n for n, color in enumerate(palette.colors) if color.use is Use.PAINT]
    borders = {
        (ids[ink], ids[paint]) for ink in inks for paint in paints if table[ink, paint] >= LEAST_BORDER
    }
    areas = tuple((ids[n], int(area[n])) for n in range(len(ids)) if area[n])
    return Figure(frozenset(borders), areas, tuple(notes))


def _count(drawing: Drawing, table: NDArray[np.int64], area: NDArray[np.int64]) -> None:
    """Add one drawing's borders and areas, in place."""
    count = len(area)
    color = np.where(drawing.index >= 0, drawing.index, count)
    filled = drawing.flats.filled
    paint = np.where(drawing.paints, color, count)[filled]
    ink = np.where(drawing.lines, color, count)[filled]
    area += np.bincount(paint.ravel(), minlength=count + 1)[:count]
    kernel = np.ones((2 * REACH + 1, 2 * REACH + 1), np.uint8)
    for number in np.unique(ink[ink < count]).tolist():
        near = cv2.dilate((ink == number).astype(np.uint8), kernel)
        table[number] += np.bincount(paint[near > 0], minlength=count + 1)[:count]


def merged_areas(figure: Figure | None, ids: Sequence[str]) -> NDArray[np.float64]:
    """Return the share of a figure that each color is, `(n,)`; all alike where nothing is known."""
    known = dict(figure.areas) if figure else {}
    area = np.array([known.get(name, 0) for name in ids], np.float64)
    return area / area.sum() if area.any() else np.full(len(ids), 1.0 / max(len(ids), 1))
