"""A fill that is not on the model is found, named and boxed; one wrong pot is one fault."""

import numpy as np
import pytest
from cel_art import (
    CARD,
    CLOTH,
    COAT,
    INK,
    PAINTS,
    PALETTE,
    SKIN,
    Sheet,
    covers,
    faults_of,
    figure,
    jpeg,
    kinds,
    model,
    off,
)
from cel_art import with_tolerance as allow
from skimage.color import deltaE_ciede2000, rgb2lab

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.model.colormodel import Palette, Use

WAYS = {"lighter": (1, 1, 1), "darker": (-1, -1, -1), "warmer": (1, 0, -1), "greener": (-1, 1, 0)}


def delta(first, second):
    lab = rgb2lab(np.array([[first, second]]) / 255.0)[0]
    return float(deltaE_ciede2000(lab[0], lab[1]))


@pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])
@pytest.mark.parametrize("card", [None, CARD], ids=["clear", "card"])
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("size", [3, 5, 10])
def test_a_part_that_is_off_is_found_named_and_boxed(size, way, card, smooth):
    wrong = off(CLOTH, size, WAYS[way])
    (fault,) = faults_of(figure(cloth=wrong).rgba(smooth, card))
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.OFF_MODEL, Verdict.RETAKE, SendTo.PAINT)
    assert fault.box == pytest.approx((63, 103, 54, 34), abs=2)
    assert covers(fault.box, fault.point)
    assert fault.found.srgb == "#{:02X}{:02X}{:02X}".format(*wrong)
    assert fault.nearest.color == "cloth"
    assert fault.nearest.delta_e == pytest.approx(delta(wrong, CLOTH), abs=0.02)
    assert fault.area_px == pytest.approx(55 * 35, rel=0.1)
    assert "Cloth" in fault.text
    assert f"{fault.nearest.delta_e:.1f} ΔE00" in fault.text


@pytest.mark.parametrize("size", [3, 5, 10])
@pytest.mark.parametrize("radius", [5, 8, 16])
def test_a_small_part_in_its_lines_is_found_too(radius, size):
    sheet = figure().disk((90, 70), radius + 4, INK).disk((90, 70), radius, off(SKIN, size))
    assert kinds(faults_of(sheet.rgba())) == [("off-model", "retake")]


def test_a_shade_that_lies_bare_on_its_fill_is_found():
    sheet = (
        Sheet(240, 200)
        .disk((90, 110), 70, COAT)
        .shape([(90, 60), (150, 110), (100, 170)], off((160, 60, 45), 6, (-1, -1, -1)))
    )
    (fault,) = faults_of(sheet.ring((90, 110), 70, 5, INK).rgba())
    assert (fault.kind, fault.verdict, fault.nearest.color) == (FaultKind.OFF_MODEL, Verdict.RETAKE, "shade")


def test_two_parts_out_of_one_wrong_pot_are_one_fault():
    wrong = off(COAT, 6)
    sheet = figure(coat=wrong).disk((200, 150), 25, wrong).ring((200, 150), 25, 5, INK)
    (fault,) = faults_of(sheet.rgba())
    assert fault.kind is FaultKind.OFF_MODEL
    assert covers(fault.box, (30, 110))
    assert covers(fault.box, (215, 150))
    assert "2 places" in fault.text


def test_two_wrong_pots_are_two_faults():
    faults = faults_of(figure(coat=off(COAT, 6), cloth=off(CLOTH, 6)).rgba())
    assert [fault.kind for fault in faults] == [FaultKind.OFF_MODEL] * 2
    assert {fault.nearest.color for fault in faults} == {"coat", "cloth"}


def test_each_color_allows_its_own_difference():
    wrong = off(CLOTH, 5)
    strict = Palette(tuple(allow(color, 1.0) for color in PALETTE.colors), ())
    loose = Palette(tuple(allow(color, 6.0) for color in PALETTE.colors), ())
    assert kinds(faults_of(figure(cloth=wrong).rgba(), strict)) == [("off-model", "retake")]
    assert faults_of(figure(cloth=wrong).rgba(), loose) == ()


def test_a_color_far_from_every_model_color_is_said_to_be_none():
    (fault,) = faults_of(figure(cloth=(60, 230, 60)).rgba())
    assert fault.verdict is Verdict.RETAKE
    assert "not on the model" in fault.text


@pytest.mark.parametrize("size", [5, 10])
def test_it_is_found_in_a_jpeg(size):
    faults = faults_of(jpeg(figure(6, cloth=off(CLOTH, size)).rgba(card=CARD), 95))
    found = [
        fault for fault in faults if fault.kind is FaultKind.OFF_MODEL and fault.nearest.color == "cloth"
    ]
    assert [fault.verdict for fault in found] == [Verdict.RETAKE]
    assert found[0].nearest.delta_e == pytest.approx(size, abs=0.6)
    assert covers(found[0].box, (90, 120))


def test_a_cel_that_is_wrong_paint_all_over_is_found():
    (fault,) = faults_of(Sheet().disk((80, 60), 50, (60, 230, 60)).rgba(), Palette(PAINTS, ()))
    assert fault.kind is FaultKind.OFF_MODEL
    assert covers(fault.box, (80, 60))


def test_a_mouth_alone_in_night_colors_is_on_the_model():
    """Its paint and its line differ by 12 levels at most, which once passed for the noise of compression."""
    dark, line, tongue = (79, 30, 62), (67, 37, 51), (139, 79, 111)
    palette = Palette(
        (
            model("Mouth", dark, tolerance=1.5),
            model("Tongue", tongue, tolerance=1.5),
            model("Face line", line, Use.INK, tolerance=1.5),
        ),
        ("Tilda Brake",),
    )
    lips = [(60.7, 52.0), (73.0, 49.2), (89.0, 50.8), (100.5, 56.0), (90.7, 73.1), (78.4, 75.9), (66.9, 70.7)]
    sheet = Sheet().shape(lips, dark).disk((80, 68), 6, tongue).line(lips, 5, line, closed=True)
    for row in range(16):  # only some rows were looked at for noise
        found = faults_of(np.roll(sheet.rgba(), row, axis=0), palette)
        assert [fault.text for fault in found if fault.kind is FaultKind.OFF_MODEL] == []
