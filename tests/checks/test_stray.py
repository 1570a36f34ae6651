"""Specks on the clear cel and dirt in a fill are found; what could be a drawn dot is asked about."""

import numpy as np
import pytest
from cel_art import CARD, COAT, INK, SKIN, covers, faults_of, figure, kinds

from cel_check.faults import FaultKind, SendTo, Verdict

SMOOTH = pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])
DIRT = (110, 100, 60)
AWAY = (25, 25)


@SMOOTH
@pytest.mark.parametrize("card", [None, CARD], ids=["clear", "card"])
@pytest.mark.parametrize("radius", [1, 1.5, 2, 3, 4, 6, 10])
def test_dirt_on_the_clear_cel_is_found_and_boxed(radius, card, smooth):
    (fault,) = faults_of(figure().disk(AWAY, radius, DIRT).rgba(smooth, card))
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.STRAY, Verdict.RETAKE, SendTo.PAINT)
    assert fault.box == pytest.approx((25 - radius, 25 - radius, 2 * radius, 2 * radius), abs=1.5)
    assert covers(fault.box, fault.point)
    assert fault.area_px == pytest.approx(np.pi * radius**2, abs=2 * np.pi * radius)


@SMOOTH
@pytest.mark.parametrize("color", [COAT, SKIN, INK])
@pytest.mark.parametrize("radius", [1, 1.5, 2])
def test_a_speck_of_a_model_color_is_named(color, radius, smooth):
    (fault,) = faults_of(figure().disk(AWAY, radius, color).rgba(smooth))
    assert (fault.kind, fault.verdict) == (FaultKind.STRAY, Verdict.RETAKE)
    assert fault.nearest.srgb == "#{:02X}{:02X}{:02X}".format(*color)
    assert fault.nearest.name in fault.text


@SMOOTH
def test_a_drop_of_paint_as_large_as_a_drawn_dot_is_asked_about(smooth):
    assert kinds(faults_of(figure().disk(AWAY, 7, SKIN).rgba(smooth))) == [("stray", "query")]


@SMOOTH
@pytest.mark.parametrize("radius", [2, 3, 4, 6, 9])
def test_dirt_in_a_fill_is_found_and_boxed(radius, smooth):
    (fault,) = faults_of(figure().disk((70, 80), radius, DIRT).rgba(smooth))
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.STRAY, Verdict.RETAKE, SendTo.PAINT)
    assert fault.box == pytest.approx((70 - radius, 80 - radius, 2 * radius, 2 * radius), abs=2)
    assert covers(fault.box, fault.point)
    assert fault.expected.color == "coat"
    assert "Coat" in fault.text


@SMOOTH
def test_two_specks_far_apart_are_two_faults(smooth):
    sheet = figure().disk(AWAY, 2, DIRT).disk((220, 180), 4, DIRT)
    assert kinds(faults_of(sheet.rgba(smooth))) == [("stray", "retake")] * 2


@SMOOTH
@pytest.mark.parametrize("color", [DIRT, SKIN], ids=["dirt", "paint"])
@pytest.mark.parametrize("radius", [0.8, 1, 2])
def test_many_small_specks_are_each_found_though_all_have_a_soft_rim(radius, color, smooth):
    sheet = figure().disk(AWAY, radius, color).disk((220, 180), 2 * radius, color)
    sheet = sheet.disk((20, 180), 3.2 * radius, color)
    assert [fault.kind for fault in faults_of(sheet.rgba(smooth))] == [FaultKind.STRAY] * 3


@SMOOTH
def test_a_speck_beside_the_art_is_found_too(smooth):
    (fault,) = faults_of(figure().disk((168, 110), 2, DIRT).rgba(smooth))
    assert fault.kind is FaultKind.STRAY
    assert covers(fault.box, (168, 110), 1)


@SMOOTH
def test_a_cel_of_a_speck_alone_is_found(smooth):
    sheet = figure(coat=None, cloth=None)
    sheet.map[:] = 0
    assert [fault.kind for fault in faults_of(sheet.disk((70, 80), 3, DIRT).rgba(smooth))] == [
        FaultKind.STRAY
    ]
