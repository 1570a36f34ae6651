"""A deep scan is read in some three times its own size, so that a worker stays under 1 GB at 7200 x 5250.

Python's own tracemalloc counts; NumPy's arrays are among what it sees.
"""

import tracemalloc

import imagecodecs
import numpy as np
import pytest
from imagecodecs import cms_profile
from picture_files import tiff

from cel_check.picture.reader import read_picture

HEIGHT, WIDTH = 900, 1200
ADOBE_RGB = bytes(cms_profile("adobergb"))


def deep():
    ramp = np.linspace(0, 65535, WIDTH * HEIGHT * 3).reshape(HEIGHT, WIDTH, 3)
    return ramp.astype(np.uint16)


def written(kind):
    if kind == "png":
        return imagecodecs.png_encode(deep(), level=1)
    options = {"compressed": {"compression": "lzw"}, "with profile": {"iccprofile": ADOBE_RGB}}.get(kind, {})
    return tiff(deep(), rowsperstrip=16, **options)


@pytest.mark.parametrize("kind", ["plain", "compressed", "with profile", "png"])
def test_a_deep_scan_takes_less_than_four_times_its_size(kind, tmp_path):
    path = tmp_path / "scan"
    path.write_bytes(written(kind))
    read_picture(path)  # tables are made once
    tracemalloc.start()
    try:
        picture = read_picture(path)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert picture.rgb16 is not None
    assert peak < 4 * deep().nbytes
