"""Pictures for the page: frames as camera will see them, single cels, and what lies under one pixel.

Everything is scaled here and kept by the content of its files, so that a step costs the page no decoding.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

import cv2
import imagecodecs
import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import srgb8_to_lab
from cel_check.errors import BadPicture, Refused
from cel_check.model.colormodel import Palette
from cel_check.picture.reader import read_picture
from cel_check.picture.shrink import shrunk
from cel_check.review.shelf import BACKGROUND, Shelf, Unknown

Rgba = NDArray[np.uint8]

WIDTHS = (480, 960, 1440, 1920, 2560, 3840)
"""Widths in pixels to which pictures are scaled; 0 asks for the picture's own."""

KEPT_PIXELS = 384 * 2**20
"""Bytes of decoded and scaled pictures that are kept: some 46 cels of 1920x1080 (a house choice)."""

KEPT_FILES = 128 * 2**20
"""Bytes of pictures ready to send that are kept: some 300 frames of that size (a house choice)."""

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
        self._pixels: Kept[Rgba] = Kept(KEPT_PIXELS, lambda rgba: int(rgba.nbytes))
        self._files: Kept[bytes] = Kept(KEPT_FILES, len)

    def frame(self, shelf: Shelf, index: int, mask: int, width: int) -> bytes:
        """Return a frame as PNG: its cels over the background, those left out that `mask` hides.

        Raises:
            Unknown: where there is no such frame, or nothing to show.
        """
        paths = [drawing.path for _, drawing in shelf.cels_on(index, mask)]
        behind = shelf.background if mask & BACKGROUND else None
        key = (*(_stamp(path) for path in paths), behind and _stamp(behind), width)

        def make() -> bytes:
            layers = [layer for path in paths if (layer := self._layer(path, width)) is not None]
            ground = self._layer(behind, width) if behind else None
            return png(composed(ground, layers, self._size(shelf, width)))

        return self._files.get(key, make)

    def cel(self, shelf: Shelf, level: int, drawing: int, width: int) -> bytes:
        """Return one cel alone as PNG with alpha.

        Raises:
            Unknown: where there is none, or it cannot be read.
        """
        path = shelf.drawing(level, drawing).path

        def make() -> bytes:
            layer = self._layer(path, width)
            if layer is None:
                raise Unknown("its picture cannot be read")
            return png(layer)

        return self._files.get(("cel", _stamp(path), width), make)

    def under(self, shelf: Shelf, index: int, at: tuple[int, int], mask: int) -> tuple[Under, ...]:
        """Return what lies under one pixel of a frame, from the top level to the bottom.

        Args:
            shelf: the scene.
            index: the frame's place.
            at: x, y on the picture in its own size.
            mask: which levels are shown.
        """
        x, y = at
        found = []
        for level, drawing in reversed(shelf.cels_on(index, mask)):
            rgba = self._layer(drawing.path, 0)
            if rgba is not None and 0 <= y < rgba.shape[0] and 0 <= x < rgba.shape[1] and rgba[y, x, 3]:
                own = shelf.levels[level]
                found.append(_under(own.name, rgba[y, x], own.palette))
        return tuple(found)

    def size(self, shelf: Shelf) -> tuple[int, int]:
        """Return the width and height of a scene's pictures: of its first cel that can be read."""
        return self._size(shelf, 0)

    def _size(self, shelf: Shelf, width: int) -> tuple[int, int]:
        for level in shelf.levels:
            for drawing in level.drawings:
                layer = None if drawing.outside else self._layer(drawing.path, width)
                if layer is not None:
                    return int(layer.shape[1]), int(layer.shape[0])
        raise Unknown("there is no picture to show")

    def _layer(self, path: Path, width: int) -> Rgba | None:
        """Return a picture at a width; None where it cannot be read. Nothing is ever enlarged."""
        if width not in (0, *WIDTHS):
            raise Unknown("pictures have no such width")
        try:
            full = self._pixels.get(_stamp(path), lambda: read_picture(path).rgba)
        except (BadPicture, Refused, OSError, ValueError):
            return None
        if width == 0 or full.shape[1] <= width:
            return full
        height = max(1, round(full.shape[0] * width / full.shape[1]))
        return self._pixels.get((*_stamp(path), width), lambda: shrunk(full, width, height))


def _stamp(path: Path) -> tuple[str, int, int]:
    """Return what tells a file's content from an earlier one."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return str(path), -1, -1
    return str(path), found.st_size, found.st_mtime_ns


def composed(ground: Rgba | None, layers: list[Rgba], size: tuple[int, int]) -> Rgba:
    """Return cels over a background as `(h, w, 3)` uint8 sRGB.

    Straight alpha is laid over in sRGB codes, as the report's pictures are. Pictures of another size than the
    scene's lie at its top left corner, as far as they fit.
    """
    width, height = size
    base = np.full((height, width, 3), BEHIND, np.uint8)
    for layer in ([ground] if ground is not None else []) + layers:
        rows, columns = min(height, layer.shape[0]), min(width, layer.shape[1])
        _lay(base[:rows, :columns], layer[:rows, :columns])
    return base


def _lay(base: Rgba, layer: Rgba) -> None:
    """Lay a cel over `base`, in place."""
    alpha = cv2.extractChannel(layer, 3)
    solid = alpha == 255
    base[solid] = layer[solid, :3]
    soft = (alpha > 0) & ~solid
    if soft.any():
        share = alpha[soft].astype(np.float32)[:, None] / 255
        mixed = layer[soft, :3] * share + base[soft] * (1 - share)
        base[soft] = np.rint(mixed).astype(np.uint8)


def png(pixels: Rgba) -> bytes:
    """Return pixels as PNG, packed in haste: it travels within one machine."""
    return bytes(imagecodecs.png_encode(np.ascontiguousarray(pixels), level=1))


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
