"""A drawing held for just the time of those skipped after it is asked about; a hold that is drawn is not.

All cases are made up; that drawings of a move follow by number on ones, twos or threes is common practice, no
source.
"""

import pytest

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.scene.frames import exposures_of
from cel_check.scene.holds import held_too_long


def column(*runs):
    """Cells of `(drawing, frames)`."""
    return [str(drawing) for drawing, frames in runs for _ in range(frames)]


def evenly(first, last, beat=2):
    return [(number, beat) for number in range(first, last + 1)]


MATES = column(*evenly(1, 18))


@pytest.fixture
def asked(make_scene):
    def ask(cells, mates=MATES, *, more=()):
        length = max(len(cells), len(mates))
        columns = [own + own[-1:] * (length - len(own)) for own in (cells, mates)]
        rows = [f"{n},{one},{other}" for n, (one, other) in enumerate(zip(*columns, strict=True), 1)]
        names = {
            level: [f"{number}.png" for number in sorted(set(own) - {"x"} | set(more))]
            for level, own in zip("AB", columns, strict=True)
        }
        scene = make_scene(names, "\n".join(["frame,A,B", *rows, ""]))
        drawings = {(level.name, drawing.drawing) for level in scene.levels for drawing in level.drawings}
        return tuple(held_too_long(exposures_of(scene), drawings))

    return ask


SKIPS = column(*evenly(1, 4), (5, 6), *evenly(8, 12))


def test_a_drawing_held_for_the_two_that_are_skipped_is_a_query(asked):
    (fault,) = asked(SKIPS, more=["6", "7"])
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.MISSING_CEL, Verdict.QUERY, SendTo.SHEET)
    assert (fault.level, fault.frames) == ("A", (9, 10, 11, 12, 13, 14))
    assert fault.text == (
        "Drawing 5 of level A is held for 6 frames, 9 to 14, those around it for 2 each, and drawings 6 and "
        "7 are skipped after it, while level B goes on. Put drawings 6 and 7 there on the sheet, unless the "
        "hold is meant."
    )


@pytest.mark.parametrize("beat", [1, 2, 3])
@pytest.mark.parametrize("skipped", [2, 3, 7])
def test_on_ones_twos_and_threes_whatever_the_number_that_is_skipped(asked, beat, skipped):
    cells = column(*evenly(1, 4, beat), (5, (skipped + 1) * beat), *evenly(6 + skipped, 10 + skipped, beat))
    mates = column(*evenly(1, 40, 1))
    (fault,) = asked(cells, mates, more=[str(number) for number in range(6, 6 + skipped)])
    assert len(fault.frames) == (skipped + 1) * beat


def test_in_a_cycle_whose_other_rounds_show_them_too(asked):
    cells = column(*evenly(1, 10), *evenly(1, 3), (4, 6), *evenly(7, 10), *evenly(1, 10))
    assert [fault.frames for fault in asked(cells, column(*evenly(1, 40)))] == [tuple(range(27, 33))]


@pytest.mark.parametrize(
    "cells",
    [
        column(*evenly(1, 4), (5, 6), *evenly(6, 12)),  # a hold that is drawn: none is skipped
        column(*evenly(1, 4), (5, 8), *evenly(8, 12)),  # longer than those skipped would take
        column(*evenly(1, 4), (5, 4), *evenly(8, 12)),  # shorter
        column(*evenly(1, 4), (5, 4), *evenly(7, 12)),  # only one is skipped
        column(*evenly(3, 4), (5, 6), *evenly(8, 12)),  # too few before it to tell the rhythm
        column(*evenly(1, 4), (5, 6), *evenly(8, 9)),  # or after it
        column(*evenly(1, 4, 4), (5, 12), *evenly(8, 12, 4)),  # poses, on fours
        column((1, 2), (2, 3), (3, 2), (4, 2), (5, 6), *evenly(8, 12)),  # not evenly timed
        column((1, 2), (3, 2), (4, 2), (5, 6), *evenly(8, 12)),  # not one by one
        column(*[(1, 2), (2, 2)] * 4, (1, 6), *[(4, 2), (5, 2)] * 4),  # mouths
        column((1, 40)),
        ["x"] * 40,
    ],
)
def test_other_holds_are_not(asked, cells):
    assert asked(cells, more=[str(number) for number in range(1, 13)]) == ()


def test_drawings_that_nobody_made_are_not_missed(asked):
    assert asked(SKIPS) == ()
    assert asked(SKIPS, more=["6"]) == ()


@pytest.mark.parametrize("mates", [["1"] * 30, column((1, 11), (2, 19)), ["x"] * 30])
def test_where_no_other_level_goes_on_all_hold(asked, mates):
    assert asked(SKIPS, mates, more=["6", "7"]) == ()


def test_a_mouth_that_moves_over_a_held_body_is_not(asked):
    """Twenty-four frames of a body on one drawing, between two moves that follow by number."""
    body = column(*evenly(1, 6), (7, 24), *evenly(8, 12))
    assert asked(body, column(*[(1, 2), (2, 3), (3, 2), (2, 2)] * 6)) == ()
