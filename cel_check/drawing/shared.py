"""Colors that serve as ink and as paint: which of their pixels are line, and which are fill.

Where a disk wider than the pen fits, nobody drew a line. The patch around it is fill, and what hangs on it
(the outline of a black shoe) stays line. A small compact drop is fill too where its color fills a patch
elsewhere.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.flats import Flats
from cel_check.drawing.ink import Ink, measure_lines
from cel_check.model.colormodel import Palette, Use

THICK = 1.0
"""Radius in pen widths of the disk that must fit into a fill; where thick lines meet, 0.8 fits."""

ROUND = 0.35
"""Area in squared lengths from which a small flat is a drop; a line of four pens has a quarter."""

DROP = 2.0
"""Pen widths up to which a drop is small; a dot that long is drawn on purpose."""

ROUNDISH = 1.7
"""Area in squared widths up to which a flat is round rather than long."""

BESIDE = 3
"""Pixels around a drop's core in which another flat of its color makes it a piece of a line."""


@dataclass(frozen=True, eq=False)
class _Color:
    """One color that serves as ink and as paint.

    Attributes:
        mine: per flat, whether it has the color.
        ink: its pixels, measured as if all were line.
        pen: the drawing's pen width in pixels.
        radius: of the disk in pixels that fits into fills only.
    """

    mine: NDArray[np.bool_]
    ink: Ink
    pen: float
    radius: float


def settle_shared(
    flats: Flats,
    index: NDArray[np.int64],
    lines: NDArray[np.bool_],
    paints: NDArray[np.bool_],
    palette: Palette,
) -> tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.uint8] | None]:
    """Tell fills from lines among the flats of colors that serve as both.

    Args:
        flats: the drawing's flats.
        index: per flat, its palette color or `NONE`.
        lines: per flat, whether its color is allowed as ink.
        paints: per flat, whether it is a fill.
        palette: the level's colors.

    Returns:
        Which flats are lines, which are fills (a flat may be both: an outline with a solid patch), and 255
        where a pixel is too deep inside a patch for a line; None where there is no such pixel.
    """
    used = [int(k) for k in np.unique(index[lines])]
    shared = [k for k in used if palette.colors[k].use is Use.BOTH]
    if not shared:
        return lines, paints, None
    inks = {k: measure_lines(flats.rows.spread((index == k).astype(np.uint8) * 255)) for k in used}
    pen = _pen(inks)
    radius = max(2.0, THICK * pen)
    thick = np.zeros(flats.filled.shape, np.uint8)
    for k in shared:
        color = _Color(index == k, inks[k], pen, radius)
        lines, paints = _settle_color(flats, color, (lines, paints), thick)
    return lines, paints, thick if thick.any() else None


def _pen(inks: dict[int, Ink]) -> float:
    """Return the pen width over all inks: wide patches have few ridge pixels."""
    depths = np.concatenate([ink.depth[ink.ridge[:, 0], ink.ridge[:, 1]] for ink in inks.values()])
    return max(1.0, float(2.0 * np.median(depths) - 0.5)) if len(depths) else 1.0


def _around(mask: NDArray[np.bool_], reach: int) -> tuple[slice, slice]:
    """Return the window that holds a mask and all within reach of it."""
    x, y, w, h = cv2.boundingRect(mask.view(np.uint8))
    return slice(max(0, y - reach), y + h + reach), slice(max(0, x - reach), x + w + reach)


def _settle_color(
    flats: Flats,
    color: _Color,
    roles: tuple[NDArray[np.bool_], NDArray[np.bool_]],
    thick: NDArray[np.uint8],
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Settle the flats of one color; mark the pixels of its patches in `thick`."""
    lines, paints = roles
    deep = color.ink.depth > color.radius
    if not deep.any():
        return lines, paints
    # A second distance transform widens the deep places by a disk of any radius at the same cost.
    around = _around(deep, int(color.radius) + 4)
    near = cv2.distanceTransform((~deep[around]).astype(np.uint8), cv2.DIST_L2, 3) <= color.radius + 1.0
    thick[around][near & (color.ink.line[around] > 0)] = 255
    patched = np.zeros(len(flats.area), bool)
    patched[flats.filled[deep]] = True
    side = np.maximum(1, flats.box[:, 2:].max(axis=1))
    compact = (flats.area >= ROUND * side * side) & (side <= DROP * color.pen + 8.0)
    drops = color.mine & ~patched & compact
    for drop in np.flatnonzero(drops):
        drops[drop] = _is_drop(flats, int(drop), color)
    return lines & ~drops, paints | drops | (patched & color.mine)


def _is_drop(flats: Flats, drop: int, color: _Color) -> bool:
    """Tell whether a small flat is round, and no other flat of its color is beside it.

    A soft thin line is a row of small flats, and a slanting piece of line fills much of its box.
    """
    x, y, w, h = (int(v) for v in flats.box[drop])
    place = (slice(max(0, y - BESIDE), y + h + BESIDE), slice(max(0, x - BESIDE), x + w + BESIDE))
    window = flats.filled[place]
    own = window == drop
    if (color.mine[window] & ~own).any():
        return False
    width = 2.0 * float(color.ink.depth[place][own].max(initial=1.0)) - 1.0
    return int(own.sum()) <= ROUNDISH * width * width
