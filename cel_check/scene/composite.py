"""Frames as the camera sees them: the background and the cels of one frame, laid over one another.

    camera = Compositor(scene, frame_size(result.cels), reduce=4)
    for exposure in exposures_of(scene).frames:
        shot = camera.shoot(exposure.cels)
        shot.rgb, shot.left_out

Frames are best asked for in order: a frame that shows what the last one showed is the same array again, what
lies below the lowest level that changed is not laid again, and a cel is read once as long as the cache holds
it. Cels of a scan are shown with their card: they are laid as they were read.
"""

from collections import Counter, OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from cel_check.errors import BadPicture, Refused
from cel_check.picture.picture import Picture
from cel_check.picture.reader import read_picture
from cel_check.scene.blend import lay_over, reduced
from cel_check.scene.frames import Key
from cel_check.scene.results import CelResult
from cel_check.scene.scene import Scene
from cel_check.scene.summary import CelLine

Bytes = NDArray[np.uint8]

HELD_BYTES = 96 * 1024 * 1024
"""Memory that the cache of cels may take: eleven whole cels of 1920 x 1080, many more made smaller."""

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
        left_out: what belongs in the frame and could not be shown, as `A-12` for drawing 12 of level A or as
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
    """Composites frames of one scene, in level order, straight alpha, mixed in linear light (see `blend`)."""

    def __init__(self, scene: Scene, size: tuple[int, int], reduce: int = 1, held: int = HELD_BYTES) -> None:
        """Prepare; no picture is read yet.

        Args:
            scene: as loaded.
            size: width and height of the frame in pixels of the cels, as `frame_size` tells.
            reduce: 4 for frames a quarter as wide and high, means over areas; 1 for whole ones.
            held: bytes of cels that are kept.
        """
        self._files = _files(scene)
        self._background = (scene.background,) if scene.background else ()
        self._folder = scene.folder
        self._size = tuple(-(-side // reduce) for side in size)
        self._reduce, self._held, self._bytes = reduce, held, 0
        self._cache: OrderedDict[Path, Layer | None] = OrderedDict()
        self._stack: list[tuple[Key, Shot]] = []

    def shoot(self, cels: Sequence[Key]) -> Shot:
        """Return the frame that shows these cels, `(level, drawing)` from the bottom level to the top."""
        keys = (*((name, "") for name in self._background), *cels)
        same = 0
        while same < min(len(keys), len(self._stack)) and keys[same] == self._stack[same][0]:
            same += 1
        del self._stack[same:]
        shot = self._stack[-1][1] if self._stack else self._empty()
        for key in keys[same:]:
            shot = self._with(shot, key)
            self._stack.append((key, shot))
        return shot

    def _empty(self) -> Shot:
        width, height = self._size
        return _shot(np.full((height, width, 3), PAPER, np.uint8), ())

    def _with(self, shot: Shot, key: Key) -> Shot:
        layer = self._layer(key)
        if layer is None:
            name = f"{key[0]}-{key[1]}" if key[1] else key[0]
            return Shot(shot.rgb, (*shot.left_out, name))
        rgb = shot.rgb.copy()
        lay(rgb, layer)
        return _shot(rgb, shot.left_out)

    def _layer(self, key: Key) -> Layer | None:
        path = self._files.get(key) if key[1] else self._folder / key[0]
        if path is None:
            return None
        if path not in self._cache:
            self._keep(path, _read(path, self._reduce))
        self._cache.move_to_end(path)
        return self._cache[path]

    def _keep(self, path: Path, layer: Layer | None) -> None:
        self._cache[path] = layer
        self._bytes += layer.art.nbytes if layer else 0
        while self._bytes > self._held and len(self._cache) > 1:
            _, oldest = self._cache.popitem(last=False)
            self._bytes -= oldest.art.nbytes if oldest else 0


def _shot(rgb: Bytes, left_out: tuple[str, ...]) -> Shot:
    rgb.setflags(write=False)  # holds share it
    return Shot(rgb, left_out)


def _files(scene: Scene) -> Mapping[Key, Path]:
    """Return where each drawing lies; links to outside the scene folder are not followed."""
    return {
        (level.name, drawing.drawing): drawing.path
        for level in scene.levels
        for drawing in level.drawings
        if not drawing.outside
    }


def _read(path: Path, reduce: int) -> Layer | None:
    try:
        return layer_of(read_picture(path), reduce)
    except (BadPicture, Refused, OSError, ValueError):
        return None  # the check of the cel says why
