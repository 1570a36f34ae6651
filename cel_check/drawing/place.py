"""Places: where a drawing is painted and where clear cel shows through it, each with what surrounds it.

A place's surroundings (how much of its border lies on which model colors, touching or across a line) tell it
from drawing to drawing better than its own outline, which moves. The record holds no pixels.
"""

from dataclasses import dataclass

from cel_check.faults import Box, Point

OPEN = -2
"""The color of clear cel in a place or around it."""


@dataclass(frozen=True)
class Place:
    """One fill or one enclosed clear place.

    Attributes:
        color: palette color, -1 where the fill matches none, `OPEN` where the cel is clear.
        area: pixels.
        box: x, y, width, height in the picture.
        center: mean x, y in the picture.
        around: `(color, share of the border)`, largest first; colors as above.
        moments: second central moments xx, xy, yy of its pixels, px squared.
        point: a pixel inside, away from the rim.
        near: `(place, share of the border)`, largest first: which places of the drawing's list surround it.
        srgb: the color found, `#RRGGBB`; empty where the cel is clear.
    """

    color: int
    area: int
    box: Box
    center: tuple[float, float]
    around: tuple[tuple[int, float], ...]
    moments: tuple[float, float, float] = (0.0, 0.0, 0.0)
    point: Point = (0, 0)
    near: tuple[tuple[int, float], ...] = ()
    srgb: str = ""
