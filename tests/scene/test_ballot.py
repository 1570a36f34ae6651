"""What drawings say of one another is the same whether they are asked alone or many at once."""

import numpy as np
import pytest
from figure_places import PALETTE, SLEEVE, TROUSERS, places

from cel_check.scene import ballot as ballots
from cel_check.scene.art import arts_of
from cel_check.scene.ballot import polled

COLORS = len(PALETTE.colors)
LEVEL = arts_of(
    (
        ("1", places(1)),
        ("2", places(2, without=("left hand", "left boot", "scarf"))),
        ("3", places(3, painted={"left sleeve": TROUSERS})),
        ("4", places(4, without=("hair",))),
    ),
    COLORS,
)
MODEL = arts_of((("model", places(0)),), COLORS)


def test_drawings_of_several_lengths_say_the_same_as_any_two_alone():
    together, _ = polled(LEVEL, ())
    for one, two in ((0, 1), (1, 2), (2, 3), (0, 3)):
        alone, _ = polled((LEVEL[one], LEVEL[two]), ())
        for own, other, number in ((one, two, 0), (two, one, 1)):
            row = together[own].asked.tolist().index(other)
            np.testing.assert_allclose(together[own].agree[row], alone[number].agree[0], atol=1e-3)
            np.testing.assert_allclose(together[own].against[row], alone[number].against[0], atol=1e-3)
            np.testing.assert_array_equal(together[own].partner[row], alone[number].partner[0])
            np.testing.assert_array_equal(together[own].same[row], alone[number].same[0])


@pytest.mark.parametrize("at_once", [1, 150, 1 << 20])
def test_how_many_are_compared_at_a_time_changes_nothing(monkeypatch, at_once):
    usual, by_model = polled(LEVEL, MODEL)
    monkeypatch.setattr(ballots, "AT_ONCE", at_once)
    other, by_model_too = polled(LEVEL, MODEL)
    for one, two in zip((*usual, *by_model), (*other, *by_model_too), strict=True):
        np.testing.assert_array_equal(one.asked, two.asked)
        np.testing.assert_allclose(one.against, two.against, atol=1e-3)
        np.testing.assert_allclose(one.agree, two.agree, atol=1e-3)


def test_a_wrong_paint_has_witnesses_who_know_the_part_in_its_own_color():
    mates, by_model = polled(LEVEL, MODEL)
    (part,) = np.flatnonzero((mates[2].against > 0.5).any(axis=0)).tolist()
    assert {one.color for one in mates[2].witnesses(part)} == {SLEEVE}
    assert {one.art for one in mates[2].witnesses(part)} == {0, 1, 3}
    assert [one.art for one in by_model[2].witnesses(part)] == [0]


def test_a_level_of_nothing_and_a_drawing_alone_are_asked_nothing():
    assert polled((), MODEL) == ([], [])
    (alone,), (by_model,) = polled(LEVEL[:1], ())
    assert alone.agree.shape == by_model.agree.shape == (0, len(LEVEL[0].color))
    assert alone.witnesses(0) == []
    assert alone.mates(0) == []
