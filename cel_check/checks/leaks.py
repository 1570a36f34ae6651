"""Leaks: gaps in the lines of a cel that is inked and not yet painted, through which a fill would run out.

Two ends of line that face each other are joined for a trial: where that parts one place into two that
somebody would paint, a fill leaks between them. Strokes that end in a place without closing it off (hair,
wrinkles, marks of motion) part nothing.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from cel_check.checks.tips import beside_joint, past_half, tips_of
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.regions import LINE

WIDEST = 3.2
"""Pen widths between two ends of line at most."""

WIDEST_PIXELS = 13.0
"""The same in pixels, for thin pens."""

FACING = 0.75
"""Cosine between the way an end of line runs and the way to the other end."""

LEAST_PLACE = 12.0
"""Squared pen widths of a place that somebody would paint."""


@dataclass(frozen=True)
class Leak:
    """A gap through which a fill would run. Coordinates are the ground's, lengths pixels.

    Attributes:
        ends: x, y of the last of the ridge of the two ends of line.
        length: from one end of line to the other.
        area: of the smaller of the two places that it joins, pixels.
    """

    ends: tuple[tuple[float, float], tuple[float, float]]
    length: float
    area: int


def leaks_of(drawing: Drawing) -> Iterator[Leak]:
    """Find the gaps of a cel without paint.

    Args:
        drawing: the cel, taken apart.

    Yields:
        The gaps, by the order of their ends.
    """
    pen = drawing.ink.pen
    tips = tips_of(drawing)
    pairs = list(tips.facing(pen, (WIDEST, WIDEST_PIXELS), FACING))
    if not pairs:
        return
    line = (drawing.regions.ids == LINE).astype(np.uint8)
    for first, second in pairs:
        ends = [tuple(int(v) for v in np.rint(tips.spots[tip])) for tip in (first, second)]
        cv2.line(line, ends[0], ends[1], 2, max(2, round(pen / 2)))
    _, places, stats, _ = cv2.connectedComponentsWithStats((line == 0).astype(np.uint8), connectivity=4)
    areas = np.where(np.arange(len(stats)) > 0, stats[:, cv2.CC_STAT_AREA], 0)
    for first, second in pairs:
        a, b = tips.spots[first], tips.spots[second]
        met = set(beside_joint(places, a, b, past_half(pen)))
        sizes = sorted(int(areas[place]) for place in met)
        if len(sizes) == 2 and sizes[0] >= LEAST_PLACE * pen * pen:
            span = max(1.0, float(np.hypot(*(b - a))) - pen)  # a ridge ends half a pen before its line
            yield Leak(((float(a[0]), float(a[1])), (float(b[0]), float(b[1]))), span, sizes[0])
