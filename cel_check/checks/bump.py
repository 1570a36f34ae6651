"""A bump of paint across a line, as the two ways of finding spills hand it on."""

from dataclasses import dataclass

import numpy as np

from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE

BARE_ELSEWHERE = 0.12
"""Share of its border on which a part meets another paint bare, from which they are drawn without a line."""

Box = tuple[int, int, int, int]


@dataclass(frozen=True)
class Bump:
    """A bump of paint across a line. Coordinates are the ground's, lengths pixels.

    Attributes:
        region: id of the region that holds the bump.
        home: id of the region of the same paint across the line (the same one where it covers the line).
        other: id of the region that the bump stands in.
        covers: True where the bump lies over the line.
        sure: True where nobody would draw it so.
        depth: how far it reaches past the line.
        box: x, y, width, height.
        point: x, y inside it.
        area: about how many pixels lie past the line.
    """

    region: int
    home: int
    other: int
    covers: bool
    sure: bool
    depth: float
    box: Box
    point: tuple[int, int]
    area: int


def color_of(drawing: Drawing, region: int) -> int | None:
    """Return the palette color of a region (`NONE` where the model has none like it); None on clear cel."""
    flat = drawing.regions.flat_of_id(region)
    return int(drawing.index[flat]) if flat > 0 else None


def bare_by_design(drawing: Drawing, home: int, other: int, here: int) -> bool:
    """Tell whether the paint meets the other without a line elsewhere too: a shine or a cheek, not a spill.

    Args:
        drawing: the cel, taken apart.
        home: id of the region on the paint's own side.
        other: id of the region on the other side.
        here: contact edges that the bump itself gives the two.
    """
    regions = drawing.regions
    color = color_of(drawing, other)
    if color is None or color == NONE:
        return False
    pairs = regions.pairs
    met = np.concatenate([pairs[pairs[:, 0] == home, 1], pairs[pairs[:, 1] == home, 0]])
    flats = met - regions.clears
    same = (flats > 0) & (drawing.index[np.maximum(flats, 0)] == color)
    border = int(regions.inked[home] + regions.bare[home])
    return int(same.sum()) - here > BARE_ELSEWHERE * border
