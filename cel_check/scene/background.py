"""A scene's background, read once for all that is laid over it: the frames looked at, and the report's."""

from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from cel_check.picture.reader import read_picture

KEPT = 2
"""Backgrounds that are kept: neighboring scenes of a sequence share them (common practice, no source)."""


def read_background(path: Path) -> NDArray[np.uint8]:
    """Return a background as `(h, w, 4)` uint8 sRGB, straight alpha; not to be written to.

    Args:
        path: its file.

    Raises:
        BadPicture: it cannot be read whole.
        OSError: it cannot be opened.
    """
    found = path.stat()
    return _read(path, found.st_size, found.st_mtime_ns)


@lru_cache(maxsize=KEPT)
def _read(path: Path, _size: int, _changed: int) -> NDArray[np.uint8]:
    rgba = read_picture(path).rgba
    rgba.flags.writeable = False
    return rgba
