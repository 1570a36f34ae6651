"""Ink lines: pixels of an ink color, and blended pixels that no mix of the paints beside them explains.

A line of one to three pixels has few pixels of its pure color. A blended pixel between two paints lies on the
straight line between their colors in RGB; one that carries ink lies off it, towards the ink. That is what the rim
test measures, so thin, colored and tapering lines are found without any threshold of darkness.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.clear import Ground
from cel_check.drawing.flats import Flats
from cel_check.drawing.match import NONE
from cel_check.model.colormodel import Palette, Use

COVERAGE = 0.35
"""Share of ink from which a blended pixel counts as line; below, it is the soft edge of the line."""

OFF_MIX = 22.0
"""Distance in 8-bit RGB from every mix of the paints beside it from which a pixel carries some color of its own."""

ALONE = 45.0
"""Distance in 8-bit RGB from an ink within which a thin mark on clear cel is that ink."""

PURE_STEP = 3
"""Levels (of 255) within which a pixel has a paint's pure color."""

RING: tuple[tuple[int, int], ...] = tuple(
    (down, right) for down in (-2, 0, 2) for right in (-2, 0, 2) if (down, right) != (0, 0)
) + ((-1, 0), (1, 0), (0, -1), (0, 1))
"""Steps (rows, columns) at which a blended pixel looks for the two fills that it lies between."""

NOBODY = 2**30


@dataclass(frozen=True, eq=False)
class Ink:
    """The lines of a drawing.

    Attributes:
        line: `(h, w)` uint8, 255 where a line is: its pure pixels and those covered by at least `COVERAGE`.
        depth: `(h, w)` float32 distance in pixels from each line pixel to the nearest pixel that is none.
        loose: `(n, 2)` rows and columns of the line pixels that are part of no flat: blended ones, and small marks.
        ridge: `(n, 2)` rows and columns of the pixels no less deep than their eight neighbors.
        pen: the drawing's pen width in pixels: the median over the ridges of its lines; 0 where it has none.
    """

    line: NDArray[np.uint8]
    depth: NDArray[np.float32]
    loose: NDArray[np.int64]
    ridge: NDArray[np.int64]
    pen: float


def ink_colors(palette: Palette) -> NDArray[np.float64]:
    """Return the `(n, 3)` sRGB colors (8-bit scale) that the model allows as ink."""
    inks = [color.srgb for color in palette.colors if color.use is not Use.PAINT]
    return np.array(inks, np.float64).reshape(-1, 3)


def ink_flats(index: NDArray[np.int64], palette: Palette) -> NDArray[np.bool_]:
    """Return for each flat whether its color is one that the model allows as ink."""
    allowed = np.array([color.use is not Use.PAINT for color in palette.colors] + [False])
    return allowed[np.where(index == NONE, len(palette.colors), index)]


def find_lines(
    ground: Ground,
    flats: Flats,
    paints: NDArray[np.bool_],
    lines: NDArray[np.bool_],
    palette: Palette,
) -> tuple[NDArray[np.uint8], NDArray[np.int64]]:
    """Find every line pixel of a drawing.

    Args:
        ground: the art's rectangle.
        flats: its flats.
        paints: per flat, whether it is a fill (of a model color or not).
        lines: per flat, whether it is (a piece of) a line.
        palette: the level's colors.

    Returns:
        `(h, w)` uint8, 255 on line pixels, and `(n, 2)` rows and columns of those that are part of no flat.
    """
    role = np.zeros(len(flats.area), np.uint8)
    role[lines] = 255
    role[paints & ~lines] = 1
    line = role[flats.filled]
    rim = (line == 0) & (ground.clear == 0)
    line[line == 1] = 0
    rows, cols = np.divmod(np.flatnonzero(rim), rim.shape[1])
    if len(rows):
        sides = _sides(ground, flats, paints, (rows, cols))
        found = ground.rgba[rows, cols, :3].astype(np.float64)
        carries = _carries_ink(found, sides, palette)
        rows, cols = rows[carries], cols[carries]
        line[rows, cols] = 255
    return line, np.stack([rows, cols], axis=1)


def _sides(
    ground: Ground, flats: Flats, paints: NDArray[np.bool_], rim: tuple[NDArray[np.int64], NDArray[np.int64]]
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return the colors of up to three fills that each rim pixel lies between; NaN where there is none.

    On an opaque picture the card is a side like any fill: its color is blended into the rim. Only the rim's own
    neighborhoods are looked at, a few hundredths of a cel.
    """
    card = len(paints)
    number = np.where(paints, np.arange(card), 0).astype(np.int32)
    width = flats.filled.shape[1]
    labels, clear = flats.filled.ravel(), ground.clear.ravel()
    here = rim[0] * width + rim[1]
    top = np.zeros(len(here), np.int32)
    bottom = np.full(len(here), NOBODY, np.int32)
    views = []
    for down, right in RING:
        # The art is padded by more than the ring's reach, and what lies in the pad is clear.
        near = here + (down * width + right)
        seen = number[labels[near]]
        if ground.card is not None:
            seen = np.where(clear[near] > 0, np.int32(card), seen)
        views.append(seen)
        np.maximum(top, seen, out=top)
        np.minimum(bottom, np.where(seen > 0, seen, NOBODY), out=bottom)
    bottom[bottom == NOBODY] = 0
    middle = np.zeros(len(here), np.int32)
    for seen in views:
        np.copyto(middle, seen, where=(seen > bottom) & (seen < top))
    colors = np.vstack([flats.rgb.astype(np.float64), [ground.card or (np.nan, np.nan, np.nan)]])
    colors[0] = np.nan
    return colors[top], colors[bottom], colors[middle]


def _carries_ink(
    found: NDArray[np.float64],
    sides: tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]],
    palette: Palette,
) -> NDArray[np.bool_]:
    """Tell which blended pixels carry ink, given the colors of the fills beside them (`(n, 3)` each)."""
    inks = ink_colors(palette)
    mix = _nearest_mix(found, *sides)
    away = found - mix
    distance = np.linalg.norm(away, axis=1)
    alone = np.isnan(distance)
    distance[alone] = 0.0
    carries = distance > OFF_MIX
    for ink in inks:
        towards = ink - mix
        length = np.linalg.norm(towards, axis=1)
        along = (away * towards).sum(axis=1) / np.maximum(length, 1.0)
        carries |= (along >= COVERAGE * length) & (along >= 0.7 * distance) & (length > 1.0)
        # Nothing but clear cel beside it: a thin line by itself, which keeps its color under partial alpha.
        carries |= alone & (np.linalg.norm(found - ink, axis=1) < ALONE)
    # The last pixels of a fill's thin tip have its pure color and no flat of their own.
    for paint in (color.srgb for color in palette.colors if color.use is Use.PAINT):
        pure = np.abs(found - np.array(paint, np.float64)).max(axis=1) <= PURE_STEP
        if pure.any() and (np.abs(inks - np.array(paint)).max(axis=1, initial=0.0) > 2 * PURE_STEP).all():
            carries &= ~pure
    return carries


def _nearest_mix(
    found: NDArray[np.float64],
    first: NDArray[np.float64],
    second: NDArray[np.float64],
    third: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the nearest mix to each color of two others, or of three where a third is given."""
    best = _on_segment(found, first, second)
    more = np.flatnonzero(~np.isnan(third[:, 0]))
    if len(more):
        color = found[more]
        corners = (first[more], second[more], third[more])
        options = np.stack(
            [best[more]]
            + [_on_segment(color, corners[2], corners[k]) for k in (0, 1)]
            + [_in_triangle(color, *corners)]
        )
        distance = np.nan_to_num(np.linalg.norm(options - color, axis=2), nan=np.inf)
        best[more] = options[distance.argmin(axis=0), np.arange(len(more))]
    return best


def _on_segment(
    found: NDArray[np.float64], first: NDArray[np.float64], second: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the nearest point to each color on the segment between two others."""
    span = second - first
    square = np.maximum((span * span).sum(axis=1), 1e-9)
    share = np.clip(((found - first) * span).sum(axis=1) / square, 0.0, 1.0)
    mix: NDArray[np.float64] = first + share[:, None] * span
    return mix


def _in_triangle(
    found: NDArray[np.float64],
    first: NDArray[np.float64],
    second: NDArray[np.float64],
    third: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return the foot of each color on the plane of three others; NaN where it lies outside their triangle."""
    u, v, w = second - first, third - first, found - first
    uu, uv, vv = (u * u).sum(axis=1), (u * v).sum(axis=1), (v * v).sum(axis=1)
    wu, wv = (w * u).sum(axis=1), (w * v).sum(axis=1)
    whole = uu * vv - uv * uv
    whole[np.abs(whole) < 1e-6] = np.nan
    s, t = (vv * wu - uv * wv) / whole, (uu * wv - uv * wu) / whole
    foot: NDArray[np.float64] = first + s[:, None] * u + t[:, None] * v
    foot[~((s >= 0) & (t >= 0) & (s + t <= 1))] = np.nan
    return foot


NO_PIXELS: NDArray[np.int64] = np.zeros((0, 2), np.int64)


def measure_lines(line: NDArray[np.uint8], loose: NDArray[np.int64] = NO_PIXELS) -> Ink:
    """Measure the lines' half widths and the drawing's pen width (twice the median depth of the ridges)."""
    depth = cv2.distanceTransform(line, cv2.DIST_L2, cv2.DIST_MASK_5).astype(np.float32, copy=False)
    highest = cv2.dilate(depth, np.ones((3, 3), np.uint8))
    high = np.flatnonzero((depth >= highest - 0.01) & (line > 0))
    ridge = np.stack(np.divmod(high, line.shape[1]), axis=1)
    depths = depth[ridge[:, 0], ridge[:, 1]]
    pen = max(1.0, float(2.0 * np.median(depths) - 0.5)) if len(depths) else 0.0
    return Ink(line, depth, loose, ridge, pen)
