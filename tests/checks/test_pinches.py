"""A gap so short and soft that it is blended with ink is found; what is only thin, pale or sharp is not."""

import cv2
import numpy as np
import pytest
from cel_art import CARD, CLOTH, COAT, GREEN_INK, INK, SELF_INK, SKIN, Sheet, apart, faults_of, kinds

from cel_check.checks.pinches import pinches_of
from cel_check.faults import FaultKind

INKS = pytest.mark.parametrize("ink", [INK, SELF_INK, GREEN_INK], ids=["black", "self", "green"])
PENS = pytest.mark.parametrize("pen", [5, 8, 14])
SLANTS = pytest.mark.parametrize("slant", [0, 6, 25])
MIDDLE = (110, 100)
ROUND = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))


def parted(pen, gap, ink=INK, slant=0, sides=(COAT, CLOTH)):
    """Two sides in one frame, the line between them open over `gap` pixels."""
    top, bottom = (110 - slant, 20), (110 + slant, 180)
    sheet = Sheet(220, 200)
    left, right = [(20, 20), top, bottom, (20, 180)], [top, (200, 20), (200, 180), bottom]
    for corners, color in ((left, sides[0]), (right, sides[1])):
        sheet.shape(corners, color)
    frame = [top, left[0], left[3], bottom] if sides[1] is None else [left[0], *right[1:3], left[3]]
    sheet.line(frame, pen, ink, closed=sides[1] is not None)
    middle, along = np.array(MIDDLE, float), np.array([2 * slant, 160.0]) / np.hypot(2 * slant, 160)
    for end, way in ((np.array(top), -1), (np.array(bottom), 1)):
        across = np.array([-along[1], along[0]]) * pen / 2
        start = middle + way * along * gap / 2
        sheet.shape([tuple(c) for c in (start + across, end + across, end - across, start - across)], ink)
    return sheet


def soft_gap(pen, gap, ink=INK, slant=0, **more):
    """Take a line away as a soft brush does: each pixel's loss is the mean over it and its neighbors."""
    sides, card, strip = more.get("sides", (COAT, CLOTH)), more.get("card"), more.get("strip", 0.0)
    sheets = [parted(pen, length, ink, slant, sides) for length in (-4, gap, gap + 8)]
    for sheet in sheets if strip else ():
        sheet.rect(110 - strip / 2, 90, strip, 20, ink)
    closed, opened, bare = (sheet.rgba(True, card).astype(float) for sheet in sheets)
    share = cv2.blur((np.abs(opened - closed).max(axis=2) > 8).astype(float), (3, 3))[..., None]
    for picture in (closed, bare):
        picture[..., :3] *= picture[..., 3:] / 255
    full = closed * (1 - share) + bare * share
    full[..., :3] *= 255 / np.maximum(full[..., 3:], 1)
    return np.rint(np.clip(full, 0, 255)).astype(np.uint8)


def judge(rgba, named):
    (fault,) = [fault for fault in faults_of(rgba) if fault.kind is FaultKind.OPEN_LINE]
    assert np.hypot(fault.point[0] - MIDDLE[0], fault.point[1] - MIDDLE[1]) <= 5
    assert all(name in fault.text for name in named)
    return fault


GAPS = pytest.mark.parametrize(("pen", "gap"), [(5, 2.5), (5, 4), (8, 2.5), (8, 3), (8, 4), (14, 4)])


@INKS
@GAPS
@pytest.mark.parametrize("slant", [0, 25])
def test_a_soft_gap_between_two_paints_is_found(slant, pen, gap, ink):
    gap += 0.5 if slant else 0  # at eight samples a pixel a slanting gap of 2.5 px keeps a thread of line
    fault = judge(soft_gap(pen, gap, ink, slant), ("Coat", "Cloth"))
    assert float(fault.text.split(" is open for ")[1].split(" px")[0]) == pytest.approx(gap, abs=3)


@GAPS
@pytest.mark.parametrize("slant", [0, 6, 25])
def test_a_soft_gap_to_the_clear_cel_is_found(slant, pen, gap):
    judge(soft_gap(pen, gap, INK, slant, sides=(SKIN, None)), ("Skin", "the clear cel"))


@PENS
def test_a_soft_gap_is_found_on_a_card(pen):
    judge(soft_gap(pen, 4, sides=(SKIN, None), card=CARD), ("Skin",))


@PENS
@SLANTS
def test_a_closed_line_has_no_soft_gap(slant, pen):
    rgba = soft_gap(pen, -4, slant=slant)
    assert list(pinches_of(apart(rgba))) == []
    assert kinds(faults_of(rgba)) == []


@PENS
def test_a_line_that_is_thin_or_pale_in_a_place_is_closed(pen):
    assert kinds(faults_of(soft_gap(pen, 3, strip=2 * pen / 3))) == []
    pale = parted(pen, -4).rgba().astype(float)
    pale[99:102, 100:121, :3] += 0.3 * (
        np.array(COAT) - pale[99:102, 100:121, :3]
    )  # a breath of ink is missing
    assert [fault for fault in faults_of(pale.astype(np.uint8)) if fault.kind is FaultKind.OPEN_LINE] == []


@PENS
@pytest.mark.parametrize("turn", [10, 20, 35, 60])
def test_lines_that_meet_at_a_sharp_angle_are_closed(turn, pen):
    sheet = Sheet(220, 200).rect(20, 20, 180, 160, COAT)
    far = np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn))]) * 130
    sheet.shape([(40, 50), (170, 50), (40 + far[0], 50 + far[1])], CLOTH)
    sheet.line([(40, 50), (170, 50), (40 + far[0], 50 + far[1])], pen, INK, closed=True)
    sheet.line([(20, 20), (200, 20), (200, 180), (20, 180)], pen, INK, closed=True)
    rgba = cv2.blur(sheet.rgba(), (2, 2))
    assert [fault for fault in faults_of(rgba) if fault.kind is FaultKind.OPEN_LINE] == []


def test_a_gap_in_the_one_thick_line_of_a_thin_drawing_is_found():
    sheet = parted(15, 9)
    for step in range(12):
        for left in (30, 130):
            sheet.line([(left, 35 + 11 * step), (left + 60, 38 + 11 * step)], 3, INK)
    judge(sheet.rgba(), ("Coat", "Cloth"))
