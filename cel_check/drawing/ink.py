"""Ink lines: pixels of an ink color, and blended pixels that no mix of the paints beside them explains.

A line of one to three pixels has few pixels of its pure color. A blended pixel between two paints lies on the
straight line between their colors in RGB; one that carries ink lies off it, towards the ink. That is what the
rim test measures, so thin, colored and tapering lines are found without any threshold of darkness.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.clear import Ground
from cel_check.drawing.flats import Flats
from cel_check.drawing.match import NONE
from cel_check.drawing.pure import Rgb, may_be
from cel_check.model.colormodel import Palette, Use

COVERAGE = 0.35
"""Share of ink from which a blended pixel counts as line; below, it is the soft edge of the line."""

OFF_MIX = 22.0
"""Distance in 8-bit RGB from every mix of the paints beside it from which a pixel has its own color."""

ALONE = 45.0
"""Distance in 8-bit RGB from an ink within which a thin mark on clear cel is that ink."""

PURE_STEP = 3
"""Levels (of 255) within which a pixel has a paint's pure color."""

RING: tuple[tuple[int, int], ...] = (
    *((down, right) for down in (-2, 0, 2) for right in (-2, 0, 2) if (down, right) != (0, 0)),
    *((-1, 0), (1, 0), (0, -1), (0, 1)),
)
"""Steps (rows, columns) at which a blended pixel looks for the two fills that it lies between."""

SAME_DEPTH = 0.01
"""Pixels by which a ridge may be less deep than a neighbor: the distances are sums of rounded steps."""

Vectors = NDArray[np.float32]
"""`(3, n)` colors in 8-bit RGB, in single precision: a rim has tens of thousands of pixels."""
Floats = NDArray[Any]
"""The same in either precision, or lengths of them."""


@dataclass(frozen=True, eq=False)
class Ink:
    """The lines of a drawing.

    Attributes:
        line: `(h, w)` uint8, 255 where a line is: its pure pixels and those covered by at least `COVERAGE`.
        depth: `(h, w)` float32 distance in pixels from each line pixel to the nearest pixel that is none.
        loose: `(n, 2)` rows and columns of the line pixels that are in no flat: blended ones, small marks.
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
    line = flats.rows.spread(role)
    cv2.threshold(line, 1, 255, cv2.THRESH_BINARY, line)
    neither = flats.rows.only((role[flats.rows.region] == 0) & (flats.rows.region > 0)).pixels()
    rim = np.insert(flats.bare, np.searchsorted(flats.bare, neither), neither)
    if len(rim):
        sides = _sides(ground, flats, paints, rim)
        found = ground.rgba.view(np.uint32).ravel()[rim].view(np.uint8).reshape(-1, 4)
        rim = rim[_carries_ink(found, sides, palette)]
        line.ravel()[rim] = 255
    return line, np.stack(np.divmod(rim, line.shape[1]), axis=1)


def _sides(
    ground: Ground, flats: Flats, paints: NDArray[np.bool_], rim: NDArray[np.int64]
) -> tuple[Vectors, Vectors, Vectors]:
    """Return the `(3, n)` colors of up to three fills beside each rim pixel; NaN where there is none.

    On an opaque picture the card is a side like any fill: its color is blended into the rim. Only the rim's
    own neighborhoods are looked at, a few hundredths of a cel.
    """
    card = len(paints)
    number = np.where(paints, np.arange(card), 0).astype(np.int32)
    everywhere, width = flats.filled.ravel(), flats.filled.shape[1]
    seen = np.empty((len(RING), len(rim)), np.int32)
    for around, (down, right) in zip(seen, RING, strict=True):
        # The art is padded by more than the ring's reach, and what lies in the pad is clear.
        there = rim + (down * width + right)
        np.take(number, np.take(everywhere, there), out=around, mode="clip")
        if ground.card is not None:
            around[ground.clear.ravel()[there] > 0] = card
    top = seen.max(axis=0)
    # Less one without a sign, no fill is the largest number of all.
    bottom = ((seen.view(np.uint32) - np.uint32(1)).min(axis=0) + np.uint32(1)).view(np.int32)
    # Only between two that differ is there room for a third.
    two = np.flatnonzero(top > bottom)
    low, high, between = bottom[two], top[two], np.zeros(len(two), np.int32)
    for around in seen:
        some = around[two]
        np.copyto(between, some, where=(some > low) & (some < high))
    middle = np.zeros(len(rim), np.int32)
    middle[two] = between
    colors = np.vstack([flats.rgb.astype(np.float32), [ground.card or (np.nan, np.nan, np.nan)]])
    colors[0] = np.nan
    channels = np.ascontiguousarray(colors.T, np.float32)
    return (
        np.take(channels, top, axis=1),
        np.take(channels, bottom, axis=1),
        np.take(channels, middle, axis=1),
    )


def _carries_ink(
    pixels: NDArray[np.uint8],
    sides: tuple[Vectors, Vectors, Vectors],
    palette: Palette,
) -> NDArray[np.bool_]:
    """Tell which blended `(n, 4)` pixels carry ink, given the `(3, n)` colors of the fills beside them."""
    found = np.ascontiguousarray(pixels.T[:3], np.float32)
    mix = _nearest_mix(found, *sides)
    away = found - mix
    distance = _length(away)
    alone = np.flatnonzero(np.isnan(distance))
    by_itself = found[:, alone]
    distance[alone] = 0.0
    carries = distance > OFF_MIX
    for ink in ink_colors(palette).astype(np.float32)[:, :, None]:
        towards = ink - mix
        length = _length(towards)
        along = _dot(away, towards) / np.maximum(length, 1.0)
        carries |= (along >= COVERAGE * length) & (along >= 0.7 * distance) & (length > 1.0)
        # Nothing but clear cel beside it: a thin line by itself, which keeps its color under partial alpha.
        carries[alone] |= _length(by_itself - ink) < ALONE
    these = np.flatnonzero(carries)
    carries[these[_is_pure_paint(pixels[these], _told_from_inks(palette))]] = False
    return carries


@lru_cache(maxsize=16)
def _told_from_inks(palette: Palette) -> tuple[Rgb, ...]:
    """Return the paints that no ink is nearly as good as."""
    inks = ink_colors(palette)
    return tuple(
        color.srgb
        for color in palette.colors
        if color.use is Use.PAINT
        and (np.abs(inks - np.array(color.srgb)).max(axis=1, initial=0.0) > 2 * PURE_STEP).all()
    )


def _is_pure_paint(pixels: NDArray[np.uint8], paints: tuple[Rgb, ...]) -> NDArray[np.bool_]:
    """Tell which `(n, 4)` pixels have a paint's pure color.

    The last pixels of a fill's thin tip have its pure color and no flat of their own.
    """
    pure = may_be(pixels, paints, PURE_STEP)
    likely = np.flatnonzero(pure)
    words, which = np.unique(pixels.view("<u4").ravel()[likely] & 0xFFFFFF, return_inverse=True)
    colors = words.view(np.uint8).reshape(-1, 4)[:, :3]
    apart = np.abs(colors.astype(np.int16)[:, None] - np.array(paints, np.int16).reshape(1, -1, 3)).max(
        axis=2
    )
    pure[likely] = (apart <= PURE_STEP).any(axis=1)[which]
    return pure


def _dot(first: Floats, second: Floats) -> Floats:
    """Return the scalar products of `(3, n)` vectors.

    Spelled out, as numpy's sum over a short axis takes three times as long.
    """
    dot: Floats = first[0] * second[0]
    dot += first[1] * second[1]
    dot += first[2] * second[2]
    return dot


def _length(vectors: Floats) -> Floats:
    """Return the lengths of `(3, n)` vectors."""
    length: Floats = np.sqrt(_dot(vectors, vectors))
    return length


def _nearest_mix(
    found: Vectors,
    first: Vectors,
    second: Vectors,
    third: Vectors,
) -> Vectors:
    """Return the nearest mix to each `(3, n)` color of two others, or of three where a third is given."""
    best = _on_segment(found, first, second)
    more = np.flatnonzero(~np.isnan(third[0]))
    if len(more):
        # The determinant of a triangle needs more digits than single precision has.
        color, *corners = (vectors[:, more].astype(np.float64) for vectors in (found, first, second, third))
        options = np.stack(
            [best[:, more]]
            + [_on_segment(color, corners[2], corners[k]) for k in (0, 1)]
            + [_in_triangle(color, *corners)]
        )
        distance = np.nan_to_num([_length(option - color) for option in options], nan=np.inf)
        best[:, more] = options[distance.argmin(axis=0), :, np.arange(len(more))].T
    return best


def _on_segment(found: Floats, first: Floats, second: Floats) -> Floats:
    """Return the nearest point to each color on the segment between two others; all are `(3, n)`."""
    span = second - first
    square = np.maximum(_dot(span, span), 1e-9)
    share = np.clip(_dot(found - first, span) / square, 0.0, 1.0)
    span *= share
    span += first
    return span


def _in_triangle(
    found: Floats,
    first: Floats,
    second: Floats,
    third: Floats,
) -> Floats:
    """Return the foot of each `(3, n)` color on the plane of three others; NaN outside their triangle."""
    u, v, w = second - first, third - first, found - first
    uu, uv, vv, wu, wv = _dot(u, u), _dot(u, v), _dot(v, v), _dot(w, u), _dot(w, v)
    whole = uu * vv - uv * uv
    whole[np.abs(whole) < 1e-6] = np.nan
    s, t = (vv * wu - uv * wv) / whole, (uu * wv - uv * wu) / whole
    foot: Floats = first + s * u + t * v
    foot[:, ~((s >= 0) & (t >= 0) & (s + t <= 1))] = np.nan
    return foot


NO_PIXELS: NDArray[np.int64] = np.zeros((0, 2), np.int64)


def measure_lines(line: NDArray[np.uint8], loose: NDArray[np.int64] = NO_PIXELS) -> Ink:
    """Measure the lines' half widths and the drawing's pen width (twice the median depth of the ridges)."""
    depth = cv2.distanceTransform(line, cv2.DIST_L2, cv2.DIST_MASK_5).astype(np.float32, copy=False)
    highest = cv2.dilate(depth, np.ones((3, 3), np.uint8))
    high = np.flatnonzero(((depth + np.float32(SAME_DEPTH) >= highest) & (line > 0)).ravel())
    ridge = np.stack(np.divmod(high, line.shape[1]), axis=1)
    depths = np.sort(depth.ravel()[high])
    middle = (depths[len(depths) // 2] + depths[(len(depths) - 1) // 2]) / 2 if len(depths) else 0.0
    pen = max(1.0, float(2.0 * middle - 0.5)) if len(depths) else 0.0
    return Ink(line, depth, loose, ridge, pen)
