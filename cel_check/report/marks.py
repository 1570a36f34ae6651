"""Draws where the faults of a cel are: the whole cel with numbered marks, and each fault magnified."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from cel_check.faults import Box, FaultKind, Point
from cel_check.report.ground import Rgb, Rgba, enlarge, ground, lay_over, shrink
from cel_check.report.shapes import SHAPES

MARKED_WIDTH = 1200
"""Widest marked picture, px: fills a page of paper at 150 dots an inch."""
MARKED_HEIGHT = 1600
MARKED_LEAST = 640
"""A smaller cel is enlarged by a whole number up to about this width, px, so that marks do not bury it."""
CROP_SIDE = 360
"""Longest side of a magnified crop, px."""
CROP_LEAST = 30
"""A crop shows at least this many pixels of the cel each way, so that the place can be recognised."""
MOST_MAGNIFIED = 12
BADGE = 13
"""Half the height of a badge, px."""
LEAST_FRAME = 14
"""The frame round a speck is at least this wide and high, px."""

DARK = (16, 16, 16)
LIGHT = (255, 255, 255)
# Two outlines of opposite lightness: one of them stands out from any color (WCAG 2.2, 1.4.11 asks for 3:1).


@dataclass(frozen=True)
class Mark:
    """One fault to be marked: its number on the cel, its kind, and its box in pixels of the cel."""

    number: int
    kind: FaultKind
    box: Box


@dataclass(frozen=True, eq=False)
class Crop:
    """A fault seen close.

    Attributes:
        rgb: `(h, w, 3)` uint8, the true pixels enlarged by a whole number, over the ground.
        times: the enlargement.
        whole: False where the fault's box is larger than the crop.
    """

    rgb: Rgb
    times: int
    whole: bool


def marked_picture(rgba: Rgba, marks: Sequence[Mark]) -> Rgb:
    """Return the whole cel over the ground with every mark drawn on it.

    Args:
        rgba: `(h, w, 4)` uint8, sRGB, straight alpha.
        marks: what to mark; earlier ones get the better places for their badges.
    """
    scaled, scale = _to_marked_size(rgba)
    height, width = scaled.shape[:2]
    rgb = lay_over(scaled, ground(height, width))
    frames = tuple(_frame(mark.box, scale) for mark in marks)
    for frame in frames:
        _draw_frame(rgb, frame)
    places = _badge_places(frames, width, height)
    for frame, place in zip(frames, places, strict=True):
        _draw_leader(rgb, frame, place)
    for mark, place in zip(marks, places, strict=True):
        _draw_badge(rgb, mark, place)
    return _with_numbers(rgb, marks, places)


def magnified(rgba: Rgba, box: Box, point: Point | None, at_most: int = MOST_MAGNIFIED) -> Crop:
    """Return the fault's box with a margin, its true pixels enlarged; a large one is cut round `point`.

    It is enlarged `at_most` so many times: as much as what it is shown beside.
    """
    height, width = rgba.shape[:2]
    x0, x1 = _window(box[0], box[2], width, point[0] if point else None)
    y0, y1 = _window(box[1], box[3], height, point[1] if point else None)
    times = max(1, min(at_most, CROP_SIDE // max(x1 - x0, y1 - y0, 1)))
    large = enlarge(rgba[y0:y1, x0:x1], times)
    rgb = lay_over(large, ground(*large.shape[:2]))
    left, top = (box[0] - x0) * times, (box[1] - y0) * times
    _draw_thin_frame(rgb, (left, top, box[2] * times, box[3] * times))
    whole = box[2] <= x1 - x0 and box[3] <= y1 - y0
    return Crop(rgb, times, whole)


def _window(start: int, length: int, limit: int, point: int | None) -> tuple[int, int]:
    """Return one axis of the crop as (first, last + 1), inside the picture."""
    wanted = max(length + 2 * max(6, length // 3), CROP_LEAST)
    middle = start + length // 2
    if wanted > CROP_SIDE:
        wanted = CROP_SIDE
        if length > CROP_SIDE and point is not None:
            middle = point
    wanted = min(wanted, limit)
    first = min(max(middle - wanted // 2, 0), limit - wanted)
    return first, first + wanted


def _to_marked_size(rgba: Rgba) -> tuple[Rgba, float]:
    height, width = rgba.shape[:2]
    scale = min(MARKED_WIDTH / width, MARKED_HEIGHT / height)
    if scale < 1:
        size = max(1, round(width * scale)), max(1, round(height * scale))
        return shrink(rgba, *size), scale
    times = max(1, min(round(MARKED_LEAST / width), int(scale)))
    return enlarge(rgba, times), float(times)


def _frame(box: Box, scale: float) -> Box:
    """Return the frame round a box in pixels of the marked picture: a little outside it, never too small."""
    x, y, w, h = (value * scale for value in box)
    wide, high = max(w + 8, LEAST_FRAME), max(h + 8, LEAST_FRAME)
    return round(x + w / 2 - wide / 2), round(y + h / 2 - high / 2), round(wide), round(high)


def _draw_frame(rgb: Rgb, frame: Box) -> None:
    x, y, w, h = frame
    for color, thickness in ((DARK, 5), (LIGHT, 2)):
        cv2.rectangle(rgb, (x, y), (x + w, y + h), color, thickness, cv2.LINE_AA)


def _draw_thin_frame(rgb: Rgb, frame: Box) -> None:
    """Draw the box's edge outside the box itself, so that it hides no pixel of the fault."""
    x, y, w, h = frame
    for out, color in ((1, LIGHT), (2, DARK)):
        cv2.rectangle(rgb, (x - out, y - out), (x + w - 1 + out, y + h - 1 + out), color, 1)


def _badge_places(frames: Sequence[Box], width: int, height: int) -> tuple[Point, ...]:
    """Return the middle of each badge: at a corner of its frame, clear of earlier badges where it can be."""
    places: list[Point] = []
    # The frame of a speck must not vanish under another's badge; a large one still shows round it.
    taken = [(x, y, w, h) for x, y, w, h in frames if max(w, h) < 4 * BADGE]
    for frame in frames:
        options = [_inside(option, width, height) for option in _corners(frame)]
        places.append(min(options, key=lambda option: _crowding(option, taken)))
        taken.append(_badge_box(places[-1]))
    return tuple(places)


def _badge_box(place: Point) -> Box:
    half = BADGE + 3
    return place[0] - half, place[1] - half, 2 * half, 2 * half


def _corners(frame: Box) -> tuple[Point, ...]:
    x, y, w, h = frame
    off = BADGE + 4
    near = ((x - off, y - off), (x + w + off, y - off), (x + w + off, y + h + off), (x - off, y + h + off))
    middles = (
        (x + w // 2, y - off),
        (x + w + off, y + h // 2),
        (x + w // 2, y + h + off),
        (x - off, y + h // 2),
    )
    far = tuple((px + dx, py) for px, py in near for dx in (-3 * BADGE, 3 * BADGE))
    return near + middles + far


def _inside(place: Point, width: int, height: int) -> Point:
    margin = BADGE + 4
    x = min(max(place[0], margin), max(width - margin, margin))
    y = min(max(place[1], margin), max(height - margin, margin))
    return x, y


def _crowding(option: Point, taken: Sequence[Box]) -> int:
    """Return how many pixels of the boxes in `taken` a badge at `option` would cover."""
    x, y, w, h = _badge_box(option)
    total = 0
    for left, top, wide, high in taken:
        across = min(x + w, left + wide) - max(x, left)
        down = min(y + h, top + high) - max(y, top)
        total += max(0, across) * max(0, down)
    return total


def _draw_leader(rgb: Rgb, frame: Box, place: Point) -> None:
    """Tie a badge to the nearest point of its frame."""
    x, y, w, h = frame
    end = min(max(place[0], x), x + w), min(max(place[1], y), y + h)
    for color, thickness in ((DARK, 5), (LIGHT, 2)):
        cv2.line(rgb, place, end, color, thickness, cv2.LINE_AA)


def _draw_badge(rgb: Rgb, mark: Mark, place: Point) -> None:
    outline: NDArray[np.int32] = np.array(
        [[round(place[0] + BADGE * x), round(place[1] + BADGE * y)] for x, y in SHAPES[mark.kind]], np.int32
    )
    cv2.polylines(rgb, [outline], True, DARK, 6, cv2.LINE_AA)
    cv2.polylines(rgb, [outline], True, LIGHT, 3, cv2.LINE_AA)
    cv2.fillPoly(rgb, [outline], DARK, cv2.LINE_AA)


def _with_numbers(rgb: Rgb, marks: Sequence[Mark], places: Sequence[Point]) -> Rgb:
    image = Image.fromarray(rgb)
    draw = ImageDraw.Draw(image)
    for mark, (x, y) in zip(marks, places, strict=True):
        text = str(mark.number)
        draw.text((x, y + 1), text, fill=LIGHT, font=_font(17 if len(text) < 2 else 14), anchor="mm")
    return np.asarray(image)


@cache
def _font(size: int) -> ImageFont.FreeTypeFont | ImageFont.ImageFont:
    """Return the font that comes with Pillow, so that pictures are the same on every machine."""
    return ImageFont.load_default(size)
