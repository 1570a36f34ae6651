"""One badge shape a fault kind, so that a mark is told from another without its hue.

Each shape is a closed polygon in a square of side 2 around the origin, x to the right, y down. The marked
pictures and the page's signs are both drawn from this table.
"""

import math
from collections.abc import Mapping
from types import MappingProxyType

from cel_check.faults import FaultKind

Polygon = tuple[tuple[float, float], ...]


def _regular(corners: int, turn: float = 0.0, radius: float = 1.0) -> Polygon:
    """Return a regular polygon; `turn` (degrees) is that of its first corner, clockwise from the top."""
    angles = (math.radians(turn + 360.0 * i / corners) for i in range(corners))
    return tuple((radius * math.sin(a), -radius * math.cos(a)) for a in angles)


def _burst(tips: int, inner: float) -> Polygon:
    outer, dents = _regular(tips), _regular(tips, 180.0 / tips, inner)
    return tuple(point for pair in zip(outer, dents, strict=True) for point in pair)


def _drop() -> Polygon:
    """Return a drop: a circle with a tip at the top."""
    arc = tuple((0.82 * math.sin(a), 0.2 - 0.82 * math.cos(a)) for a in map(math.radians, range(50, 311, 10)))
    return ((0.0, -1.15), *arc)


def _half_disc() -> Polygon:
    return tuple((math.sin(a), 0.65 - 1.35 * math.cos(a)) for a in map(math.radians, range(-90, 91, 10)))


SHAPES: Mapping[FaultKind, Polygon] = MappingProxyType(
    {
        FaultKind.OFF_MODEL: _regular(40),
        FaultKind.WRONG_PART: _regular(4, radius=1.2),
        FaultKind.UNPAINTED: ((-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)),
        FaultKind.OPEN_LINE: ((-1.3, 0.0), (-0.7, -0.8), (0.7, -0.8), (1.3, 0.0), (0.7, 0.8), (-0.7, 0.8)),
        FaultKind.INK_COLOR: ((0.0, -1.25), (1.3, 0.95), (-1.3, 0.95)),
        FaultKind.SPILL: _drop(),
        FaultKind.STRAY: _burst(8, 0.7),
        FaultKind.MISSING_CEL: _regular(8, 22.5),
        FaultKind.UNCALLED_CEL: _regular(5, radius=1.1),
        FaultKind.UNREADABLE: (
            (-0.6, -1.0), (0.6, -1.0), (0.6, -0.6), (1.0, -0.6), (1.0, 0.6), (0.6, 0.6),
            (0.6, 1.0), (-0.6, 1.0), (-0.6, 0.6), (-1.0, 0.6), (-1.0, -0.6), (-0.6, -0.6),
        ),
        FaultKind.WRONG_SIZE: ((-0.7, -1.15), (0.7, -1.15), (0.7, 1.15), (-0.7, 1.15)),
        FaultKind.OFF_REGISTER: ((-0.6, -0.9), (1.25, -0.9), (0.6, 0.9), (-1.25, 0.9)),
        FaultKind.SHORT_OF_FIELD: _half_disc(),
        FaultKind.FLASH: _burst(5, 0.62),
    }
)  # fmt: skip


def svg_points(kind: FaultKind) -> str:
    """Return the shape of `kind` as the `points` of an SVG polygon, in a view box of -1.5 -1.5 3 3."""
    return " ".join(f"{x:.2f},{y:.2f}" for x, y in SHAPES[kind])
