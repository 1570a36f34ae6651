"""The benchmark's figures are told to be painted wrong where they are, and by nothing where they are not."""

import cv2
import numpy as np
import pytest
from parts import Case, Wrong, fair, hit, places, program, simple
from puppets import STYLES, Puppet


@pytest.fixture(scope="module")
def puppet():
    figure = Puppet(0)
    figure.count = 12
    return figure


@pytest.fixture(scope="module")
def drawings(puppet):
    return [puppet.drawing(number) for number in range(7)]


def test_figures_differ_in_style_and_are_the_same_every_time(puppet, drawings):
    assert puppet.style == STYLES[0]
    again = Puppet(0)
    again.count = 12
    assert np.array_equal(again.drawing(3)[0], drawings[3][0])
    assert not np.array_equal(drawings[3][0], drawings[4][0])


def test_the_masks_are_what_shows_of_a_part(puppet, drawings):
    rgba, masks = drawings[2]
    inside = cv2.erode(masks["torso"].astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    assert np.count_nonzero(inside) > 2000
    assert {tuple(pixel) for pixel in rgba[inside].tolist()} == {(*puppet.colors[puppet.paint("torso")], 255)}


def test_a_pop_is_found_and_a_clean_level_is_silent(puppet, drawings):
    clean = [places(puppet, rgba) for rgba, _ in drawings]
    model = places(puppet, puppet.drawing(-1)[0])
    assert not any(program(puppet, clean, model))
    rgba, masks = puppet.drawing(3, {"scarf": puppet.paint("belt")})
    wrong = Wrong(masks["scarf"], puppet.paint("belt"), puppet.paint("scarf"))
    level = (*clean[:3], places(puppet, rgba), *clean[4:])
    case = Case("one inside", level, {3: [wrong]})
    assert fair(wrong, level[3])
    found = program(puppet, case.drawings, model)
    assert [len(faults) for faults in found] == [0, 0, 0, 1, 0, 0, 0]
    assert hit(found[3][0], wrong)
    assert len(simple(level, 2)) == len(level)
