"""A suggested move is short, stays in the gamut, and is told in words that are true."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import srgb8_to_lab
from cel_check.model.move import change_words, smallest_move

NONE = np.zeros((0, 3))
CODE = st.integers(0, 255)


def lab(*rgb):
    return srgb8_to_lab(np.array(rgb, np.uint8))


@given(st.tuples(CODE, CODE, CODE), st.integers(-2, 2))
def test_a_move_reaches_what_is_needed_and_little_more(rgb, step):
    own = lab(*rgb)
    partner = lab(*np.clip(np.array(rgb) + step, 0, 255))
    move = smallest_move(own, partner, 4.0, NONE, np.zeros(0))
    assert move is not None
    new = lab(*bytes.fromhex(move.hex[1:]))
    assert ciede2000(new, partner) >= 4.0
    assert move.delta_e == pytest.approx(float(ciede2000(new, own)))
    # what was there already, a step, and 1.3 for a plain change of lightness
    assert move.delta_e < 1.3 * (4.0 + float(ciede2000(own, partner)) + 2.0)


def test_no_move_where_none_is_short_enough():
    own = lab(128, 128, 128)
    assert smallest_move(own, own, 90.0, NONE, np.zeros(0)) is None
    assert smallest_move(own, own, 3.0, lab(0, 0, 255)[None], np.array([150.0])) is None


def test_near_gray_lightness_is_what_moves():
    move = smallest_move(lab(120, 120, 120), lab(121, 121, 121), 3.0, NONE, np.zeros(0))
    assert "L*" in move.words


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ((50.0, 0.0, 0.0), (52.1, 0.0, 0.0), "2.1 L* lighter"),
        ((50.0, 20.0, 0.0), (47.0, 25.0, 0.0), "3.0 L* darker and 5.0 C* stronger"),
        ((50.0, 20.0, 0.0), (50.0, 18.0, 0.0), "2.0 C* grayer"),
        # red a*, yellow b*, green -a*, blue -b*: the axes of CIE L*a*b*
        ((50.0, 40.0, 0.0), (50.0, 40 * np.cos(0.2), 40 * np.sin(0.2)), "11° yellower"),
        ((50.0, 40.0, 0.0), (50.0, 40 * np.cos(0.2), -40 * np.sin(0.2)), "11° bluer"),
        ((50.0, 0.0, 40.0), (50.0, 40 * np.sin(0.2), 40 * np.cos(0.2)), "11° redder"),
        ((50.0, -40.0, 0.0), (50.0, -40 * np.cos(0.2), 40 * np.sin(0.2)), "11° yellower"),
        ((50.0, 0.0, 0.0), (50.0, 0.0, 0.0), "a touch different"),
    ],
)
def test_words(old, new, words):
    assert change_words(np.array(old), np.array(new)) == words
