"""A slit of 0.4 mm in a line is open after the scan's blur, and a line keeps its place and width.

The truth is counted: shapes are drawn at eight times the size and averaged. Colors are invented.
"""

import cv2
import numpy as np
import pytest

from cel_check.scan.harden import beside_of, harden

COAT, SKIN, INK = (200, 85, 61), (236, 184, 150), (32, 30, 36)
INKS = np.array([INK], np.uint8)
FINE, SIZE, DPI = 8, 64, 150.0
SLIT = 0.4 / 25.4 * DPI


def scanned(slit, pen=8.0, shift=0.0, left=COAT):
    """A line from top to bottom between two fills, with a slit in its middle, half of each side's paint."""
    y, x = (np.mgrid[0 : SIZE * FINE, 0 : SIZE * FINE] + 0.5) / FINE
    image = np.where((x < 32)[..., None], left, SKIN).astype(float)
    line = (np.abs(x - 32) < pen / 2) & (np.abs(y - 32 - shift) > slit / 2)
    image[line] = INK
    image = image.reshape(SIZE, FINE, SIZE, FINE, 3).mean(axis=(1, 3))
    rgb = np.rint(cv2.GaussianBlur(image, (0, 0), 0.75)).astype(np.uint8)
    flat = np.zeros((SIZE, SIZE), bool)
    for color in (left, SKIN, INK):
        near = np.abs(rgb.astype(int) - color).max(axis=2) < 7
        rgb[near] = color
        flat |= near
    return rgb, flat


@pytest.mark.parametrize("shift", [0.0, 0.3, 0.5])
def test_a_slit_of_four_tenths_of_a_millimeter_is_open_from_side_to_side(shift):
    rgb, flat = scanned(SLIT, shift=shift)
    assert not flat[32, 28:36].any()  # blurred through
    harden(rgb, flat, INKS)
    row = rgb[32, 20:44]
    assert not (row == INK).all(axis=1).any()
    assert {tuple(pixel) for pixel in row.tolist()} >= {COAT, SKIN}


@pytest.mark.parametrize("shift", [0.0, 0.3, 0.5])
@pytest.mark.parametrize("slit", [SLIT, 3.0, 3.5])
@pytest.mark.parametrize("left", [COAT, (120, 140, 170), (250, 230, 40)])
def test_where_the_two_sides_meet_in_a_slit_each_pixel_is_of_one_of_them(left, slit, shift):
    rgb, flat = scanned(slit, shift=shift, left=left)
    harden(rgb, flat, INKS)
    assert {tuple(pixel) for pixel in rgb[32, 20:44].tolist()} == {left, SKIN}
    assert {tuple(pixel) for pixel in rgb.reshape(-1, 3).tolist()} == {left, SKIN, INK}


@pytest.mark.parametrize("pen", [4.0, 5.0, 8.0])
def test_a_line_keeps_its_width_and_has_no_soft_pixel_left(pen):
    rgb, flat = scanned(0.0, pen)
    harden(rgb, flat, INKS)
    assert {tuple(pixel) for pixel in rgb[10:50].reshape(-1, 3).tolist()} == {COAT, SKIN, INK}
    width = (rgb[10:50] == INK).all(axis=2).sum(axis=1)
    assert width == pytest.approx(pen, abs=1.01)


def test_what_is_no_mix_of_line_and_fill_stays():
    rgb, flat = scanned(0.0)
    rgb[32, 27] = (40, 200, 90)
    flat[32, 27] = False
    harden(rgb, flat, INKS)
    assert tuple(rgb[32, 27]) == (40, 200, 90)


def test_a_hole_beside_a_line_is_left_to_be_lifted():
    """Between two lines each pixel of a slit is given away; a pinhole has line on one side at most."""
    rgb, flat = scanned(0.0, left=(120, 140, 170))
    spot = np.hypot(*(np.mgrid[:SIZE, :SIZE] - np.array([32, 40])[:, None, None])) < 1.6
    soft = cv2.GaussianBlur(spot.astype(np.float32), (0, 0), 0.6)[..., None]
    hole = (soft[..., 0] > 0.15) & (rgb == SKIN).all(axis=2)
    mixed = np.rint(soft * np.array((120, 140, 170)) + (1 - soft) * SKIN).astype(np.uint8)
    rgb[hole] = mixed[hole]
    flat[hole] = False
    before = rgb[hole].copy()
    harden(rgb, flat, INKS)
    assert np.array_equal(rgb[hole], before)


def test_without_inks_nothing_changes():
    rgb, flat = scanned(SLIT)
    before = rgb.copy()
    harden(rgb, flat, INKS[:0])
    assert np.array_equal(rgb, before)


def test_the_nearest_solid_pixel_lends_its_color():
    rgb = np.zeros((5, 9, 3), np.uint8)
    rgb[:, 0], rgb[:, 8] = COAT, SKIN
    solid = np.zeros((5, 9), bool)
    solid[:, [0, 8]] = True
    assert beside_of(rgb, solid, np.array([2 * 9 + 2, 2 * 9 + 6])).tolist() == [list(COAT), list(SKIN)]
