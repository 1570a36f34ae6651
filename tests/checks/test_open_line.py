"""A line that does not close is found between two paints and to the clear cel; ends meant open are not."""

import numpy as np
import pytest
from cel_art import (
    CARD,
    CLOTH,
    COAT,
    GREEN_INK,
    INK,
    ONLY_PAINTS,
    SELF_INK,
    SKIN,
    Sheet,
    apart,
    covers,
    faults_of,
    figure,
    kinds,
)

from cel_check.checks.gaps import gaps_of
from cel_check.faults import FaultKind, SendTo, Verdict

SMOOTH = pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])
PENS = pytest.mark.parametrize("pen", [3, 5, 8, 14])
INKS = pytest.mark.parametrize("ink", [INK, SELF_INK, GREEN_INK], ids=["black", "self", "green"])
GAPS = pytest.mark.parametrize("pens", [0.5, 1, 2, 3])
MIDDLE = (110, 100)


def parted(pen, gap, ink=INK, slant=0):
    """Coat on the left and cloth on the right in one frame, the line between them open over `gap` pixels."""
    top, bottom = (110 - slant, 20), (110 + slant, 180)
    sheet = Sheet(220, 200).shape([(20, 20), top, bottom, (20, 180)], COAT)
    sheet.shape([top, (200, 20), (200, 180), bottom], CLOTH)
    sheet.line([(20, 20), (200, 20), (200, 180), (20, 180)], pen, ink, closed=True)
    return broken(sheet, (top, bottom), pen, gap, ink)


def broken(sheet, ends, pen, gap, ink=INK):
    """Draw a line of a pen's width with flat ends around a gap in its middle."""
    first, second = (np.array(end, float) for end in ends)
    along = (second - first) / np.hypot(*(second - first))
    across = np.array([-along[1], along[0]]) * pen / 2
    middle = (first + second) / 2
    for start, stop in ((first, middle - along * gap / 2), (middle + along * gap / 2, second)):
        sheet.shape([tuple(c) for c in (start + across, stop + across, stop - across, start - across)], ink)
    return sheet


def outlined(pen, gap, ink=INK, reach=0.0):
    """A coat on clear cel, its right line open; in the gap its paint ends `reach` px out from the middle."""
    sheet = Sheet(220, 200).rect(30, 30, 80, 140, COAT)
    sheet.rect(110, 100 - gap / 2, reach, gap, COAT) if reach > 0 else None
    sheet.rect(110 + reach, 100 - gap / 2, -reach, gap, None) if reach < 0 else None
    sheet.line([(110, 30), (30, 30), (30, 170), (110, 170)], pen, ink)
    return broken(sheet, ((110, 30 - pen / 2), (110, 170 + pen / 2)), pen, gap, ink)


def open_lines(rgba):
    return [fault for fault in faults_of(rgba) if fault.kind is FaultKind.OPEN_LINE]


def judge(rgba, gap, pen, named):
    (fault,) = faults_of(rgba)
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.OPEN_LINE, Verdict.RETAKE, SendTo.INK)
    assert np.hypot(fault.point[0] - MIDDLE[0], fault.point[1] - MIDDLE[1]) <= 0.5 * pen + 2
    assert covers(fault.box, MIDDLE, 1)
    assert max(fault.box[2:]) <= 1.5 * max(gap, pen) + 6
    assert all(name in fault.text for name in named)
    words = fault.text.split(" is open for ")[1]
    length = float(words.split(" px")[0])
    assert length == pytest.approx(gap, abs=3)
    # A blended line is up to 1.5 px wider than its pen.
    assert length / (pen + 1.6) - 0.06 <= float(words.split("(")[1].split(" ")[0]) <= length / (pen - 1)


@SMOOTH
@INKS
@PENS
@GAPS
def test_a_gap_between_two_paints_is_found(pens, pen, ink, smooth):
    gap = max(2, pens * pen)
    judge(parted(pen, gap, ink).rgba(smooth), gap, pen, ("Coat", "Cloth"))


@SMOOTH
@INKS
@PENS
@GAPS
def test_a_gap_to_the_clear_cel_is_found(pens, pen, ink, smooth):
    gap = max(2, pens * pen)
    judge(outlined(pen, gap, ink).rgba(smooth), gap, pen, ("Coat", "the clear cel"))


@SMOOTH
@PENS
@pytest.mark.parametrize("slant", [20, 45, 80])
def test_a_gap_in_a_slanting_line_is_found(slant, pen, smooth):
    gap = 1.5 * pen
    judge(parted(pen, gap, slant=slant).rgba(smooth), gap, pen, ("Coat", "Cloth"))


@SMOOTH
@PENS
@pytest.mark.parametrize("share", [-0.4, -0.2, 0.2, 0.4])
def test_it_is_found_wherever_the_paint_ends_in_the_gap(share, pen, smooth):
    gap = 2 * pen
    judge(outlined(pen, gap, reach=share * pen).rgba(smooth), gap, pen, ("Coat", "the clear cel"))


@SMOOTH
@PENS
def test_it_is_found_on_a_card(pen, smooth):
    judge(outlined(pen, 6).rgba(smooth, CARD), 6, pen, ("Coat", "the clear cel"))


@SMOOTH
def test_two_gaps_are_two_faults(smooth):
    sheet = parted(5, 8)
    sheet.rect(107, 50, 3, 6, COAT).rect(110, 50, 3, 6, CLOTH)
    assert kinds(faults_of(sheet.rgba(smooth))) == [("open-line", "retake")] * 2


@SMOOTH
def test_a_long_gap_is_a_question_and_a_longer_one_is_drawn(smooth):
    assert kinds(faults_of(parted(8, 27).rgba(smooth))) == [("open-line", "query")]
    assert faults_of(parted(8, 60).rgba(smooth)) == ()


@SMOOTH
def test_a_dashed_line_is_drawn(smooth):
    sheet = parted(4, 6)
    for y in (40, 60, 130, 150):
        sheet.rect(107, y, 3, 6, COAT).rect(110, y, 3, 6, CLOTH)
    assert faults_of(sheet.rgba(smooth)) == ()


@SMOOTH
@PENS
def test_strokes_that_end_in_a_fill_or_on_the_clear_cel_are_no_open_lines(pen, smooth):
    sheet = Sheet(260, 200).disk((100, 100), 75, COAT).ring((100, 100), 75, pen, INK)
    sheet.line([(60, 80), (80, 110)], pen, INK).line([(85, 120), (100, 150)], pen, INK)  # wrinkles in a row
    sheet.line([(120, 60), (140, 90)], pen, INK)
    sheet.line([(200, 40), (235, 60)], pen, INK).line([(200, 70), (250, 80)], pen, INK)  # marks of motion
    assert open_lines(sheet.rgba(smooth)) == []


@SMOOTH
@PENS
def test_a_bare_border_between_two_lines_is_drawn(pen, smooth):
    sheet = Sheet(220, 200).rect(30, 60, 80, 5 + 3 * pen, COAT).rect(110, 60, 80, 5 + 3 * pen, CLOTH)
    sheet.line([(30, 60), (190, 60), (190, 65 + 3 * pen), (30, 65 + 3 * pen)], pen, INK, closed=True)
    assert faults_of(sheet.rgba(smooth)) == ()


@SMOOTH
@PENS
def test_a_wrist_without_a_line_is_drawn(pen, smooth):
    sheet = Sheet(220, 200).rect(30, 80, 80, 30, CLOTH).rect(110, 80, 50, 30, SKIN)
    sheet.line([(110, 80), (30, 80), (30, 110), (110, 110)], pen, INK)
    sheet.line([(110, 80), (160, 80), (160, 110), (110, 110)], pen, INK)
    assert faults_of(sheet.rgba(smooth)) == ()


@SMOOTH
@PENS
def test_a_line_that_is_only_thin_in_a_place_is_closed(pen, smooth):
    sheet = parted(pen, 10).rect(110 - pen / 3, 94, 2 * pen / 3, 12, INK)
    assert open_lines(sheet.rgba(smooth)) == []


def test_a_gap_is_measured_in_its_own_frame():
    (gap,) = gaps_of(apart(parted(8, 12).rgba()))
    assert gap.length == pytest.approx(12, abs=1.5)
    assert abs(gap.axis[1]) == pytest.approx(1, abs=0.02)
    assert gap.out < 2
    for end in gap.ends:
        assert end.width == pytest.approx(8, abs=1)
        assert (end.sided, abs(end.off) <= 1, abs(end.lean) < 0.1) == (1.0, True, True)


def inked(pen, gap, ink=INK):
    """A house of lines without paint: a frame, a wall in it that is open, wrinkles and marks of motion."""
    sheet = Sheet(240, 220).line([(20, 20), (200, 20), (200, 180), (20, 180)], pen, ink, closed=True)
    broken(sheet, ((110, 20), (110, 180)), pen, gap, ink)
    sheet.line([(40, 60), (60, 75)], pen, ink).line([(140, 100), (150, 130)], pen, ink)
    return sheet.line([(215, 60), (230, 50)], pen, ink).line([(215, 110), (232, 112)], pen, ink)


@SMOOTH
@INKS
@PENS
@pytest.mark.parametrize("pens", [0.5, 1, 2])
def test_a_gap_through_which_a_fill_would_leak_is_found_before_the_cel_is_painted(pens, pen, ink, smooth):
    gap = max(2, pens * pen)
    (fault,) = open_lines(inked(pen, gap, ink).rgba(smooth))
    assert (fault.verdict, fault.send_to) == (Verdict.RETAKE, SendTo.INK)
    assert np.hypot(fault.point[0] - MIDDLE[0], fault.point[1] - MIDDLE[1]) <= 0.5 * pen + 2
    assert float(fault.text.split(" open for ")[1].split(" px")[0]) == pytest.approx(gap, abs=3.5)
    assert "clear cel on both sides" in fault.text


@SMOOTH
@PENS
def test_closed_lines_and_strokes_that_close_nothing_leak_nowhere(pen, smooth):
    assert open_lines(inked(pen, 0).rgba(smooth)) == []


@SMOOTH
@PENS
def test_two_strokes_in_line_that_part_nothing_are_drawn(pen, smooth):
    sheet = Sheet(240, 220).line([(20, 20), (200, 20), (200, 180), (20, 180)], pen, INK, closed=True)
    sheet.line([(110, 60), (110, 95)], pen, INK).line([(110, 98 + 2 * pen), (110, 140)], pen, INK)
    assert open_lines(sheet.rgba(smooth)) == []


def alike(pen, gap, color=COAT, ink=INK, slant=0):
    """Two rooms of one paint, or of none, in a frame; the wall between them is open over `gap` pixels."""
    top, bottom = (110 - slant, 20), (110 + slant, 180)
    sheet = Sheet(240, 220).rect(20, 20, 180, 160, color).disk((60, 60), 12, CLOTH)
    sheet.line([(20, 20), (200, 20), (200, 180), (20, 180)], pen, ink, closed=True)
    sheet.line([(150, 120), (165, 140)], pen, ink)  # a wrinkle
    return broken(sheet, (top, bottom), pen, gap, ink)


@SMOOTH
@INKS
@PENS
@pytest.mark.parametrize("pens", [1, 3])
def test_a_line_that_is_open_with_one_paint_on_both_sides_is_a_question(pens, pen, ink, smooth):
    gap = max(5, pens * pen)
    (fault,) = faults_of(alike(pen, gap, ink=ink).rgba(smooth))
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.OPEN_LINE, Verdict.QUERY, SendTo.INK)
    assert np.hypot(fault.point[0] - MIDDLE[0], fault.point[1] - MIDDLE[1]) <= 0.5 * pen + 2
    assert covers(fault.box, MIDDLE, 1)
    assert float(fault.text.split(" open for ")[1].split(" px")[0]) == pytest.approx(gap, abs=3)
    assert "with Coat" in fault.text
    assert "on both sides; closed, it would part them" in fault.text


@SMOOTH
@pytest.mark.parametrize("pens", [1, 2, 3])
def test_a_gap_in_a_line_of_a_wider_pen_is_measured_by_that_pen(pens, smooth):
    """As with a brush: most of the drawing is thin, and its swelling line is open."""
    wide = 7
    sheet = Sheet(240, 220).rect(20, 20, 180, 160, COAT)
    sheet.line([(20, 20), (200, 20), (200, 180), (20, 180)], 3, INK, closed=True)
    sheet.line([(40, 40), (90, 40)], 3, INK).line([(130, 150), (180, 150)], 3, INK)
    broken(sheet, ((110, 20), (110, 180)), wide, pens * wide)
    (fault,) = open_lines(sheet.rgba(smooth))
    assert "closed, it would part them" in fault.text


@SMOOTH
@PENS
@pytest.mark.parametrize("slant", [-40, 15, 60])
def test_a_slanting_line_with_one_paint_on_both_sides_too(slant, pen, smooth):
    assert kinds(faults_of(alike(pen, 2 * pen, slant=slant).rgba(smooth))) == [("open-line", "query")]


@SMOOTH
@PENS
def test_a_line_that_is_open_with_clear_cel_on_both_sides_is_a_question_on_a_painted_cel(pen, smooth):
    sheet = alike(pen, 2 * pen, color=None)
    (fault,) = open_lines(sheet.rgba(smooth))
    assert fault.verdict is Verdict.QUERY
    assert "with clear cel on both sides" in fault.text


@SMOOTH
@PENS
def test_strokes_in_one_paint_that_close_nothing_off_and_closed_lines_are_drawn(pen, smooth):
    assert open_lines(alike(pen, 0).rgba(smooth)) == []
    sheet = Sheet(240, 220).rect(20, 20, 180, 160, COAT)
    sheet.line([(20, 20), (200, 20), (200, 180), (20, 180)], pen, INK, closed=True)
    sheet.line([(110, 50), (110, 95)], pen, INK).line(
        [(110, 98 + 2 * pen), (110, 150)], pen, INK
    )  # part nothing
    assert open_lines(sheet.rgba(smooth)) == []


@SMOOTH
def test_a_seam_of_dashes_in_one_paint_is_drawn(smooth):
    sheet = Sheet(240, 220).rect(20, 20, 180, 160, COAT)
    sheet.line([(20, 20), (200, 20), (200, 180), (20, 180)], 4, INK, closed=True)
    for y in range(26, 176, 18):
        sheet.line([(110, y), (110, y + 10)], 4, INK)
    assert open_lines(sheet.rgba(smooth)) == []


@pytest.mark.parametrize("half", [34, 35])
def test_a_gap_close_to_a_corner_of_a_broad_line_is_found(half):
    pen, gap = 20, 10
    sheet = Sheet(220, 200).rect(30, 100 - half, 80, 2 * half, COAT)
    sheet.line([(110, 100 - half), (30, 100 - half), (30, 100 + half), (110, 100 + half)], pen, INK)
    ends = ((110, 100 - half - pen / 2), (110, 100 + half + pen / 2))
    judge(broken(sheet, ends, pen, gap).rgba(True), gap, pen, ("Coat", "the clear cel"))


def test_a_model_without_ink_has_no_lines_to_close():
    sheet = figure().rect(85, 97, 10, 6, COAT)
    assert "open-line" not in [fault.kind for fault in faults_of(sheet.rgba(), ONLY_PAINTS)]
