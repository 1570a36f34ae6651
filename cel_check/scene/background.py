"""A scene's background, read once for all that is laid over it: the frames looked at, and the report's.

The scenes of a sequence each bring the same painting in a folder of their own, so it is known by its content.
"""

from collections import OrderedDict
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from cel_check.picture.reader import read_picture
from cel_check.picture.source import read_source
from cel_check.settings import DEFAULTS

KEPT = 2
"""Backgrounds that are kept: neighboring scenes of a sequence share them (common practice, no source)."""

_kept: OrderedDict[str, NDArray[np.uint8]] = OrderedDict()
"""By the sha256 of their files, the one that was used last at the end."""


def read_background(path: Path) -> NDArray[np.uint8]:
    """Return a background as `(h, w, 4)` uint8 sRGB, straight alpha; not to be written to.

    Args:
        path: its file.

    Raises:
        BadPicture: it cannot be read whole.
        OSError: it cannot be opened.
    """
    found = path.stat()
    digest = _digest(path, found.st_size, found.st_mtime_ns)
    rgba = _kept.pop(digest, None)
    if rgba is None:
        picture = read_picture(path)
        # What was read counts, should the file have changed since it was looked at.
        digest, rgba = picture.sha256, picture.rgba
        rgba.flags.writeable = False
    _kept[digest] = rgba
    while len(_kept) > KEPT:
        _kept.popitem(last=False)
    return rgba


@lru_cache(maxsize=KEPT)
def _digest(path: Path, _size: int, _changed: int) -> str:
    return read_source(path, DEFAULTS).sha256
