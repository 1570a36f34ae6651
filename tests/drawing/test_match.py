"""A color goes to the model color that uses the least of its tolerance, by scikit-image's CIEDE2000."""

import numpy as np
import pytest
from cel_art import COAT, INKS, PAINTS, PALETTE, Sheet, apart, fills, model, with_tolerance
from hypothesis import given
from hypothesis import strategies as st
from skimage.color import deltaE_ciede2000, rgb2lab

from cel_check.drawing.match import NONE, distances, nearest_colors
from cel_check.model.colormodel import Palette

CHANNEL = st.integers(0, 255)
COLORS = st.lists(st.tuples(CHANNEL, CHANNEL, CHANNEL), min_size=1, max_size=8)


def lab_of(colors):
    return rgb2lab(np.array([colors], np.uint8) / 255.0)[0]


@given(COLORS)
def test_distances_are_the_outside_library_s(colors):
    lab = lab_of(colors)
    model_lab = np.array([color.lab for color in PALETTE.colors])
    assert distances(lab, PALETTE) == pytest.approx(deltaE_ciede2000(lab[:, None], model_lab[None]), abs=1e-6)


@given(COLORS, st.lists(st.floats(0.5, 12.0), min_size=7, max_size=7))
def test_the_match_uses_least_of_its_tolerance_and_no_more_than_all(colors, allowed):
    pairs = zip((*PAINTS, *INKS), allowed, strict=True)
    palette = Palette(tuple(with_tolerance(color, one) for color, one in pairs), ())
    lab = lab_of(colors)
    index, table = nearest_colors(lab, palette)
    model_lab = np.array([color.lab for color in palette.colors])
    used = deltaE_ciede2000(lab[:, None], model_lab[None]) / np.array(allowed)
    for row, best in enumerate(index):
        if abs(used[row].min() - 1.0) < 1e-6:
            continue
        assert (best == NONE) == (used[row].min() > 1.0)
        if best != NONE:
            assert used[row, best] == pytest.approx(used[row].min(), abs=1e-6)
            assert table[row, best] <= allowed[best] + 1e-6


def test_every_model_color_matches_itself():
    index, table = nearest_colors(lab_of([color.srgb for color in PALETTE.colors]), PALETTE)
    assert index.tolist() == list(range(len(PALETTE.colors)))
    assert np.diag(table) == pytest.approx(0.0, abs=0.02)


def test_a_wider_tolerance_takes_in_a_paint_that_is_off():
    rgba = Sheet().rect(20, 20, 80, 60, (204, 96, 70)).rgba()
    assert set(fills(apart(rgba))) == {"?"}
    wide = Palette((model("Coat", COAT, tolerance=8.0), *INKS), ())
    assert set(fills(apart(rgba, wide))) == {"Coat"}
