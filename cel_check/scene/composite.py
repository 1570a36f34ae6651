"""Frames as the camera sees them, small: the background and the cels of one frame, laid over one another.

    camera = Compositor(scene, cels)
    for exposure in exposures_of(scene).frames:
        shot = camera.shoot(exposure.cels)
        shot.rgb, shot.left_out

Cels are laid from their thumbnails: no cel is decoded again, and a scene whose cels are remembered gives the
same frames as one whose cels have just been checked. Frames are best asked for in order: a frame that shows
what the last one showed is the same array again, and what lies below the lowest level that changed is not
laid again.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.errors import BadPicture, Refused
from cel_check.picture.picture import Picture
from cel_check.picture.shrink import shrunk
from cel_check.picture.thumbnail import decode_thumbnail
from cel_check.scene.background import read_background
from cel_check.scene.blend import lay_over, reduced
from cel_check.scene.frames import Key
from cel_check.scene.laid import Laid
from cel_check.scene.results import CelResult
from cel_check.scene.scene import Scene
from cel_check.scene.summary import CelLine

Bytes = NDArray[np.uint8]

FRAME_WIDTH, FRAME_HEIGHT = 240, 960
"""Most pixels of a small frame: those of a thumbnail, so that nearly all cels are laid as they are."""

HELD_LAYERS = 64
"""Cels that are kept unpacked: 8 MB of frames of 240 x 135."""

PAPER = 255
"""What shows where there is neither cel nor background: white."""


@dataclass(frozen=True, eq=False)
class Layer:
    """One picture, ready to be laid.

    Attributes:
        art: `(h, w, 4)` uint8, sRGB, straight alpha: its visible rectangle at the frame's scale.
        left: pixels from the picture's left edge to the art's, at that scale.
        top: the same from above.
        width: of the whole picture at that scale.
        height: the same.
    """

    art: Bytes
    left: int
    top: int
    width: int
    height: int


@dataclass(frozen=True, eq=False)
class Shot:
    """One composite frame.

    Attributes:
        rgb: `(h, w, 3)` uint8, sRGB, read-only.
        left_out: what belongs in the frame and could not be shown, as `A 12` for drawing 12 of level A or as
            the background's path; empty where the frame is whole.
    """

    rgb: Bytes
    left_out: tuple[str, ...]


def frame_size(cels: Iterable[CelResult | CelLine]) -> tuple[int, int]:
    """Return the width and height that most cels have: pan cels are larger than the field; 1 x 1 for none."""
    sizes = Counter((cel.width, cel.height) for cel in cels if cel.width and cel.height)
    if not sizes:
        return 1, 1
    width, height = max(sizes, key=lambda size: (sizes[size], size))
    return width or 1, height or 1


def layer_of(picture: Picture, reduce: int = 1) -> Layer:
    """Return a picture as a layer 1/`reduce` as large; only its visible rectangle is worked on."""
    x, y, w, h = picture.visible
    left, top = x // reduce, y // reduce
    right, bottom = -(-(x + w) // reduce), -(-(y + h) // reduce)
    art = picture.rgba[top * reduce : bottom * reduce, left * reduce : right * reduce]
    width, height = -(-picture.width // reduce), -(-picture.height // reduce)
    small = reduced(np.ascontiguousarray(art), reduce) if art.size else np.zeros((0, 0, 4), np.uint8)
    return Layer(small, left, top, width, height)


def lay(frame: Bytes, layer: Layer) -> None:
    """Lay a layer over a `(h, w, 3)` uint8 frame, in place, center on center, cut at the frame's edges.

    Levels are registered by pegs in the middle of the field, hence the centers (common practice, no source).
    """
    left = layer.left + (frame.shape[1] - layer.width) // 2
    top = layer.top + (frame.shape[0] - layer.height) // 2
    height, width = layer.art.shape[:2]
    x, y = max(left, 0), max(top, 0)
    right, bottom = min(left + width, frame.shape[1]), min(top + height, frame.shape[0])
    if right > x and bottom > y:
        lay_over(frame[y:bottom, x:right], layer.art[y - top : bottom - top, x - left : right - left])


class Compositor:
    """Composites small frames of one scene, in level order, straight alpha, mixed in linear light."""

    def __init__(self, scene: Scene, cels: Sequence[CelResult]) -> None:
        """Prepare; nothing is unpacked yet.

        Args:
            scene: as loaded.
            cels: its cels with their thumbnails.
        """
        self._cels = {(cel.level, cel.drawing): cel for cel in cels}
        self._full = frame_size(cels)
        self.scale = min(1.0, FRAME_WIDTH / self._full[0], FRAME_HEIGHT / self._full[1])
        self.size = self._scaled(*self._full)
        self._folder, self._background = scene.folder, scene.background
        self.has_background = scene.background is not None
        self.whole = True  # until a background is asked for that cannot be read
        self._laid: Laid[Key, Shot] = Laid(self._empty(), self._with)
        self.layer = lru_cache(maxsize=HELD_LAYERS)(self._layer)

    def shoot(self, cels: Sequence[Key]) -> Shot:
        """Return the frame that shows these cels, `(level, drawing)` from the bottom level to the top."""
        keys = (*(((self._background, ""),) if self._background else ()), *cels)
        return self._laid.seen(keys)

    def _scaled(self, width: int, height: int) -> tuple[int, int]:
        return max(1, round(width * self.scale)), max(1, round(height * self.scale))

    def _empty(self) -> Shot:
        width, height = self.size
        return _shot(np.full((height, width, 3), PAPER, np.uint8), ())

    def _with(self, shot: Shot, key: Key) -> Shot:
        layer = self.layer(key)
        if layer is None:
            name = f"{key[0]} {key[1]}" if key[1] else key[0]
            return Shot(shot.rgb, (*shot.left_out, name))
        rgb = shot.rgb.copy()
        lay(rgb, layer)
        return _shot(rgb, shot.left_out)

    def _layer(self, key: Key) -> Layer | None:
        """Return a cel, or the background, at the frame's scale; None where there is no picture of it."""
        if not key[1]:
            return self._behind(self._folder / key[0])
        cel = self._cels.get(key)
        if cel is None or not cel.width or not cel.height:
            return None
        rgba = decode_thumbnail(cel.thumbnail)
        if rgba is None:
            return None
        return _cropped(_resized(rgba, self._scaled(cel.width, cel.height)))

    def _behind(self, path: Path) -> Layer | None:
        try:
            background = read_background(path)
        except (BadPicture, Refused, OSError, ValueError):
            self.whole = False
            return None
        height, width = background.rgba.shape[:2]
        # A background that is smaller than the frame is a painting at another resolution: it is fitted.
        fit = max(1.0, self._full[0] / width, self._full[1] / height)
        size = self._scaled(round(width * fit), round(height * fit))
        smaller = size[0] <= width and size[1] <= height
        return _cropped(background.at(*size) if smaller else _resized(background.rgba, size))


def _resized(rgba: Bytes, size: tuple[int, int]) -> Bytes:
    """Return `(h, w, 4)` pixels at `(width, height)`; clear pixels lend no color to their neighbors."""
    width, height = size
    if rgba.shape[:2] == (height, width):
        return rgba
    if width <= rgba.shape[1] and height <= rgba.shape[0]:
        return shrunk(rgba, width, height)
    return np.asarray(cv2.resize(rgba, (width, height), interpolation=cv2.INTER_NEAREST), np.uint8)


def _cropped(rgba: Bytes) -> Layer:
    left, top, width, height = cv2.boundingRect(cv2.extractChannel(np.ascontiguousarray(rgba), 3))
    art = np.ascontiguousarray(rgba[top : top + height, left : left + width])
    return Layer(art, left, top, rgba.shape[1], rgba.shape[0])


def _shot(rgb: Bytes, left_out: tuple[str, ...]) -> Shot:
    rgb.setflags(write=False)  # holds share it
    return Shot(rgb, left_out)
