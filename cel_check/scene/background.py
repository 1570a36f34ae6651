"""A scene's background, read once for all that is laid over it: the frames looked at, and the report's.

The scenes of a sequence each bring the same painting in a folder of their own, so it is known by its content.
"""

from collections import OrderedDict
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from cel_check.picture.reader import read_picture
from cel_check.picture.shrink import shrunk
from cel_check.picture.source import read_source
from cel_check.settings import DEFAULTS

Bytes = NDArray[np.uint8]

KEPT = 2
"""Backgrounds that are kept: neighboring scenes of a sequence share them (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Background:
    """A painting, `(h, w, 4)` uint8 sRGB, straight alpha, and what is made of it: not to be written to."""

    rgba: Bytes
    _smaller: dict[tuple[int, int], Bytes] = field(default_factory=dict)

    def at(self, width: int, height: int) -> Bytes:
        """Return it at another size, at most its own: the frames and tiles of its scenes share it."""
        if (width, height) not in self._smaller:
            self._smaller[width, height] = _read_only(shrunk(self.rgba, width, height))
        return self._smaller[width, height]


_kept: OrderedDict[str, Background] = OrderedDict()
"""By the sha256 of their files, the one that was used last at the end."""


def read_background(path: Path) -> Background:
    """Return a background.

    Args:
        path: its file.

    Raises:
        BadPicture: it cannot be read whole.
        OSError: it cannot be opened.
    """
    found = path.stat()
    digest = _digest(path, found.st_size, found.st_mtime_ns)
    background = _kept.pop(digest, None)
    if background is None:
        picture = read_picture(path)
        # What was read counts, should the file have changed since it was looked at.
        digest, background = picture.sha256, Background(_read_only(picture.rgba))
    _kept[digest] = background
    while len(_kept) > KEPT:
        _kept.popitem(last=False)
    return background


@lru_cache(maxsize=KEPT)
def _digest(path: Path, _size: int, _changed: int) -> str:
    return read_source(path, DEFAULTS).sha256


def _read_only(rgba: Bytes) -> Bytes:
    rgba.flags.writeable = False
    return rgba
