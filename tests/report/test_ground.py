"""A cel is shrunk as a whole picture is, wherever its art lies and whatever measure the sizes share."""

import numpy as np
import pytest

from cel_check.picture.shrink import shrunk
from cel_check.report.ground import shrink


def cel(height, width, box):
    rng = np.random.default_rng(7)
    rgba = np.zeros((height, width, 4), np.uint8)
    x, y, w, h = box
    rgba[y : y + h, x : x + w] = rng.integers(0, 256, (h, w, 4), np.uint8)
    rgba[..., :3] += 9  # clear cel may hold any color
    return rgba


def weighted(rgba):
    """Return pixels with their colors multiplied by alpha: what is seen of them."""
    alpha = rgba[..., 3:].astype(np.float64)
    return np.concatenate([rgba[..., :3] * (alpha / 255), alpha], axis=2)


@pytest.mark.parametrize("box", [(0, 0, 30, 20), (101, 53, 40, 61), (230, 130, 90, 50), (0, 0, 320, 180)])
@pytest.mark.parametrize("size", [(200, 113), (200, 112), (160, 90), (319, 179), (128, 180)])
def test_the_art_alone_is_shrunk_as_it_is_in_the_whole_picture(box, size):
    rgba = cel(180, 320, box)
    # A mean of an area may be rounded the other way where it is worked out from another corner.
    assert np.abs(weighted(shrink(rgba, *size)) - weighted(shrunk(rgba, *size))).max() <= 1.5


def test_a_clear_cel_stays_clear():
    assert not shrink(np.zeros((90, 160, 4), np.uint8), 100, 56).any()


def test_far_smaller_art_keeps_its_place_and_color():
    rgba = np.zeros((900, 1600, 4), np.uint8)
    rgba[301:602, 500:801] = (200, 30, 40, 255)
    small = shrink(rgba, 160, 90)
    assert small.shape == (90, 160, 4)
    assert (small[31:60, 51:80] == (200, 30, 40, 255)).all()
    assert not small[:30].any()
    assert not small[:, 81:].any()
