"""Colors nearer to each other than their tolerances together are named, others are not."""

import pytest

from cel_check.model.ambiguous import ambiguous_pairs
from cel_check.model.colormodel import ModelColor, Palette, Use

# Pair 1 of the CIEDE2000 test data (Sharma, Wu, Dalal 2005): 2.0425 apart.
PAIR_1 = ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485))


def color(name, lab, tolerance=1.0, use=Use.PAINT, model="tilda"):
    return ModelColor(name, name.title(), use, (0, 0, 0), lab, tolerance, None, model)


def pairs(*colors):
    return ambiguous_pairs(Palette(tuple(colors), ("Tilda",)))


@pytest.mark.parametrize(("tolerance", "count"), [(1.02, 0), (1.03, 1)])
def test_a_pair_is_named_when_its_tolerances_overlap(tolerance, count):
    # half of 2.0425 is 1.02125
    found = pairs(color("sea", PAIR_1[0], tolerance), color("sky", PAIR_1[1], tolerance))
    assert len(found) == count


def test_a_pair_says_how_far_apart_it_is():
    (found,) = pairs(color("sea", PAIR_1[0], 1.5), color("sky", PAIR_1[1], 2.5, model="rook"))
    assert (found.first.id, found.second.id, found.within) == ("sea", "sky", 4.0)
    assert found.delta_e == pytest.approx(2.0425, abs=5e-5)
    assert found.note() == (
        "tilda/sea and rook/sky cannot be told apart for certain: they are 2.0 ΔE00 apart, "
        "and their tolerances add up to 4.0."
    )


def test_the_same_color_twice_is_named_even_without_tolerance():
    (found,) = pairs(color("sea", PAIR_1[0], 0.0), color("sky", PAIR_1[0], 0.0))
    assert (
        found.note()
        == "tilda/sea and tilda/sky are the same color: one painted for the other cannot be seen."
    )


@pytest.mark.parametrize(
    ("first", "second", "count"),
    [
        (Use.PAINT, Use.INK, 0),
        (Use.PAINT, Use.BOTH, 1),
        (Use.BOTH, Use.INK, 1),
        (Use.INK, Use.INK, 1),
    ],
)
def test_a_paint_and_an_ink_are_no_pair(first, second, count):
    found = pairs(color("sea", PAIR_1[0], use=first), color("edge", PAIR_1[0], use=second))
    assert len(found) == count


def test_every_pair_is_named_once_in_the_palettes_order():
    colors = [color(name, (50.0 + 1.5 * step, 0.0, 0.0)) for step, name in enumerate(["a", "b", "c"])]
    found = pairs(*colors)
    assert [(pair.first.id, pair.second.id) for pair in found] == [("a", "b"), ("b", "c")]


@pytest.mark.parametrize("colors", [(), (color("sea", PAIR_1[0]),)])
def test_one_color_or_none_has_no_pair(colors):
    assert pairs(*colors) == ()
