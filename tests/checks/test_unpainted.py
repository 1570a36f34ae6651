"""What the brush missed is sent back; a clear place between lines is asked about."""

import numpy as np
import pytest
from cel_art import CARD, CLOTH, COAT, INK, ONLY_PAINTS, SKIN, Sheet, covers, faults_of, figure, kinds

from cel_check.faults import FaultKind, SendTo, Verdict

SMOOTH = pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])


@SMOOTH
@pytest.mark.parametrize("card", [None, CARD], ids=["clear", "card"])
@pytest.mark.parametrize("radius", [2, 3, 3.5, 4, 5, 6])
def test_a_pinhole_in_paint_is_found_named_and_boxed(radius, card, smooth, request):
    (fault,) = faults_of(figure().disk((70, 80), radius, None).rgba(smooth, card))
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.UNPAINTED, Verdict.RETAKE, SendTo.PAINT)
    assert fault.expected.color == "coat"
    assert "Coat" in fault.text
    assert covers(fault.box, (69.5, 79.5), 0.5)
    assert max(fault.box[2:]) == pytest.approx(2 * radius, abs=2)
    assert covers(fault.box, fault.point)
    # Rims may go to either side: half a pixel all around.
    assert fault.area_px == pytest.approx(np.pi * radius**2, abs=np.pi * radius + 2)


@SMOOTH
@pytest.mark.parametrize(
    "place", [(22, 110), (158, 110), (90, 42), (90, 178)], ids=["left", "right", "top", "bottom"]
)
def test_a_spot_missed_along_the_line_is_found_on_every_side(place, smooth):
    sheet = Sheet(240, 200).disk((90, 110), 70, COAT).disk(place, 9, None).ring((90, 110), 70, 5, INK)
    # Outside the line nothing was painted in the first place.
    faults = faults_of(sheet.rgba(smooth))
    assert [fault.kind for fault in faults] == [FaultKind.UNPAINTED]
    assert covers(faults[0].box, place, 6)


@SMOOTH
def test_a_part_without_paint_is_asked_about(smooth):
    (fault,) = faults_of(figure(cloth=None).rgba(smooth))
    assert (fault.kind, fault.verdict) == (FaultKind.UNPAINTED, Verdict.QUERY)
    assert fault.box == pytest.approx((63, 103, 54, 34), abs=2)
    assert covers(fault.box, fault.point)


@SMOOTH
def test_two_pinholes_are_two_faults(smooth):
    sheet = figure().disk((70, 80), 3, None).disk((110, 70), 4, None)
    assert kinds(faults_of(sheet.rgba(smooth))) == [("unpainted", "retake")] * 2


@SMOOTH
def test_a_drawing_without_any_paint_is_one_question(smooth):
    sheet = (
        Sheet(240, 200).ring((90, 110), 70, 5, INK).ring((200, 60), 28, 5, INK).ring((90, 110), 20, 5, INK)
    )
    (fault,) = faults_of(sheet.rgba(smooth))
    assert (fault.kind, fault.verdict) == (FaultKind.UNPAINTED, Verdict.QUERY)
    assert covers(fault.box, (30, 110))
    assert covers(fault.box, (215, 60))


@SMOOTH
def test_a_pinhole_on_a_bare_border_names_a_paint_that_lies_there(smooth):
    sheet = Sheet().rect(20, 20, 60, 80, COAT).rect(80, 20, 60, 80, SKIN).disk((80, 60), 4, None)
    (fault,) = faults_of(sheet.rgba(smooth))
    assert (fault.kind, fault.verdict) == (FaultKind.UNPAINTED, Verdict.RETAKE)
    assert fault.expected.color in {"coat", "skin"}


@SMOOTH
def test_a_corner_that_the_line_itself_leaves_is_no_fault(smooth):
    sheet = Sheet().rect(20, 20, 100, 80, COAT)
    sheet.line([(20, 20), (120, 20), (120, 100), (20, 100)], 5, INK, closed=True)
    sheet.disk((60, 60), 6, INK).rect(59, 59, 3, 3, None)
    assert faults_of(sheet.rgba(smooth)) == ()


@pytest.mark.parametrize("wide", [2, 3, 4, 6])
@pytest.mark.parametrize("lean", [0, 7, 18, 40])
def test_the_end_of_a_slit_is_no_spot(lean, wide):
    """Two fingers, a sleeve on a coat: where the slit's edges meet, clear pixels hang together by corners."""
    sheet = Sheet(160, 140).rect(20, 20, 120, 100, COAT)
    sheet.shape([(60, 19), (60 + wide, 19), (60 + lean, 100)], None)
    assert faults_of(sheet.rgba(), ONLY_PAINTS) == ()


def test_without_outlines_a_place_between_parts_may_be_seen_through():
    sheet = Sheet(160, 140).rect(20, 20, 120, 100, COAT).rect(20, 80, 120, 40, CLOTH)
    sheet.shape([(60, 80), (90, 80), (75, 60)], None)
    (fault,) = faults_of(sheet.rgba(), ONLY_PAINTS)
    assert (fault.kind, fault.verdict) == (FaultKind.UNPAINTED, Verdict.QUERY)


@pytest.mark.parametrize(("side", "verdict"), [(12, Verdict.RETAKE), (22, Verdict.QUERY)])
def test_without_outlines_a_hole_in_one_fill_is_missed_where_it_is_small(side, verdict):
    sheet = Sheet(260, 240).rect(20, 20, 220, 200, COAT).rect(100, 100, side, side, None)
    (fault,) = faults_of(sheet.rgba(), ONLY_PAINTS)
    assert (fault.kind, fault.verdict) == (FaultKind.UNPAINTED, verdict)
