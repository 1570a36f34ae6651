"""Pictures for the page: frames as camera will see them, single cels, and what lies under one pixel.

Everything is scaled here and kept by the content of its files, so that a step costs the page no decoding.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

import imagecodecs
import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import srgb8_to_lab
from cel_check.errors import BadPicture, Refused
from cel_check.model.colormodel import Palette
from cel_check.picture.reader import read_picture
from cel_check.review.shelf import BACKGROUND, Shelf, Unknown
from cel_check.scene.composite import Layer, lay, layer_of

Rgba = NDArray[np.uint8]
Size = tuple[int, int]

REDUCTIONS = (1, 2, 3, 4, 6, 8)
"""Times by which pictures are made smaller."""

KEPT_PIXELS = 384 * 2**20
"""Bytes of decoded and scaled cels that are kept: 46 whole ones of 1920x1080, of cels with clear borders more
(a house choice)."""

KEPT_FILES = 256 * 2**20
"""Bytes of pictures ready to send that are kept: 43 frames of that size (a house choice)."""

BEHIND = 150
"""Gray behind a scene without a background: neutral, so that it shifts no color beside it."""

V = TypeVar("V")


class Kept(Generic[V]):
    """What was made last, up to a sum of bytes; the longest unused goes first."""

    def __init__(self, most: int, size: Callable[[V], int]) -> None:
        """Keep nothing yet."""
        self._most, self._size = most, size
        self._lock = threading.Lock()
        self._held: OrderedDict[Hashable, V] = OrderedDict()
        self._bytes = 0

    def get(self, key: Hashable, make: Callable[[], V]) -> V:
        """Return what stands under a key; it is made where nothing does."""
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
                return self._held[key]
        made = make()  # two threads may make the same: that costs time, and nothing else
        with self._lock:
            if key not in self._held:
                self._held[key] = made
                self._bytes += self._size(made)
            while self._bytes > self._most and len(self._held) > 1:
                self._bytes -= self._size(self._held.popitem(last=False)[1])
        return made


@dataclass(frozen=True)
class PaintDistance:
    """A paint beside a pixel: `MODEL/ID`, its name, its color and ΔE00."""

    key: str
    name: str
    srgb: str
    delta_e: float
    tolerance: float


@dataclass(frozen=True)
class Under:
    """One pixel of one cel: its color, L*a*b* (D65, 2 degree observer), alpha, and the paints by ΔE00."""

    level: str
    srgb: str
    lab: tuple[float, float, float]
    alpha: int
    paints: tuple[PaintDistance, ...]


class PictureDesk:
    """Makes and keeps the pictures of an episode."""

    def __init__(self) -> None:
        """Keep nothing yet."""
        self._layers: Kept[Layer | None] = Kept(KEPT_PIXELS, lambda one: one.art.nbytes if one else 0)
        self._files: Kept[bytes] = Kept(KEPT_FILES, len)

    def frame(self, shelf: Shelf, asked: "Asked", size: Size) -> bytes:
        """Return a frame as PNG: its cels over the background, those left out that the mask hides.

        Raises:
            Unknown: where there is no such frame.
        """
        paths = [drawing.path for _, drawing in shelf.cels_on(asked.frame, asked.mask)]
        if asked.mask & BACKGROUND and shelf.background is not None:
            paths.insert(0, shelf.background)
        stamps = tuple(_stamp(path) for path in paths)

        def make() -> bytes:
            shot = np.full((*_reduced(size, asked.reduce)[::-1], 3), BEHIND, np.uint8)
            for path in paths:
                layer = self._layer(path, asked.reduce)
                if layer is not None:
                    lay(shot, layer)
            return png(shot)

        return self._files.get((stamps, size, asked.reduce), make)

    def cel(self, shelf: Shelf, place: tuple[int, int], reduce: int, size: Size) -> bytes:
        """Return one cel alone as PNG with alpha, in the frame's size; `place` is its level and drawing.

        Raises:
            Unknown: where there is none, or it cannot be read.
        """
        path = shelf.drawing(*place).path

        def make() -> bytes:
            layer = self._layer(path, reduce)
            if layer is None:
                raise Unknown("its picture cannot be read")
            return png(_alone(layer, _reduced(size, reduce)))

        return self._files.get(("cel", _stamp(path), size, reduce), make)

    def under(self, shelf: Shelf, asked: "Asked", at: tuple[int, int], size: Size) -> tuple[Under, ...]:
        """Return what lies under one pixel of a frame, from the top level to the bottom; `at` is x, y."""
        found = []
        for level, drawing in reversed(shelf.cels_on(asked.frame, asked.mask)):
            layer = self._layer(drawing.path, 1)
            pixel = None if layer is None else _pixel(layer, at, size)
            if pixel is not None:
                own = shelf.levels[level]
                found.append(_under(own.name, pixel, own.palette))
        return tuple(found)

    def _layer(self, path: Path, reduce: int) -> Layer | None:
        """Return a picture made smaller; None where it cannot be read."""
        if reduce not in REDUCTIONS:
            raise Unknown("pictures are not made smaller by that")

        def make() -> Layer | None:
            try:
                return layer_of(read_picture(path), reduce)
            except (BadPicture, Refused, OSError, ValueError):
                return None

        return self._layers.get((*_stamp(path), reduce), make)


@dataclass(frozen=True)
class Asked:
    """Which picture is asked for: the frame's place, which levels show, and how much smaller."""

    frame: int
    mask: int
    reduce: int = 1


def _reduced(size: Size, reduce: int) -> Size:
    return -(-size[0] // reduce), -(-size[1] // reduce)


def offset_of(own: tuple[int | None, int | None], size: Size) -> tuple[int, int]:
    """Return where a cel's top left corner lies in the frame: center lies on center, as `lay` lays them."""
    return (size[0] - (own[0] or size[0])) // 2, (size[1] - (own[1] or size[1])) // 2


def _pixel(layer: Layer, at: tuple[int, int], size: Size) -> Rgba | None:
    """Return the `(4,)` pixel of a whole cel under a place of the frame; None where it is clear there."""
    across, down = offset_of((layer.width, layer.height), size)
    x, y = at[0] - across - layer.left, at[1] - down - layer.top
    height, width = layer.art.shape[:2]
    if not (0 <= x < width and 0 <= y < height) or not layer.art[y, x, 3]:
        return None
    return np.asarray(layer.art[y, x], np.uint8)


def _alone(layer: Layer, size: Size) -> Rgba:
    """Return a layer on a clear frame, cut at its edges."""
    across, down = offset_of((layer.width, layer.height), size)
    left, top = layer.left + across, layer.top + down
    clear = np.zeros((size[1], size[0], 4), np.uint8)
    x, y = max(left, 0), max(top, 0)
    right = min(left + layer.art.shape[1], size[0])
    bottom = min(top + layer.art.shape[0], size[1])
    if right > x and bottom > y:
        clear[y:bottom, x:right] = layer.art[y - top : bottom - top, x - left : right - left]
    return clear


def _stamp(path: Path) -> tuple[str, int, int]:
    """Return what tells a file's content from an earlier one."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return str(path), -1, -1
    return str(path), found.st_size, found.st_mtime_ns


def png(pixels: Rgba) -> bytes:
    """Return pixels as PNG, stored and not packed: to pack them takes ten times as long."""
    return bytes(imagecodecs.png_encode(np.ascontiguousarray(pixels), level=0, filter=0))


def _under(level: str, pixel: Rgba, palette: Palette | None) -> Under:
    lab = srgb8_to_lab(np.ascontiguousarray(pixel[:3]))
    colors = palette.colors if palette else ()
    paints = (
        [
            PaintDistance(
                f"{color.model}/{color.id}", color.name, _hex(color.srgb), float(distance), color.tolerance
            )
            for color, distance in zip(colors, ciede2000(lab, np.array([c.lab for c in colors])), strict=True)
        ]
        if colors
        else []
    )
    paints.sort(key=lambda paint: paint.delta_e)
    r, g, b, alpha = (int(value) for value in pixel)
    return Under(level, _hex((r, g, b)), (float(lab[0]), float(lab[1]), float(lab[2])), alpha, tuple(paints))


def _hex(rgb: tuple[int, int, int]) -> str:
    return "#{:02X}{:02X}{:02X}".format(*rgb)
