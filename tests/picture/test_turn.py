"""Each orientation is turned as Exif and TIFF define it."""

import numpy as np
import pytest
from picture_files import noise
from PIL import Image, ImageOps

from cel_check.picture.turn import WORDS, upright


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turn_is_that_of_pillow(orientation):
    image = Image.fromarray(noise(4))
    image.getexif()[0x0112] = orientation
    turned = upright(noise(4), orientation)
    np.testing.assert_array_equal(turned, np.asarray(ImageOps.exif_transpose(image)))
    assert turned.flags.c_contiguous


def test_where_row_0_and_column_0_lie():
    """TIFF 6.0, tag 274: for 6 the stored row 0 is the shown right side and column 0 the shown top."""
    stored = np.arange(6, dtype=np.uint8).reshape(2, 3, 1)
    assert upright(stored, 6)[:, -1, 0].tolist() == stored[0, :, 0].tolist()
    assert upright(stored, 6)[0, :, 0].tolist() == stored[::-1, 0, 0].tolist()


def test_every_turn_has_words():
    assert sorted(WORDS) == list(range(2, 9))
