"""Art cut off straight inside the picture, with its lines cut across, is asked about; drawn ends are not."""

import numpy as np
import pytest
from cel_art import CARD, CLOTH, COAT, INK, PALETTE, SELF_INK, Sheet, faults_of, figure

from cel_check.faults import FaultKind, SendTo, Verdict

SMOOTH = pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])
CORNERS = [(40, 60), (260, 80), (260, 140), (40, 150)]


def sleeve(ink=INK, pen=5):
    """Draw an arm of cloth with a cuff, from 40 to 260 px across."""
    sheet = Sheet(300, 200).shape(CORNERS, COAT).shape([(60, 62), (90, 65), (90, 148), (60, 149)], CLOTH)
    sheet.line([(60, 62), (60, 149)], pen, ink).line([(90, 65), (90, 148)], pen, ink)
    return sheet.line(CORNERS, pen, ink, closed=True)


def turned(rgba, quarters):
    return np.ascontiguousarray(np.rot90(rgba, quarters))


def short(rgba, palette=PALETTE):
    return [fault for fault in faults_of(rgba, palette) if fault.kind is FaultKind.SHORT_OF_FIELD]


@SMOOTH
@pytest.mark.parametrize("card", [None, CARD], ids=["clear", "card"])
@pytest.mark.parametrize("ink", [INK, SELF_INK], ids=["ink", "self"])
@pytest.mark.parametrize(("quarters", "side"), [(0, "right"), (1, "top"), (2, "left"), (3, "bottom")])
def test_a_sleeve_cut_off_is_asked_about_on_every_side(quarters, side, ink, card, smooth):
    rgba = sleeve(ink).rgba(smooth, card)
    rgba[:, 180:] = rgba[0, 0]
    (fault,) = short(turned(rgba, quarters))
    assert (fault.verdict, fault.send_to) == (Verdict.QUERY, SendTo.ANIMATION)
    assert f"120 px inside the picture's {side} edge" in fault.text
    assert sorted(fault.box[2:]) == [24, pytest.approx(75, abs=5)]
    at = {"right": (0, 179), "left": (0, 120), "top": (1, 120), "bottom": (1, 179)}[side]
    assert fault.point[at[0]] == at[1]
    assert fault.box[at[0]] == (at[1] - 23 if side in ("right", "bottom") else at[1])


@SMOOTH
@pytest.mark.parametrize("card", [None, CARD], ids=["clear", "card"])
def test_art_that_runs_off_the_picture_is_not(card, smooth):
    rgba = sleeve().rgba(smooth, card)[:, :180]
    assert short(np.ascontiguousarray(rgba)) == []


@SMOOTH
@pytest.mark.parametrize("pen", [3, 5, 8, 14])
def test_drawn_outlines_are_not_however_straight(pen, smooth):
    box = Sheet(300, 200).rect(60, 50, 160, 90, COAT)
    box.line([(60, 50), (220, 50), (220, 140), (60, 140)], pen, INK, closed=True)
    for rgba in (box.rgba(smooth), sleeve(pen=pen).rgba(smooth), figure(pen).rgba(smooth)):
        assert short(rgba) == []


@SMOOTH
def test_art_without_lines_is_not(smooth):
    assert short(Sheet(300, 200).rect(60, 50, 160, 90, COAT).rgba(smooth)) == []
    assert short(Sheet(300, 200).rect(60, 50, 160, 90, INK).rgba(smooth)) == []


@SMOOTH
def test_a_broad_line_s_blunt_end_and_a_bare_curve_are_not(smooth):
    """A line of 40 px cut across is its own end; a bowl whose rim was left open is wider further in."""
    bar = sleeve().rect(120, 20, 40, 40, INK).rgba(smooth)
    assert short(bar) == []
    bowl = Sheet(400, 400).disk((200, 200), 150, COAT).ring((200, 200), 150, 6, INK)
    bowl.disk((200, 358), 14, None)
    assert short(bowl.rgba(smooth)) == []


@SMOOTH
def test_a_tip_shorter_than_a_finger_is_not(smooth):
    rgba = Sheet(300, 200).shape([(40, 90), (200, 90), (200, 105), (40, 105)], COAT)
    rgba = rgba.line([(40, 90), (200, 90), (200, 105), (40, 105)], 4, INK, closed=True).rgba(smooth)
    rgba[:, 150:] = 0
    assert short(rgba) == []


def test_two_legs_cut_off_at_one_height_are_one_fault():
    legs = Sheet(300, 200)
    for x in (60, 180):
        corners = [(x, 20), (x + 60, 20), (x + 60, 190), (x, 190)]
        legs.shape(corners, COAT).line(corners, 5, INK, closed=True)
    rgba = legs.rgba()
    rgba[150:] = 0
    (fault,) = short(rgba)
    assert (fault.point[1], fault.box[1] + fault.box[3]) == (149, 150)
    assert fault.box[2] > 170
    assert fault.area_px == pytest.approx(2 * 65, abs=4)
    assert rgba[fault.point[1], fault.point[0], 3] == 255
