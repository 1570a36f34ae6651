"""The scene's frames in order, as small pictures: a frame's cels laid on one another over the background.

Frames that show the same cels in a row (a hold) share one tile.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from cel_check.faults import Verdict
from cel_check.picture.thumbnail import decode_thumbnail
from cel_check.report.ground import Rgb, Rgba, ground, lay_over, shrink
from cel_check.scene.background import Background
from cel_check.scene.composite import frame_size
from cel_check.scene.laid import Laid
from cel_check.scene.results import CelResult, FrameResult, SceneResult

TILE_WIDTH = 240
"""Width of a tile's picture, px: shown at some 150, so that it stays crisp on a dense screen."""
TILE_HEIGHT = 240

CelKey = tuple[str, str]
Layer = tuple[int, int, Rgba]
"""A cel's place on a tile, x and y, and its pixels without the clear cel around them."""


@dataclass(frozen=True)
class Tile:
    """One tile of the strip.

    Attributes:
        frames: the frames that it stands for; empty where there is no sheet and it stands for one drawing.
        cels: `(level, drawing)` from the bottom level to the top.
        verdict: of these frames.
        faults: ids of the faults that show on them.
        remarks: `(frame, column, text)` of the sheet's other columns.
    """

    frames: tuple[int, ...]
    cels: tuple[CelKey, ...]
    verdict: Verdict
    faults: tuple[str, ...] = ()
    remarks: tuple[tuple[int, str, str], ...] = ()


def strip_tiles(result: SceneResult) -> tuple[Tile, ...]:
    """Return the tiles of the strip: the frames with holds gathered; with no sheet, one a drawing."""
    if not result.frames:
        return tuple(_drawing_tile(cel) for cel in result.cels)
    holds: list[list[FrameResult]] = []
    for frame in result.frames:
        if holds and _look(holds[-1][-1]) == _look(frame):
            holds[-1].append(frame)
        else:
            holds.append([frame])
    return tuple(_held_tile(hold) for hold in holds)


def _look(frame: FrameResult) -> tuple[object, ...]:
    return frame.cels, frame.verdict, frame.faults


def _held_tile(hold: Sequence[FrameResult]) -> Tile:
    first = hold[0]
    remarks = tuple((frame.frame, column, text) for frame in hold for column, text in frame.remarks)
    return Tile(tuple(frame.frame for frame in hold), first.cels, first.verdict, first.faults, remarks)


def _drawing_tile(cel: CelResult) -> Tile:
    ids = tuple(fault.id for fault in cel.faults)
    return Tile((), ((cel.level, cel.drawing),), cel.verdict, ids)


class Composer:
    """Lays the thumbnails of a frame's cels on one another.

    All cels are centered on one canvas of the size that most cels have: the field's middle is where pegs and
    camera agree (common practice, no source).
    """

    def __init__(self, cels: Sequence[CelResult], background: Background | None) -> None:
        """Decode nothing yet; `background` is of any size."""
        self._cels: Mapping[CelKey, CelResult] = {(cel.level, cel.drawing): cel for cel in cels}
        self._canvas = _usual_size(cels)
        self._below = _cover(background, *self._tile_size())
        # A hold's level stays for many tiles; more than these would only fill memory on a long scene.
        self._layer = lru_cache(maxsize=64)(self._place_key)
        self._laid: Laid[CelKey, Rgb] = Laid(self._below, self._with)

    def compose(self, tile: Tile) -> Rgb | None:
        """Return the tile's picture, not to be written to, or None where no cel of it has one.

        Tiles are best asked for in order: what lies below the lowest level that changed is not laid again.
        """
        if tile.cels and all(self._layer(key) is None for key in tile.cels):
            return None
        return self._laid.seen(tile.cels)

    def _with(self, below: Rgb, key: CelKey) -> Rgb:
        """Return a picture with one more cel laid on it."""
        layer = self._layer(key)
        if layer is None or not layer[2].size:
            return below  # OpenCV takes no picture without pixels, as a clear cel's is
        x, y, art = layer
        rgb = below.copy()
        place = rgb[y : y + art.shape[0], x : x + art.shape[1]]
        place[:] = lay_over(art, place)
        return rgb

    def _tile_size(self) -> tuple[int, int]:
        width, height = self._canvas
        scale = min(TILE_WIDTH / width, TILE_HEIGHT / height)
        return max(1, round(width * scale)), max(1, round(height * scale))

    def _place_key(self, key: CelKey) -> Layer | None:
        cel = self._cels.get(key)
        return None if cel is None else self._place(cel)

    def _place(self, cel: CelResult) -> Layer | None:
        thumbnail = decode_thumbnail(cel.thumbnail)
        if thumbnail is None:
            return None
        size = self._tile_size()
        scale = size[0] / self._canvas[0]
        width = max(1, round((cel.width or self._canvas[0]) * scale))
        height = max(1, round((cel.height or self._canvas[1]) * scale))
        layer = _centered(shrink(thumbnail, width, height), *size)
        x, y, wide, high = cv2.boundingRect(cv2.extractChannel(layer, 3))
        return x, y, np.ascontiguousarray(layer[y : y + high, x : x + wide])


def _usual_size(cels: Sequence[CelResult]) -> tuple[int, int]:
    return frame_size(cels) if any(cel.width and cel.height for cel in cels) else (16, 9)


def _centered(rgba: Rgba, width: int, height: int) -> Rgba:
    """Return `rgba` in the middle of a clear layer of the given size; what is outside is cut off."""
    layer = np.zeros((height, width, 4), np.uint8)
    (to_y, from_y, high), (to_x, from_x, wide) = (
        _overlap(rgba.shape[0], height),
        _overlap(rgba.shape[1], width),
    )
    layer[to_y : to_y + high, to_x : to_x + wide] = rgba[from_y : from_y + high, from_x : from_x + wide]
    return layer


def _overlap(source: int, target: int) -> tuple[int, int, int]:
    """Return where one axis goes to, where it comes from, and how long it is."""
    length = min(source, target)
    return (target - length) // 2, (source - length) // 2, length


def _cover(background: Background | None, width: int, height: int) -> Rgb:
    """Return the background scaled to fill the tile, its middle kept; the plain ground for none."""
    below = ground(height, width)
    if background is None:
        return below
    high, wide = background.rgba.shape[:2]
    scale = max(width / wide, height / high)
    size = max(width, round(wide * scale)), max(height, round(high * scale))
    smaller = size[0] <= wide and size[1] <= high
    fitted = background.at(*size) if smaller else shrink(background.rgba, *size)
    return lay_over(_centered(fitted, width, height), below)
