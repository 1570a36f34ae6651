"""Takes a cel apart: clear cel, flats, lines, and the map of regions between them."""

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.clear import ground_of
from cel_check.drawing.crumbs import with_crumbs
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.flats import Flats, find_flats
from cel_check.drawing.ink import find_lines, ink_flats, measure_lines
from cel_check.drawing.match import FILL_SLACK, NONE, nearest_colors
from cel_check.drawing.regions import map_regions
from cel_check.drawing.shared import settle_shared
from cel_check.model.colormodel import Palette, Use
from cel_check.picture.picture import Picture
from cel_check.settings import Settings

LEAST_PAINT = 3
"""Pixels of a flat's core from which a model color is a fill; less is a blend that matches by chance."""

LEAST_OFF = 4
"""The same for colors that no model has, which must also hold a block of 3 x 3 pixels."""

LEAST_OFF_NOISY = 60
"""The same with the noise of lossy compression, whose rings around edges are flats of a few pixels."""

LINE_WIDTH = 1.7
"""Pen widths up to which an off-model flat can be a stretch of line."""

MIXED = 11.0
"""ΔE00 from its paint within which an off-model fill was mixed wrong; beyond, it comes from elsewhere."""

MUCH_NEARER = 0.6
"""Share of its difference to the nearest ink that such a fill differs from its paint at most."""

LEAST_JOIN = 3
"""Pixels of ink around an off-model flat from which it joins a line."""

ENCLOSED = 0.55
"""Share of ink around an off-model flat from which lines enclose it: it is a part."""

END = 1.2
"""Pixels of ink, in pen widths, that the ring around a short stretch of line has at each of its two ends."""

SHORT = 1.6
"""Pen widths up to which a stretch of line is short, seen across."""

LONG = 4.0
"""Area in squared widths from which a thin flat is a line whatever it touches."""


def take_apart(picture: Picture, palette: Palette, settings: Settings) -> Drawing:
    """Separate a cel into clear cel, fills and lines.

    Args:
        picture: the cel, sRGB with straight alpha.
        palette: the level's colors.
        settings: the thresholds of the run.

    Returns:
        The drawing; on an empty cel a drawing without flats.
    """
    ground = ground_of(picture, palette)
    flats = with_crumbs(ground, find_flats(ground.rgba, ground.clear, ground.noisy), palette)
    index, table = _matched(flats, palette, FILL_SLACK if ground.noisy else 0.0)
    index[flats.area < LEAST_PAINT] = NONE
    index[0] = NONE
    lines = ink_flats(index, palette)
    off = flats.solid((index == NONE) & (flats.area >= (LEAST_OFF_NOISY if ground.noisy else LEAST_OFF)))
    paints = ((index != NONE) & ~lines) | off
    lines, paints, thick = settle_shared(flats, index, lines, paints, palette)
    if off.any():
        _sort_off_flats(flats, off & ~_near_a_paint(table, palette), lines, paints, thick)
    line, loose = find_lines(ground, flats, paints, lines, palette)
    if thick is not None:
        line[thick > 0] = 0
    ink = measure_lines(line, loose)
    regions = map_regions(ground, flats, paints, line)
    return Drawing(ground, palette, flats, index, table, paints, lines, ink, regions)


def _matched(flats: Flats, palette: Palette, slack: float) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Return what `nearest_colors` tells of each flat: a drawing has hundreds, in dozens of colors."""
    _, first, which = np.unique(
        flats.rgb.astype(np.int32) @ np.array([1 << 16, 1 << 8, 1], np.int32),
        return_index=True,
        return_inverse=True,
    )
    index, table = nearest_colors(flats.lab[first], palette, slack)
    return index[which], table[which]


def _near_a_paint(table: NDArray[np.float64], palette: Palette) -> NDArray[np.bool_]:
    """Tell which colors are a paint mixed wrong: near one, and much nearer to it than to any ink."""
    paint = np.array([color.use is Use.PAINT for color in palette.colors])
    if paint.all() or not paint.any():
        return np.full(len(table), bool(paint.all()))
    nearest = table[:, paint].min(axis=1)
    near: NDArray[np.bool_] = (nearest <= MIXED) & (nearest <= MUCH_NEARER * table[:, ~paint].min(axis=1))
    return near


def _sort_off_flats(
    flats: Flats,
    off: NDArray[np.bool_],
    lines: NDArray[np.bool_],
    paints: NDArray[np.bool_],
    thick: NDArray[np.uint8] | None,
) -> None:
    """Move the off-model flats that are pieces of line from the fills to the lines, in place."""
    line = flats.rows.spread(lines.astype(np.uint8) * 255)
    if thick is not None:
        line[thick > 0] = 0
    pen = measure_lines(line).pen
    for flat in np.nonzero(off)[0]:
        if _is_line(flats, int(flat), line, pen):
            lines[flat] = True
            paints[flat] = False


def _is_line(flats: Flats, flat: int, line: NDArray[np.uint8], pen: float) -> bool:
    """Tell whether an off-model flat is a stretch of line: long and thin, or pen-wide between its ends."""
    x, y, w, h = (int(v) for v in flats.box[flat])
    window = (slice(max(0, y - 4), y + h + 4), slice(max(0, x - 4), x + w + 4))
    mask = (flats.filled[window] == flat).astype(np.uint8) * 255
    width = 2.0 * float(cv2.distanceTransform(mask, cv2.DIST_L2, cv2.DIST_MASK_5).max()) - 0.5
    area = float((mask > 0).sum())
    if area >= LONG * LONG * width * width and (not pen or width <= 2.5 * pen):
        return True
    if not pen or width > LINE_WIDTH * pen + 2.0:
        return False
    ring = cv2.dilate(mask, np.ones((9, 9), np.uint8)) - cv2.dilate(mask, np.ones((3, 3), np.uint8))
    beside = np.asarray(cv2.bitwise_and(ring, line[window]), np.uint8)
    if _between_ends(beside, max(w, h), pen):
        return True
    inked = int((beside > 0).sum())
    if inked < LEAST_JOIN or inked > ENCLOSED * float((ring > 0).sum()):
        return False
    return area >= 3.0 * width * width or width >= 0.7 * pen


def _between_ends(beside: NDArray[np.uint8], size: int, pen: float) -> bool:
    """Tell whether an off-model flat lies between two ends of a thick line: a short stretch of it.

    Args:
        beside: 255 where the ring around the flat is ink.
        size: the flat's longer side, pixels.
        pen: the drawing's pen width, pixels.
    """
    if size > SHORT * pen + 2.0:
        return False
    count, _, stats, _ = cv2.connectedComponentsWithStats(beside, connectivity=8)
    return count >= 3 and int((stats[1:, cv2.CC_STAT_AREA] >= END * pen).sum()) == 2
