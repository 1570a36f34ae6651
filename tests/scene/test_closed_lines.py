"""A line that is open in one paint is decided by the drawings on which it is closed, or open too."""

import pytest
from cel_art import CLOTH, COAT, INK, PALETTE, SHADE, SKIN, Sheet, apart

from cel_check.checks.run import check_drawing
from cel_check.drawing.places import places_of
from cel_check.faults import FaultKind, Verdict
from cel_check.scene.closed_lines import with_closed_lines
from cel_check.scene.results import CelResult
from cel_check.settings import DEFAULTS

PEN = 5


def drawn(shift, cuff, gap=0):
    """A figure moved by `shift`: an arm, past a line a cuff, and a hand; a body below, a face above."""
    x = 40 + shift
    sheet = Sheet(320, 300).rect(x, 60, 100, 60, COAT)
    for box, paint in (((x, 120, 70, 150), SHADE), ((x, 10, 50, 50), SKIN)):
        left, top, wide, high = box
        corners = [(left, top), (left + wide, top), (left + wide, top + high), (left, top + high)]
        sheet.rect(*box, paint).line(corners, PEN, INK, closed=True)
    if cuff is not None:
        sheet.rect(x + 100, 60, 60, 60, cuff)
    sheet.rect(x + 160, 70, 40, 40, SKIN)
    sheet.line([(x, 60), (x + 160, 60), (x + 160, 120), (x, 120)], PEN, INK, closed=True)
    sheet.line([(x + 160, 70), (x + 200, 70), (x + 200, 110), (x + 160, 110)], PEN, INK)
    sheet.line([(x + 100, 60), (x + 100, 90 - gap / 2)], PEN, INK)
    sheet.line([(x + 100, 90 + gap / 2), (x + 100, 120)], PEN, INK)
    return sheet.rgba(True)


def cel(number, rgba):
    drawing = apart(rgba)
    found = check_drawing(drawing, DEFAULTS)
    faults = tuple(fault for fault in found if fault.kind is FaultKind.OPEN_LINE)
    return CelResult(
        "A", str(number), f"A/{number}.png", Verdict.PASS, faults=faults, places=places_of(drawing)
    )


def level(*drawings):
    return with_closed_lines([cel(number, rgba) for number, rgba in enumerate(drawings, start=1)], PALETTE)


def test_paint_that_ran_into_a_part_of_another_paint_is_a_retake_and_the_paint_is_named():
    mates = [drawn(shift, CLOTH) for shift in (8, 16, 24)]
    done = level(drawn(0, COAT, gap=14), *mates)
    (fault,) = done[0].faults
    assert fault.verdict is Verdict.RETAKE
    assert "Coat on both sides; on drawings 2, 3 and 4 it is closed, with Cloth past it" in fault.text
    assert fault.expected is not None
    assert fault.expected.name == "Cloth"
    assert [one.faults for one in done[1:]] == [()] * 3


def test_one_paint_on_both_sides_everywhere_is_a_retake_where_the_others_close_the_line():
    (fault,) = level(drawn(0, COAT, gap=14), *(drawn(shift, COAT) for shift in (8, 16)))[0].faults
    assert fault.verdict is Verdict.RETAKE
    assert fault.text.endswith(
        "closed on drawings 2 and 3. Close the line, and see whether the paint ran through."
    )


def test_a_line_that_the_other_drawings_leave_open_too_is_drawn():
    done = level(*(drawn(shift, COAT, gap=14) for shift in (0, 8, 16, 24)))
    assert [one.faults for one in done] == [()] * 4


@pytest.mark.parametrize("mates", [(), (8,)])
def test_one_other_drawing_or_none_decides_nothing(mates):
    (fault,) = level(drawn(0, COAT, gap=14), *(drawn(shift, CLOTH) for shift in mates))[0].faults
    assert fault.verdict is Verdict.QUERY


def test_a_part_left_clear_behind_an_open_line_is_a_retake_and_the_paint_is_named():
    clear = Sheet(320, 200).rect(40, 60, 100, 60, COAT)
    clear.line([(140, 60), (40, 60), (40, 120), (140, 120)], PEN, INK).line([(140, 60), (140, 120)], PEN, INK)
    clear.line([(140, 60), (200, 60), (200, 83)], PEN, INK).line(
        [(200, 97), (200, 120), (140, 120)], PEN, INK
    )
    mates = []
    for shift in (8, 16):
        mate = Sheet(320, 200).rect(40 + shift, 60, 100, 60, COAT).rect(140 + shift, 60, 60, 60, CLOTH)
        x = 40 + shift
        mate.line([(x, 60), (x + 160, 60), (x + 160, 120), (x, 120)], PEN, INK, closed=True)
        mates.append(mate.line([(x + 100, 60), (x + 100, 120)], PEN, INK).rgba(True))
    (fault,) = level(clear.rgba(True), *mates)[0].faults
    assert fault.verdict is Verdict.RETAKE
    assert "with Cloth past it" in fault.text


def test_a_long_gap_between_two_paints_is_not_decided_by_the_other_drawings():
    wide = Sheet(220, 200).rect(20, 20, 90, 160, COAT).rect(110, 20, 90, 160, CLOTH)
    wide.line([(20, 20), (200, 20), (200, 180), (20, 180)], 8, INK, closed=True)
    wide.line([(110, 20), (110, 82.5)], 8, INK).line([(110, 117.5), (110, 180)], 8, INK)
    closed = Sheet(220, 200).rect(20, 20, 90, 160, COAT).rect(110, 20, 90, 160, SKIN)
    closed.line([(20, 20), (200, 20), (200, 180), (20, 180)], 8, INK, closed=True).line(
        [(110, 20), (110, 180)], 8, INK
    )
    (fault,) = level(wide.rgba(True), closed.rgba(True), closed.rgba(True))[0].faults
    assert (fault.verdict, fault.expected) == (Verdict.QUERY, None)
