"""A line in a color that is no ink of the model is found, as one fault for one wrong ink."""

import numpy as np
import pytest
from cel_art import (
    CARD,
    CLOTH,
    COAT,
    GREEN_INK,
    INK,
    INKS,
    ONLY_INKS,
    ONLY_PAINTS,
    PAINTS,
    SELF_INK,
    WHITE,
    WITH_WHITE,
    Sheet,
    covers,
    faults_of,
    figure,
    kinds,
    off,
)

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.model.colormodel import Palette

SMOOTH = pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])
VIOLET, DARK = (150, 40, 150), off(INK, 10, (0, 0, 1))
TOP = [(60, 100), (120, 100)]


@SMOOTH
@pytest.mark.parametrize("pen", [3, 5, 8, 14])
@pytest.mark.parametrize("wrong", [VIOLET, off(INK, 10), DARK])
def test_a_stretch_in_a_wrong_ink_is_found_and_named(wrong, pen, smooth):
    sheet = figure(pen).line(TOP, pen, wrong)
    (fault,) = faults_of(sheet.rgba(smooth))
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.INK_COLOR, Verdict.RETAKE, SendTo.INK)
    assert all(covers(fault.box, (x, 100)) for x in (60, 90, 120))
    assert covers(fault.box, fault.point)
    assert fault.found.srgb == "#{:02X}{:02X}{:02X}".format(*wrong)


@pytest.mark.parametrize("pen", [8, 14])
def test_its_box_is_that_of_the_stretch(pen):
    (fault,) = faults_of(figure(pen).line(TOP, pen, VIOLET).rgba())
    assert fault.box == pytest.approx((60 - pen / 2, 100 - pen / 2, 60 + pen, pen), abs=3)


@pytest.mark.parametrize("pen", [5, 8, 14])
def test_its_area_is_that_of_the_stretch(pen):
    (fault,) = faults_of(figure(pen).line(TOP, pen, VIOLET).rgba())
    assert fault.area_px == pytest.approx(60 * pen + pen * pen * 0.8, rel=0.3)


@SMOOTH
@pytest.mark.parametrize("pen", [3, 5, 8])
@pytest.mark.parametrize("length", [16, 30])
def test_a_short_stretch_is_found(length, pen, smooth):
    sheet = figure(pen).rect(90 - length / 2, 100 - pen / 2, length, pen, VIOLET)
    (fault,) = faults_of(sheet.rgba(smooth))
    assert fault.kind is FaultKind.INK_COLOR
    assert covers(fault.box, (90, 100))


@SMOOTH
@pytest.mark.parametrize("pen", [3, 5, 8])
def test_a_drawing_in_a_wrong_ink_throughout_is_one_fault(pen, smooth):
    faults = faults_of(figure(pen, VIOLET).rgba(smooth))
    assert kinds(faults) == [("ink-color", "retake")]


@SMOOTH
def test_the_nearest_ink_is_named_and_never_a_paint(smooth):
    (fault,) = faults_of(figure().line(TOP, 5, VIOLET).rgba(smooth))
    assert fault.nearest.color in {"outline", "coat line", "leaf line"}


@SMOOTH
def test_every_ink_of_the_model_is_right(smooth):
    sheet = figure().line(TOP, 5, SELF_INK).ring((200, 60), 28, 5, GREEN_INK)
    assert faults_of(sheet.rgba(smooth)) == ()


@SMOOTH
def test_two_wrong_inks_are_two_faults(smooth):
    sheet = figure().line(TOP, 5, VIOLET).ring((200, 60), 28, 5, (40, 90, 200))
    assert kinds(faults_of(sheet.rgba(smooth))) == [("ink-color", "retake")] * 2


@SMOOTH
def test_it_is_found_on_a_card(smooth):
    assert kinds(faults_of(figure().line(TOP, 5, VIOLET).rgba(smooth, CARD))) == [("ink-color", "retake")]


@SMOOTH
def test_it_is_found_in_a_line_drawing(smooth):
    sheet = Sheet(240, 200).ring((90, 110), 70, 5, INK).ring((90, 110), 40, 5, VIOLET)
    found = [fault for fault in faults_of(sheet.rgba(smooth), ONLY_INKS) if fault.kind is FaultKind.INK_COLOR]
    assert len(found) == 1


def test_a_model_without_inks_has_no_wrong_ink():
    faults = faults_of(Sheet().disk((80, 60), 40, COAT).rgba(), ONLY_PAINTS)
    assert faults == ()


@pytest.mark.parametrize("pen", [3, 4, 5, 7])
@pytest.mark.parametrize("rise", [4, 6, 9, 14])
@pytest.mark.parametrize("beside", [COAT, CLOTH, None])
def test_lines_that_run_together_are_no_wrong_ink(beside, rise, pen):
    """What shows between them is blended with ink on both sides; hair and folds are full of that."""
    sheet = Sheet(240, 120).rect(20, 20, 200, 80, COAT).rect(20, 60, 200, 40, beside or COAT)
    sheet.line([(20, 20), (220, 20), (220, 100), (20, 100)], 5, INK, closed=True)
    sheet.line([(20, 60), (220, 60)], pen, INK).line([(20, 60 - rise - pen), (220, 60 - pen / 3)], pen, INK)
    assert "ink-color" not in [fault.kind for fault in faults_of(sheet.rgba())]


@pytest.mark.parametrize("pen", [5, 8])
def test_a_wrong_line_beside_a_right_one_is_found(pen):
    sheet = Sheet(240, 120).rect(20, 20, 200, 80, COAT)
    sheet.line([(20, 20), (220, 20), (220, 100), (20, 100)], 5, INK, closed=True)
    sheet.line([(40, 60), (200, 60)], pen, INK).line([(60, 60 + pen), (180, 60 + pen)], pen, VIOLET)
    assert kinds(faults_of(sheet.rgba())) == [("ink-color", "retake")]


@pytest.mark.parametrize("pen", [1, 1.5, 2, 2.5, 3])
@pytest.mark.parametrize("fill", [COAT, CLOTH, WHITE])
@pytest.mark.parametrize("turn", [0, 3, 11, 27, 45, 62, 88])
def test_a_thin_line_shows_what_it_lies_on_at_any_angle(turn, fill, pen):
    x, y = 90 * np.cos(np.radians(turn)), 90 * np.sin(np.radians(turn))
    sheet = Sheet(240, 240).rect(20, 20, 200, 200, fill)
    sheet.line([(120 - x, 120.3 - y), (120 + x, 120.3 + y)], pen, INK)
    assert faults_of(sheet.rgba(), WITH_WHITE) == ()


@pytest.mark.parametrize("wrong", [VIOLET, GREEN_INK, off(INK, 25, (0, 0, 1))])
@pytest.mark.parametrize("turn", [0, 11, 45, 62])
def test_a_thin_line_in_a_wrong_ink_is_found(turn, wrong):
    x, y = 90 * np.cos(np.radians(turn)), 90 * np.sin(np.radians(turn))
    sheet = Sheet(240, 240).rect(20, 20, 200, 200, COAT)
    sheet.line([(120 - x, 120.3 - y), (120 + x, 120.3 + y)], 3, wrong)
    sheet.line([(20, 20), (220, 20), (220, 220), (20, 220)], 3, INK, closed=True)
    palette = Palette((*PAINTS, INKS[0]), ("Tilda Brake",))
    assert "ink-color" in [fault.kind for fault in faults_of(sheet.rgba(), palette)]


@pytest.mark.parametrize("pen", [1.5, 2, 2.5])
@pytest.mark.parametrize("turn", [0, 11, 45, 62])
def test_a_thin_line_shows_the_card_it_lies_on(turn, pen):
    x, y = 90 * np.cos(np.radians(turn)), 90 * np.sin(np.radians(turn))
    sheet = Sheet(260, 260).shape([(130 - x, 130.3 - y), (130 + x, 130.3 + y), (130 - y, 130 + x)], COAT)
    sheet.line([(130 - x, 130.3 - y), (130 + x, 130.3 + y), (130 - y, 130 + x)], pen, INK, closed=True)
    assert "ink-color" not in [fault.kind for fault in faults_of(sheet.rgba(True, CARD))]
