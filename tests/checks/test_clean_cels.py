"""A drawing that is painted right has no fault; what is drawn on purpose is never sent back."""

import itertools

import pytest
from cel_art import (
    BLACK,
    CARD,
    CLOTH,
    COAT,
    GREEN_INK,
    INK,
    ONLY_INKS,
    ONLY_PAINTS,
    PALETTE,
    SELF_INK,
    SHADE,
    SKIN,
    WITH_BOTH,
    Sheet,
    faults_of,
    figure,
    jpeg,
    kinds,
    off,
)

from cel_check.faults import Verdict

SMOOTH = pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])


@SMOOTH
@pytest.mark.parametrize("card", [None, CARD], ids=["clear", "card"])
@pytest.mark.parametrize(("pen", "ink"), list(itertools.product([3, 5, 8, 14], [INK, SELF_INK, GREEN_INK])))
def test_a_clean_figure_has_no_fault(pen, ink, card, smooth):
    assert faults_of(figure(pen, ink).rgba(smooth, card)) == ()


@SMOOTH
@pytest.mark.parametrize("pen", [3, 5, 8, 14])
def test_a_clean_figure_in_a_color_for_ink_and_paint_has_none(pen, smooth):
    sheet = figure(pen, BLACK).disk((90, 70), 14, BLACK)
    assert faults_of(sheet.rgba(smooth), WITH_BOTH) == ()


@SMOOTH
def test_shade_and_shine_that_lie_bare_on_their_fill_are_no_fault(smooth):
    sheet = Sheet(240, 200).disk((90, 110), 70, COAT).shape([(90, 60), (150, 105), (120, 165)], SHADE)
    sheet.disk((60, 80), 9, SKIN)
    sheet.ring((90, 110), 70, 5, INK)
    assert faults_of(sheet.rgba(smooth)) == ()


@SMOOTH
@pytest.mark.parametrize(
    "cut", [(90, 0), (0, 110), (240, 110), (90, 200)], ids=["top", "left", "right", "bottom"]
)
def test_art_that_runs_past_the_picture_has_no_fault(cut, smooth):
    sheet = Sheet(240, 200).disk(cut, 70, COAT).ring(cut, 70, 5, INK)
    assert faults_of(sheet.rgba(smooth)) == ()
    assert faults_of(sheet.rgba(smooth, CARD)) == ()


@SMOOTH
def test_a_line_that_ends_in_a_fill_is_no_fault(smooth):
    sheet = figure().line([(50, 80), (80, 60), (110, 75)], 5, INK).line([(130, 60), (130, 110)], 3, INK)
    assert faults_of(sheet.rgba(smooth)) == ()


@SMOOTH
def test_art_without_lines_has_no_fault(smooth):
    sheet = Sheet(240, 200).rect(30, 30, 80, 140, COAT).rect(110, 30, 90, 140, CLOTH)
    assert faults_of(sheet.rgba(smooth)) == ()
    assert faults_of(sheet.rgba(smooth), ONLY_PAINTS) == ()


@SMOOTH
def test_overlapping_disks_without_lines_have_no_fault(smooth):
    assert faults_of(Sheet().disk((70, 60), 45, COAT).disk((90, 60), 30, CLOTH).rgba(smooth)) == ()


@SMOOTH
@pytest.mark.parametrize("alpha", [60, 128, 200])
def test_paint_that_is_half_clear_has_no_fault(alpha, smooth):
    assert faults_of(Sheet().disk((80, 60), 40, COAT, alpha).rgba(smooth)) == ()


@pytest.mark.parametrize("quality", [85, 92, 97])
def test_a_jpeg_of_a_clean_figure_is_not_sent_back(quality):
    faults = faults_of(jpeg(figure(6).rgba(card=CARD), quality))
    assert [fault for fault in faults if fault.verdict is Verdict.RETAKE] == []


@SMOOTH
@pytest.mark.parametrize("pen", [3, 5, 8])
@pytest.mark.parametrize("radius", [4, 7, 12, 30])
def test_a_see_through_between_lines_is_never_sent_back(radius, pen, smooth):
    """An arm on a hip, a ring, a handle: clear cel with ink all around it."""
    sheet = Sheet(240, 200).disk((90, 110), 70, COAT).ring((90, 110), 70, pen, INK)
    sheet.disk((80, 100), radius + pen, INK).disk((80, 100), radius, None)
    faults = faults_of(sheet.rgba(smooth))
    assert all(fault.verdict is Verdict.QUERY for fault in faults)
    assert {fault.kind.value for fault in faults} <= {"unpainted"}
    assert len(faults) <= 1


@SMOOTH
@pytest.mark.parametrize("ink", [INK, SELF_INK, GREEN_INK])
def test_a_see_through_between_two_parts_is_never_sent_back(ink, smooth):
    sheet = (
        Sheet(240, 200)
        .rect(30, 30, 60, 140, COAT)
        .line([(30, 30), (90, 30), (90, 170), (30, 170)], 5, ink, closed=True)
    )
    arm = [(90, 50), (160, 100), (90, 150), (90, 130), (130, 100), (90, 70)]
    sheet.shape(arm, SKIN).line(arm, 5, ink, closed=True)
    assert kinds(faults_of(sheet.rgba(smooth))) == [("unpainted", "query")]


@SMOOTH
def test_dots_that_are_drawn_on_purpose_are_never_sent_back(smooth):
    sheet = figure()
    for x in (170, 190, 210, 228):
        sheet.disk((x, 130), 6, SKIN)
    assert all(fault.verdict is Verdict.QUERY for fault in faults_of(sheet.rgba(smooth)))


@pytest.mark.parametrize("palette", [PALETTE, ONLY_INKS, ONLY_PAINTS, WITH_BOTH])
@pytest.mark.parametrize("card", [None, CARD], ids=["clear", "card"])
def test_an_empty_cel_has_no_fault(card, palette):
    assert faults_of(Sheet().rgba(card=card), palette) == ()


def test_paint_within_its_tolerance_is_no_fault():
    assert faults_of(figure(cloth=off(CLOTH, 1.5)).rgba()) == ()
