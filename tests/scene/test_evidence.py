"""The level's other drawings decide what one drawing alone cannot."""

from dataclasses import replace

import pytest

from cel_check.drawing.place import OPEN, Place
from cel_check.faults import Fault, FaultKind, ModelMatch, SendTo, Verdict
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.scene.evidence import with_evidence
from cel_check.scene.results import CelResult

PALETTE = Palette(
    tuple(
        ModelColor(name, name.title(), Use.PAINT, (50, 50, 50), (20.0, 0.0, 0.0), 2.0, f"P-{k}", "rook")
        for k, name in enumerate(["coat", "boot", "skin"])
    ),
    ("Rook",),
)
PALETTES = {"A": PALETTE}
COAT = Place(0, 9000, (100, 100, 100, 120), (150.0, 160.0), ((OPEN, 1.0),))
HOLE = (130, 150, 20, 30)


def place(color, box=HOLE, around=((0, 0.9), (2, 0.1)), shift=0):
    x, y, w, h = box
    return Place(color, w * h, (x + shift, y, w, h), (x + shift + w / 2, y + h / 2), around)


def query(box=HOLE):
    return Fault(FaultKind.UNPAINTED, Verdict.QUERY, "Clear cel.", SendTo.PAINT, 0.35, box=box)


def cel(drawing, *places, faults=()):
    return CelResult("A", drawing, f"A/{drawing}.png", Verdict.QUERY, faults=faults, places=(COAT, *places))


def speck(size=36, x=400, confidence=0.6, color="coat"):
    near = ModelMatch(color, color, None, "rook", "#323232", 0.3, 2.0)
    text = "A speck, unless it is drawn on purpose."
    return Fault(
        FaultKind.STRAY, Verdict.QUERY, text, SendTo.PAINT, confidence,
        box=(x, 20, 7, 7), area_px=size, nearest=near,
    )  # fmt: skip


def faults_of(cels):
    return {one.drawing: one.faults for one in with_evidence(cels, PALETTES)}


def test_a_clear_place_that_another_drawing_has_too_is_meant():
    cels = [
        cel("1", place(OPEN), faults=(query(),)),
        cel("2", place(OPEN, shift=9), faults=(query((139, 150, 20, 30)),)),
        cel("3"),
    ]
    assert faults_of(cels) == {"1": (), "2": (), "3": ()}


def test_a_place_that_the_other_drawings_have_paint_in_is_a_retake_and_says_which():
    cels = [cel("1", place(OPEN), faults=(query(),))] + [cel(str(n), place(1, shift=n)) for n in range(2, 6)]
    (fault,) = faults_of(cels)["1"]
    assert fault.verdict is Verdict.RETAKE
    assert fault.expected.color == "boot"
    assert fault.expected.because == "the same part on drawings 2, 3, 4 and 1 more"
    assert "Boot (P-1)" in fault.text


def test_two_drawings_left_clear_among_many_painted_are_wrong_both():
    cels = [cel(str(n), place(OPEN), faults=(query(),)) for n in (1, 2)]
    cels += [cel(str(n), place(1)) for n in range(3, 9)]
    assert [found[0].verdict for found in faults_of(cels).values() if found] == [Verdict.RETAKE] * 2


@pytest.mark.parametrize(
    "other",
    [
        place(1, around=((2, 0.9), (0, 0.1))),
        place(1, (130, 150, 2, 3)),
        place(1, (10, 900, 20, 30)),
    ],
    ids=["other surroundings", "other size", "far away"],
)
def test_a_place_like_no_other_stays_a_query(other):
    cels = [cel("1", place(OPEN), faults=(query(),)), cel("2", other), cel("3", other)]
    assert faults_of(cels)["1"] == (query(),)


def test_a_lone_drawing_stays_a_query():
    assert faults_of([cel("1", place(OPEN), faults=(query(),))])["1"] == (query(),)


def test_a_speck_that_no_other_drawing_has_is_dirt():
    cels = [cel("1", faults=(speck(),))] + [cel(str(n)) for n in range(2, 6)]
    (fault,) = faults_of(cels)["1"]
    assert fault.verdict is Verdict.RETAKE
    assert "no other drawing" in fault.text


def test_a_speck_that_many_drawings_have_is_drawn():
    cels = [cel(str(n), faults=(speck(x=400 + 5 * n),)) for n in range(1, 4)] + [cel("4")]
    assert faults_of(cels) == {"1": (), "2": (), "3": (), "4": ()}


def test_dots_of_a_pattern_and_few_drawings_leave_a_speck_a_query():
    cels = [cel("1", faults=(speck(confidence=0.3),))] + [cel(str(n)) for n in range(2, 6)]
    assert faults_of(cels)["1"][0].verdict is Verdict.QUERY
    assert faults_of([cel("1", faults=(speck(),)), cel("2")])["1"][0].verdict is Verdict.QUERY


def test_the_order_of_the_cels_does_not_matter():
    cels = [cel("1", place(OPEN), faults=(query(),))] + [cel(str(n), place(1, shift=n)) for n in range(2, 6)]
    one = faults_of(cels)["1"][0]
    other = faults_of(cels[::-1])["1"][0]
    assert replace(one, expected=None, text="") == replace(other, expected=None, text="")
