"""Marks stand out from any color, differ in shape from kind to kind, and crops show the true pixels."""

import itertools

import cv2
import numpy as np
import pytest

from cel_check.faults import FaultKind
from cel_check.report.ground import ground, lay_over
from cel_check.report.marks import CROP_SIDE, MARKED_WIDTH, Mark, magnified, marked_picture
from cel_check.report.shapes import SHAPES


def solid(color, height=300, width=400):
    return np.full((height, width, 4), (*color, 255), np.uint8)


def luminance(rgb):
    """Relative luminance of sRGB as WCAG 2.2 defines it."""
    value = np.asarray(rgb, float) / 255
    linear = np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)
    return linear @ np.array([0.2126, 0.7152, 0.0722])


@pytest.mark.parametrize("color", [(0, 0, 0), (255, 255, 255), (128, 128, 128), (200, 85, 61), (255, 220, 0)])
def test_a_mark_has_three_to_one_contrast_with_any_color(color):
    picture = marked_picture(solid(color), [Mark(1, FaultKind.OFF_MODEL, (150, 100, 80, 60))])
    changed = picture[(picture != np.array(color)).any(axis=2)]
    here = luminance(color)
    ratio = (np.maximum(luminance(changed), here) + 0.05) / (np.minimum(luminance(changed), here) + 0.05)
    assert len(changed) > 500
    assert (ratio >= 3).sum() > 300  # WCAG 2.2, 1.4.11


def test_every_kind_has_a_badge_of_another_shape():
    assert set(SHAPES) == set(FaultKind)
    masks = []
    for shape in SHAPES.values():
        mask = np.zeros((90, 90), np.uint8)
        cv2.fillPoly(mask, [np.round(np.array(shape) * 30 + 45).astype(np.int32)], 1)
        assert mask[36:54, 36:54].all(), "the number must fit in"
        masks.append(mask.astype(bool))
    for one, other in itertools.combinations(masks, 2):
        assert (one & other).sum() / (one | other).sum() < 0.93


def test_the_box_is_marked_where_it_is_after_shrinking():
    rgba = solid((200, 200, 200), 1000, 3000)
    picture = marked_picture(rgba, [Mark(1, FaultKind.STRAY, (1500, 500, 200, 100))])
    assert picture.shape == (400, MARKED_WIDTH, 3)
    assert (picture[205:235, 605:675] == 200).all()
    assert (picture[200 - 4, 620:660] != 200).any()


def test_badges_of_crowded_faults_do_not_cover_one_another():
    marks = [Mark(n + 1, FaultKind.STRAY, (200 + 2 * n, 150, 3, 3)) for n in range(6)]
    alone = [marked_picture(solid((90, 90, 90)), [mark]) for mark in marks[:1]]
    together = marked_picture(solid((90, 90, 90)), marks)
    dark = [(picture < 40).all(axis=2).sum() for picture in (*alone, together)]
    assert dark[1] > 4.5 * dark[0]


def test_a_crop_repeats_each_true_pixel():
    rng = np.random.default_rng(1)
    rgba = rng.integers(0, 256, (200, 200, 4), np.uint8)
    rgba[:, :, 3] = 255
    crop = magnified(rgba, (90, 100, 20, 20), (95, 105))
    n = crop.times
    assert n > 1
    assert crop.whole
    left = top = 6 * n  # the margin: a third of the box, 6 px at least
    shown = crop.rgb[top : top + 20 * n, left : left + 20 * n]
    assert (shown == np.kron(rgba[100:120, 90:110, :3], np.ones((n, n, 1), np.uint8))).all()


def test_the_frame_of_a_crop_hides_no_pixel_of_the_fault():
    rgba = solid((10, 200, 30), 100, 100)
    rgba[40:50, 40:50, :3] = (200, 0, 0)
    crop = magnified(rgba, (40, 40, 10, 10), None)
    assert (crop.rgb == (200, 0, 0)).all(axis=2).sum() == 100 * crop.times**2


@pytest.mark.parametrize(
    "box", [(0, 0, 5, 5), (395, 295, 5, 5), (0, 0, 400, 300), (399, 299, 1, 1), (0, 0, 400, 1)]
)
def test_crops_at_the_rim_stay_inside(box):
    crop = magnified(solid((1, 2, 3)), box, None)
    assert 0 < max(crop.rgb.shape[:2]) <= CROP_SIDE
    assert (crop.rgb == (1, 2, 3)).all(axis=2).any()


def test_a_fault_larger_than_the_crop_says_so_and_shows_its_point():
    rgba = solid((0, 0, 0), 1000, 1000)
    rgba[800, 900, :3] = (255, 0, 0)
    crop = magnified(rgba, (10, 10, 980, 980), (900, 800))
    assert not crop.whole
    assert crop.times == 1
    assert (crop.rgb == (255, 0, 0)).all(axis=2).sum() == 1


def test_clear_cel_is_patterned_so_that_it_is_no_paint():
    picture = lay_over(np.zeros((40, 40, 4), np.uint8), ground(40, 40))
    values = np.unique(picture.reshape(-1, 3), axis=0)
    assert len(values) == 2
    assert (values[:, 0] == values[:, 1]).all()
    assert (values[:, 1] == values[:, 2]).all()


def test_clear_pixels_lend_no_color_when_a_cel_is_shrunk():
    rgba = np.zeros((400, 2400, 4), np.uint8)
    rgba[:, :, :3] = (0, 255, 0)
    rgba[:, ::2] = (200, 50, 50, 255)
    picture = marked_picture(rgba, ())
    assert picture[:, :, 1].max() <= 151  # the ground is 150; green of clear pixels would exceed it


@pytest.mark.parametrize("size", [(1, 1), (3, 7), (40, 60)])
def test_laying_over_is_the_mean_weighted_by_alpha_rounded(size):
    rng = np.random.default_rng(0)
    rgba = rng.integers(0, 256, (*size, 4), dtype=np.uint8)
    rgba[..., 3] = rng.choice([0, 1, 77, 254, 255], size)
    below = rng.integers(0, 256, (*size, 3), dtype=np.uint8)
    share = rgba[..., 3:] / 255.0
    mean = rgba[..., :3] * share + below * (1 - share)
    assert np.abs(lay_over(rgba, below) - mean).max() <= 0.5
