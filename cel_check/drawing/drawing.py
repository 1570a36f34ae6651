"""One cel taken apart: the ink, the parts, and the blended pixels between them.

Conventions: arrays are `[y, x]`; paint is 4-connected, ink and specks are 8-connected; a box is x, y, width,
height with the origin top left of the whole picture.
"""

from dataclasses import dataclass

from cel_check.faults import Box, Point


@dataclass(frozen=True)
class Part:
    """A connected fill of one color, without its blended rim.

    Attributes:
        label: its number in the drawing's label map, from 1.
        color: index into the palette's colors, or -1 where the fill matches none.
        area: pixels of its core.
        box: x, y, width, height.
        point: a pixel deep inside.
        center: mean x and y.
        moments: second central moments xx, xy, yy in px squared.
        lab: median CIE L*a*b* (D65).
        spread: mean absolute ΔE*ab of its pixels from that median.
        neighbors: `(label, shared border in px)`, label 0 for the clear cel.
        inked: share (0 to 1) of its border that carries ink.
    """

    label: int
    color: int
    area: int
    box: Box
    point: Point
    center: tuple[float, float]
    moments: tuple[float, float, float]
    lab: tuple[float, float, float]
    spread: float
    neighbors: tuple[tuple[int, int], ...]
    inked: float
