"""One cel taken apart: the ink, the parts, and the blended pixels between them.

Conventions: arrays are `[y, x]`; paint is 4-connected, ink and specks are 8-connected; a box is x, y, width,
height with the origin top left of the whole picture.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.clear import Ground
from cel_check.drawing.flats import Flats
from cel_check.drawing.ink import Ink
from cel_check.drawing.regions import Regions
from cel_check.drawing.runs import Run, contact_runs
from cel_check.faults import Box, FoundColor, Point
from cel_check.model.colormodel import Palette


@dataclass(frozen=True, eq=False)
class Drawing:
    """Everything the checks need of one cel. Coordinates inside are the ground's; `box` and `point` convert.

    Attributes:
        ground: the art's rectangle.
        palette: the level's colors.
        flats: areas of one color.
        index: per flat, the palette color within tolerance, or -1.
        table: `(flats, colors)` ΔE00.
        paints: per flat, whether it is a fill.
        lines: per flat, whether it is a line or a stretch of one.
        ink: the lines.
        regions: the map of regions and their borders.
    """

    ground: Ground
    palette: Palette
    flats: Flats
    index: NDArray[np.int64]
    table: NDArray[np.float64]
    paints: NDArray[np.bool_]
    lines: NDArray[np.bool_]
    ink: Ink
    regions: Regions

    @cached_property
    def runs(self) -> tuple[Run, ...]:
        """The contact runs: stretches in which two regions touch with no line between them."""
        return contact_runs(self.regions)

    def length(self, count: float) -> str:
        """Return a length of so many pixels in words: in millimeters on a scan, where it can be measured."""
        if self.ground.per_mm:
            return f"{max(0.1, count / self.ground.per_mm):.1f} mm"
        return f"{max(1, round(count))} px"

    def box(self, x: int, y: int, width: int, height: int) -> Box:
        """Convert a box of the ground to one of the picture, cut at the picture's edge."""
        left, top = x + self.ground.origin[0], y + self.ground.origin[1]
        right = min(left + width, self.ground.size[0])
        bottom = min(top + height, self.ground.size[1])
        left, top = max(0, left), max(0, top)
        return left, top, max(1, right - left), max(1, bottom - top)

    def point(self, x: float, y: float) -> Point:
        """Convert a point of the ground to a pixel of the picture."""
        column = min(max(0, round(x) + self.ground.origin[0]), self.ground.size[0] - 1)
        row = min(max(0, round(y) + self.ground.origin[1]), self.ground.size[1] - 1)
        return column, row

    def found(self, flat: int) -> FoundColor:
        """Return a flat's color as a fault carries it."""
        r, g, b = (int(v) for v in self.flats.rgb[flat])
        lightness, a, blue = (round(float(v), 2) for v in self.flats.lab[flat])
        return FoundColor(f"#{r:02X}{g:02X}{b:02X}", (lightness, a, blue))


@dataclass(frozen=True)
class Part:
    """A connected fill of one color: what is kept of a drawing after it was checked.

    Coordinates are the picture's. Shape is measured with the fill's share of its blended rim, color without.

    Attributes:
        label: its number in the drawing's label map, from 1.
        color: index into the palette's colors, or -1 where the fill matches none.
        area: pixels.
        box: x, y, width, height.
        point: a pixel deep inside.
        center: mean x and y.
        moments: second central moments xx, xy, yy in px squared (variances and covariance of its pixels).
        lab: median CIE L*a*b* (D65).
        spread: mean absolute ΔE*ab of its pixels from that median.
        neighbors: `(label, shared border edges)` of the parts it touches with no line between, by label;
            label 0 is the clear cel, outside or enclosed.
        across: `(label, border edges)` of the parts on the other side of its lines, counted the same way.
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
    across: tuple[tuple[int, int], ...]
    inked: float
