"""A scan passes where all of it was surely checked; what was not is asked about, with its reason."""

import sys
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from cel_check.color.spaces import srgb8_to_lab, srgb_to_linear
from cel_check.faults import FaultKind, Verdict
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.scan.backing import Backing, card_behind
from cel_check.scan.punch import Punch
from cel_check.scene.scan_cel import check_scan
from cel_check.scene.scan_cover import Cover, uncovered
from cel_check.scene.scan_terms import ScanTerms
from cel_check.scene.verdicts import cel_verdict
from cel_check.settings import DEFAULTS

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "scan"))
from scan_art import picture_of, punched

DPI = 150.0
CARD, COAT, INK = (127, 168, 160), (200, 85, 61), (20, 18, 24)
PALE, SASH, BLACK = (150, 62, 44), (226, 200, 120), (0, 0, 0)
TERMS = ScanTerms(DPI, "", "", 1.0, CARD, Punch())
"""As if codes were what a profile makes of them; `profile` is set where the faults are asked for."""


def color(name, use, rgb):
    lab = tuple(float(v) for v in srgb8_to_lab(np.array([rgb], np.uint8))[0])
    return ModelColor(name, name, use, rgb, lab, 2.0, None, "tilda")


def cover(ink=INK, pen=8, use=Use.INK, more=(), sash=False, **changed):
    """A coat with its line around it, on a card with peg holes, as it was taken apart."""
    sheet, move = punched((1650, 1275), DPI)
    image = np.full((1275, 1650, 3), CARD, np.uint8)
    cv2.circle(image, (800, 500), 300, ink, -1, cv2.LINE_AA)
    cv2.circle(image, (800, 500), 300 - pen, COAT, -1, cv2.LINE_AA)
    if sash:  # with a line of its own, far from the coat's
        cv2.rectangle(image, (700, 400), (900, 600), BLACK, -1)
        cv2.rectangle(image, (710, 410), (890, 590), PALE, -1)
    holed = np.abs(sheet[..., 0] - 0.35 * 0.95) > 1e-6
    light = srgb_to_linear(cv2.warpAffine(image, move, (1650, 1275), borderValue=CARD) / 255.0)
    light[holed] = sheet[holed]
    palette = Palette((color("coat", Use.PAINT, COAT), color("line", use, ink), *more), ("tilda",))
    rgb = np.rint(255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055))
    checked = check_scan(picture_of(rgb.astype(np.uint8), DPI), palette, DEFAULTS, TERMS)
    backing, _ = card_behind(srgb_to_linear(np.full((96, 96, 3), CARD) / 255.0).astype(np.float32), CARD)
    made = Cover(checked.drawing, DPI, DPI, backing, replace(TERMS, profile="scanner.toml"))
    return checked, replace(made, **changed)


def told(cover):
    faults = uncovered(cover)
    assert all(fault.verdict is Verdict.QUERY and fault.box is None for fault in faults)
    assert all(fault.text.startswith("Not surely checked. ") for fault in faults)
    return {fault.kind: fault.text for fault in faults}


def test_a_cel_whose_lines_and_colors_show_has_nothing_to_ask_about():
    checked, seen = cover()
    assert told(seen) == {}
    rest = [fault for fault in checked.faults if fault.kind is not FaultKind.OFF_MODEL]
    assert cel_verdict(rest, None) is Verdict.PASS


def test_without_a_profile_or_with_a_poor_one_colors_are_asked_about():
    _, seen = cover()
    for terms, words in (
        (replace(seen.terms, profile=""), "has no profile"),
        (replace(seen.terms, supported=6.2), "closer than 6.2"),
    ):
        faults = told(replace(seen, terms=terms))
        assert list(faults) == [FaultKind.OFF_MODEL]
        assert words in faults[FaultKind.OFF_MODEL]


def test_a_coarse_scan_and_thin_lines_are_asked_about():
    _, seen = cover()
    assert "at 140 pixels an inch" in told(replace(seen, dpi=140.0))[FaultKind.OPEN_LINE]
    thin = replace(seen.drawing, ink=replace(seen.drawing.ink, pen=1.0))
    assert "lines of 0.17 mm" in told(replace(seen, drawing=thin))[FaultKind.OPEN_LINE]


@pytest.mark.parametrize(("pen", "words"), [(8, ""), (2, "line beside coat")])
def test_a_thin_line_must_be_darker_than_a_broad_one(pen, words):
    # ΔE00 from the coat's color: 34; black would be 70 and more from what it borders.
    _, seen = cover(ink=(92, 40, 28), pen=pen)
    if pen == 2:
        seen = replace(seen, drawing=replace(seen.drawing, ink=replace(seen.drawing.ink, pen=1.6)))
    assert words in told(seen).get(FaultKind.OPEN_LINE, "")
    assert bool(words) == bool(told(seen))


def test_a_pale_line_is_asked_about_and_says_where():
    _, seen = cover(ink=PALE)  # ΔE00 from the coat: 11
    text = told(seen)[FaultKind.OPEN_LINE]
    assert "not with line beside coat (" in text
    assert "the card" not in text


def test_a_fill_as_pale_that_the_line_does_not_border_is_none_of_its_business():
    sash = color("sash", Use.PAINT, PALE)
    _, seen = cover(ink=(160, 70, 40), more=(sash, color("black", Use.INK, BLACK)), sash=True)
    text = told(seen)[FaultKind.OPEN_LINE]
    assert "line beside coat" in text
    assert "sash" not in text


def test_a_line_beside_a_fill_of_its_very_color_parts_nothing():
    _, seen = cover(ink=INK, use=Use.BOTH)
    assert told(seen) == {}


def test_paint_that_looks_like_the_card_is_asked_about():
    _, seen = cover()
    pale = Backing((0.5, 0.1, 0.05), seen.drawing.palette.colors[0].lab, (1.0, 1.0, 1.0))
    assert "coat is 0.0 ΔE00 from the card" in told(replace(seen, card=pale))[FaultKind.UNPAINTED]
