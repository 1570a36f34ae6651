"""Colors multiplied by alpha are divided again, and only where a file says so or its edges leave no doubt."""

from fractions import Fraction

import cv2
import numpy as np
import pytest

from cel_check.picture.alpha import is_opaque, looks_associated, soft_places, unassociate

BLACK = (12, 8, 10)
PAINT = (236, 180, 60)


def disc(color, line=None, opacity=1.0):
    """A painted disc with a soft edge, colors straight; nothing under clear pixels."""
    size = 120
    down, across = np.mgrid[0:size, 0:size]
    distance = np.hypot(down - size / 2, across - size / 2)
    cover = np.clip(45.5 - distance, 0, 1) * opacity
    rgba = np.zeros((size, size, 4), np.uint8)
    rgba[cover > 0, :3] = color
    if line is not None:
        rgba[(distance > 41) & (cover > 0), :3] = line
    rgba[:, :, 3] = np.rint(cover * 255)
    rgba[rgba[:, :, 3] == 0] = 0
    return rgba


def multiplied(rgba):
    top = np.iinfo(rgba.dtype).max
    result = rgba.copy()
    result[:, :, :3] = np.rint(rgba[:, :, :3] * (rgba[:, :, 3:] / top))
    return result


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_division_is_exact_and_rounded(dtype):
    """The oracle is exact fractions: color * top / alpha, rounded half up."""
    top = int(np.iinfo(dtype).max)
    levels = sorted({0, 1, 2, 3, top // 3, top // 2, top - 1, top, *range(0, top, top // 15)})
    pixels = np.array([[(color, alpha // 2, 0, alpha) for color in levels] for alpha in levels], dtype)
    divided = pixels.copy()
    unassociate(divided)
    for before, after in zip(pixels.reshape(-1, 4).tolist(), divided.reshape(-1, 4).tolist(), strict=True):
        alpha = before[3]
        for channel in range(3):
            exact = Fraction(before[channel] * top, alpha) if alpha else Fraction(0)
            assert after[channel] == min(int(exact + Fraction(1, 2)), top)
        assert after[3] == alpha


def test_opaque_paint_comes_back_from_a_multiplied_edge():
    straight = disc(PAINT)
    back = multiplied(straight)
    unassociate(back)
    enough = straight[:, :, 3] >= 64
    assert np.abs(back.astype(int) - straight)[enough].max() <= 2  # 0.5 / 64 * 255


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize("line", [None, (40, 90, 200)])
def test_a_multiplied_edge_is_recognized(dtype, line):
    straight = disc(PAINT, line).astype(dtype) * (257 if dtype is np.uint16 else 1)
    assert looks_associated(multiplied(straight.astype(dtype)))
    assert not looks_associated(straight.astype(dtype))


def dark_glow():
    """Straight paint under a soft clear shadow: no color above its alpha, and nothing multiplied."""
    rgba = disc((30, 30, 30))
    return cv2.GaussianBlur(rgba, (0, 0), 3)


def one_bright_soft_pixel():
    rgba = multiplied(disc(PAINT))
    rgba[2, 2] = (250, 250, 250, 100)
    return rgba


def color_under_clear():
    rgba = multiplied(disc(PAINT))
    rgba[0, 0, :3] = 7
    return rgba


@pytest.mark.parametrize(
    "rgba",
    [
        disc(PAINT, BLACK),
        multiplied(disc(PAINT, BLACK)),
        disc(BLACK),
        multiplied(disc(PAINT, opacity=0.5)),
        dark_glow(),
        one_bright_soft_pixel(),
        color_under_clear(),
        np.zeros((20, 30, 4), np.uint8),
        np.full((20, 30, 4), 255, np.uint8),
        multiplied(disc(PAINT))[50:60],
        np.zeros((1, 1, 4), np.uint8),
    ],
)
def test_when_in_doubt_colors_stay_as_they_are(rgba):
    """A black line looks alike both ways, and a few pixels prove nothing."""
    assert not looks_associated(rgba)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
@pytest.mark.parametrize("spot", [(0, 0), (3, 5), (6, 7)])
def test_one_clear_pixel_makes_a_picture_not_opaque(dtype, spot):
    top = np.iinfo(dtype).max
    rgba = np.full((7, 8, 4), top, dtype)
    rgba[:, :, :3] = 0
    assert is_opaque(rgba)
    rgba[(*spot, 3)] = top - 1
    assert not is_opaque(rgba)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_soft_pixels_are_neither_clear_nor_opaque(dtype):
    top = np.iinfo(dtype).max
    alpha = np.array([[0, 1, top], [top - 1, 0, top // 2]], dtype)
    assert soft_places(alpha).tolist() == [1, 3, 5]
