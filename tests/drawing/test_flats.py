"""Flats are the connected areas of one color, as a labelling color by color finds them."""

import numpy as np
import pytest
from cel_art import CLOTH, COAT, SKIN, Sheet, figure, jpeg
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from skimage.color import rgb2lab
from skimage.measure import label, regionprops

from cel_check.drawing.flats import find_flats

COLORS = np.array(
    [(0, 0, 0, 0), (200, 85, 61, 255), (203, 85, 61, 255), (32, 32, 32, 255), (200, 85, 61, 128)], np.uint8
)


def flats_of(rgba):
    clear = np.where(rgba[..., 3] == 0, 255, 0).astype(np.uint8)
    return find_flats(rgba, clear)


def padded(cells, side):
    """A picture whose cells are squares of `side` pixels, with clear cel around."""
    return np.pad(np.kron(cells, np.ones((side, side), np.uint8)), 3)


def by_color(numbers):
    """The oracle: scikit-image's 4-connected labels of each color by itself; 0 on color 0."""
    out = np.zeros(numbers.shape, int)
    for number in range(1, int(numbers.max()) + 1):
        own = label(numbers == number, connectivity=1)
        out[own > 0] = own[own > 0] + out.max()
    return out


@given(
    arrays(np.uint8, st.tuples(st.integers(1, 9), st.integers(1, 9)), elements=st.integers(0, 4)),
    st.integers(3, 6),
)
def test_one_pass_finds_the_areas_that_a_pass_for_each_color_finds(cells, side):
    numbers = padded(cells, side)
    flats, truth = flats_of(COLORS[numbers]), by_color(numbers)
    inside = flats.labels > 0
    assert not inside[truth == 0].any()
    pairs = set(zip(flats.labels[inside].tolist(), truth[inside].tolist(), strict=True))
    assert len(pairs) == len({flat for flat, _ in pairs}) == len({area for _, area in pairs})
    assert len(pairs) == truth.max() == len(flats.area) - 1
    # A flat's core lacks at most one row and one column of each square.
    assert inside.sum() * side**2 >= (truth > 0).sum() * (side - 1) ** 2
    for flat, area in pairs:
        assert flats.solid(flats.area > 0)[flat]
        assert tuple(flats.rgb[flat]) == tuple(COLORS[numbers[truth == area][0], :3])


@given(arrays(np.uint8, st.tuples(st.integers(1, 20), st.integers(1, 20)), elements=st.integers(0, 3)))
def test_measures_are_those_of_the_label_map(cells):
    flats = flats_of(COLORS[np.pad(cells, 3)])
    assert len(flats.area) == flats.labels.max() + 1
    for one in regionprops(flats.labels):
        top, left, bottom, right = one.bbox
        assert flats.area[one.label] == one.area
        assert tuple(flats.box[one.label]) == (left, top, right - left, bottom - top)
        assert flats.center[one.label] == pytest.approx(one.centroid[::-1])


def test_no_two_flats_touch():
    labels = flats_of(figure().rgba()).labels
    for first, second in ((labels[1:], labels[:-1]), (labels[:, 1:], labels[:, :-1])):
        assert not ((first > 0) & (second > 0) & (first != second)).any()


def test_the_color_is_that_of_the_paint_in_the_outside_library_s_lab():
    flats = flats_of(np.pad(Sheet(40, 40).rect(10, 10, 20, 20, COAT).rgba(), ((3, 3), (3, 3), (0, 0))))
    assert tuple(flats.rgb[1]) == COAT
    # scikit-image keeps four digits of the sRGB matrix.
    assert flats.lab[1] == pytest.approx(rgb2lab(np.array([[COAT]], np.uint8) / 255.0)[0, 0], abs=0.01)


def test_blended_rims_are_no_flats():
    flats = flats_of(Sheet().disk((60, 60), 40, COAT).disk((75, 60), 30, CLOTH).rgba())
    large = np.flatnonzero(flats.area[1:] >= 30) + 1
    assert {tuple(flats.rgb[flat]) for flat in large} == {COAT, CLOTH}
    small = np.flatnonzero(flats.area[1:] < 30) + 1
    assert flats.area[small].sum() < 0.02 * flats.area[large].sum()


def test_paint_that_is_half_clear_keeps_its_color():
    rgba = Sheet().rect(20, 20, 60, 60, COAT, 120).rect(80, 20, 60, 60, COAT).rgba()
    flats = flats_of(rgba)
    assert len(flats.area) == 3
    assert {tuple(color) for color in flats.rgb[1:]} == {COAT}


@pytest.mark.parametrize("quality", [75, 85, 95])
def test_the_noise_of_jpeg_breaks_no_flat_apart(quality):
    sheet = (
        Sheet(240, 160).rect(0, 0, 120, 160, COAT).rect(120, 0, 120, 90, CLOTH).rect(120, 90, 120, 70, SKIN)
    )
    flats = flats_of(np.pad(jpeg(sheet.rgba(), quality), ((3, 3), (3, 3), (0, 0))))
    large = np.flatnonzero(flats.area >= 0.1 * 240 * 160)
    assert len(large[large > 0]) == 3
    for flat in large[large > 0]:
        nearest = min(np.abs(flats.rgb[flat].astype(int) - color).max() for color in (COAT, CLOTH, SKIN))
        assert nearest <= 3


@pytest.mark.parametrize("size", [(1, 1), (1, 9), (9, 1), (2, 2)])
def test_a_tiny_picture_has_no_flat_or_one(size):
    flats = flats_of(np.pad(np.full((*size, 4), 255, np.uint8), ((3, 3), (3, 3), (0, 0))))
    assert len(flats.area) in {1, 2}
