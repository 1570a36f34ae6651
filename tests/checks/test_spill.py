"""Paint across its line is found on every side, under the line and over it, as one fault."""

import itertools

import numpy as np
import pytest
from cel_art import CARD, CLOTH, COAT, INK, SHADE, SKIN, Sheet, covers, faults_of, figure, kinds

from cel_check.faults import FaultKind, SendTo, Verdict

SMOOTH = pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])
SIDES = {"right": (1, 0), "left": (-1, 0), "top": (0, -1), "bottom": (0, 1), "slant": (0.7071, -0.7071)}
PENS = (3, 5, 8, 14)


def bump(side, pen, depth, over):
    """A coat whose paint stands `depth` px out from its line; the line covers it unless `over`."""
    x, y = SIDES[side]
    sheet = Sheet(240, 200).disk((110, 100), 60, COAT).ring((110, 100), 60, pen, INK)
    reach = 60 + pen / 2
    if over:
        sheet.disk((110 + 60 * x, 100 + 60 * y), pen / 2 + depth, COAT)
        return sheet.disk((110, 100), 60 - pen / 2, COAT), (
            110 + (reach + depth / 2) * x,
            100 + (reach + depth / 2) * y,
        )
    sheet.disk((110 + reach * x, 100 + reach * y), depth, COAT).ring((110, 100), 60, pen, INK)
    return sheet, (110 + (reach + depth / 2) * x, 100 + (reach + depth / 2) * y)


def judge(sheet, place, smooth, card=None):
    (fault,) = faults_of(sheet.rgba(smooth, card))
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.SPILL, Verdict.RETAKE, SendTo.PAINT)
    assert covers(fault.box, place, 1.5)
    assert covers(fault.box, fault.point, 1.5)
    assert max(fault.box[2:]) <= 45
    assert fault.nearest.color == "coat"
    assert "Coat" in fault.text


@SMOOTH
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("pen", PENS)
def test_paint_beyond_its_line_is_found_on_every_side(pen, side, smooth):
    judge(*bump(side, pen, 5, over=False), smooth)


@SMOOTH
@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize("pen", PENS)
def test_paint_over_its_line_is_found_on_every_side(pen, side, smooth):
    judge(*bump(side, pen, 5, over=True), smooth)


@SMOOTH
@pytest.mark.parametrize("depth", [4, 7, 10])
@pytest.mark.parametrize("over", [True, False], ids=["over", "under"])
def test_it_is_found_at_any_depth(depth, over, smooth):
    judge(*bump("right", 5, depth, over), smooth)


@SMOOTH
@pytest.mark.parametrize("over", [True, False], ids=["over", "under"])
@pytest.mark.parametrize("side", SIDES)
def test_it_is_found_on_a_card(side, over, smooth):
    judge(*bump(side, 5, 5, over), smooth, CARD)


@SMOOTH
@pytest.mark.parametrize("over", [True, False], ids=["over", "under"])
@pytest.mark.parametrize("pen", [3, 5, 8])
def test_paint_in_its_neighbor_names_both(pen, over, smooth):
    frame = [(60, 100), (120, 100), (120, 140), (60, 140)]
    sheet = figure(pen)
    if over:
        sheet.disk((120, 120), pen / 2 + 5, CLOTH)
    else:
        sheet.disk((120 + pen / 2, 120), 5, CLOTH).line(frame, pen, INK, closed=True)
    (fault,) = faults_of(sheet.rgba(smooth))
    assert (fault.kind, fault.verdict) == (FaultKind.SPILL, Verdict.RETAKE)
    assert (fault.nearest.color, fault.expected.color) == ("cloth", "coat")
    assert "Cloth" in fault.text
    assert "Coat" in fault.text
    assert covers(fault.box, (122.5 + pen / 2, 120), 1)


@SMOOTH
def test_two_spills_are_two_faults(smooth):
    sheet, _ = bump("right", 5, 5, over=True)
    sheet.disk((50, 100), 7.5, COAT).disk((110, 100), 57.5, COAT)
    assert kinds(faults_of(sheet.rgba(smooth))) == [("spill", "retake")] * 2


@SMOOTH
def test_a_bump_that_is_drawn_with_its_line_is_none(smooth):
    sheet = Sheet(240, 200)
    for grow, color in ((2.5, INK), (-2.5, COAT)):
        sheet.disk((110, 100), 60 + grow, color).disk((172, 100), 8 + grow, color)
    assert faults_of(sheet.rgba(smooth)) == ()


@SMOOTH
def test_shade_that_meets_its_line_and_a_bare_hand_are_none(smooth):
    sheet = Sheet(240, 200).disk((110, 100), 60, COAT).shape([(110, 40), (170, 100), (110, 160)], SHADE)
    sheet.disk((150, 70), 10, SHADE).ring((110, 100), 60, 5, INK)
    hand = [(20, 95), (60, 85), (60, 115), (20, 110)]
    sheet.shape(hand, SKIN).line([(60, 85), (20, 95), (20, 110), (60, 115)], 5, INK)
    assert faults_of(sheet.rgba(smooth)) == ()


@SMOOTH
@pytest.mark.parametrize(("pen", "turn"), list(itertools.product([3, 5, 8], range(0, 360, 40))))
def test_a_plain_outline_is_none_at_any_place(pen, turn, smooth):
    x, y = 10 * np.cos(np.radians(turn)), 10 * np.sin(np.radians(turn))
    sheet = Sheet(240, 200).disk((110 + x, 100 + y), 60.3, COAT).ring((110 + x, 100 + y), 60.3, pen, INK)
    assert faults_of(sheet.rgba(smooth)) == ()


SEAM = (
    (1.0, 0.1), (1.0, 0.26), (1.0, 0.26), (0.9, 0.26), (0.78, 0.37), (0.78, 0.52), (0.78, 0.52), (0.52, 0.52),
    (0.52, 0.63), (0.52, 0.78), (0.26, 0.78), (0.26, 0.78), (0.11, 0.85), (0.0, 1.0), (0.0, 1.0), (0.0, 0.78),
)  # fmt: skip


@pytest.mark.parametrize("turn", range(4))
def test_the_thick_end_of_a_seam_drawn_in_shade_is_none(turn):
    """As a curve in the shade's color, two pixels wide, leaves the line: pure at first, then blended."""
    sheet = Sheet(240, 200).rect(20, 20, 200, 160, COAT).rect(20, 20, 200, 60, SHADE)
    sheet.rect(20, 76, 200, 6, INK).line([(20, 20), (220, 20), (220, 180), (20, 180)], 5, INK, True)
    rgba = sheet.rgba()
    for row, shares in enumerate((*SEAM, *SEAM[5:12], *SEAM[5:9])):
        for column, share in enumerate(shares):
            rgba[82 + row, 120 + column, :3] = np.rint(share * np.array(SHADE) + (1 - share) * np.array(COAT))
    assert ("spill", "retake") not in kinds(faults_of(np.rot90(rgba, turn).copy()))
