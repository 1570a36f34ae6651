"""A scanned cel is registered, cleared of its card and checked; what its scan cannot tell is a query."""

import re
import sys
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from cel_check.color.spaces import srgb8_to_lab, srgb_to_linear
from cel_check.errors import Refused
from cel_check.faults import Fault, FaultKind, ModelMatch, SendTo, Verdict
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.scan.calibrate import Calibration, calibrate
from cel_check.scan.chart import Edition, published
from cel_check.scan.prepare import Bed, prepare
from cel_check.scan.profile import Profile, profile_toml
from cel_check.scan.punch import Punch
from cel_check.scene.compared import compared
from cel_check.scene.results import CelResult
from cel_check.scene.scan_cel import check_scan, known_within, told_by_others
from cel_check.scene.scan_terms import ScanTerms, widened
from cel_check.scene.scene import Level, Scene
from cel_check.settings import DEFAULTS

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "scan"))
from scan_art import Scanner, chart_light, picture_of, punched, scanned

DPI = 150.0
CARD, COAT, INK = (127, 168, 160), (200, 85, 61), (20, 18, 24)
SCARF, BUTTON = (226, 200, 120), (60, 80, 150)
SCANNER = Scanner(noise=1.0, mix=((0.97, 0.02, 0.01), (0.02, 0.96, 0.02), (0.01, 0.02, 0.97)))


def model_color(name, use, rgb):
    lab = tuple(float(v) for v in srgb8_to_lab(np.array([rgb], np.uint8))[0])
    return ModelColor(name, name.title(), use, rgb, lab, 2.0, None, "tilda")


PALETTE = Palette((model_color("coat", Use.PAINT, COAT), model_color("outline", Use.INK, INK)), ("tilda",))
THREE = Palette(
    (*PALETTE.colors, model_color("scarf", Use.PAINT, SCARF), model_color("button", Use.PAINT, BUTTON)),
    ("tilda",),
)


def scan(coat=COAT, spot=0, patch=None, turn=1.0, texture=0.0, **holes):
    """A coat with its outline on a card, 11 x 8.5 inches, turned by one degree and moved by 2 mm.

    `patch` is the color of a disk with its own outline on the coat, which has a button beside it;
    `texture` is by how much slow waves vary the light.
    """
    sheet, move = punched((1650, 1275), DPI, turn, (2.0, -1.5), **holes)
    holed = np.abs(sheet[..., 0] - 0.35 * 0.95) > 1e-6
    image = np.full((1275, 1650, 3), CARD, np.uint8)
    cv2.circle(image, (800, 500), 300, INK, -1, cv2.LINE_AA)
    cv2.circle(image, (800, 500), 288, coat, -1, cv2.LINE_AA)
    for middle, radius, color in ((700, 420), 90, patch), ((900, 620), 60, BUTTON):
        if patch is not None:
            cv2.circle(image, middle, radius, INK, -1, cv2.LINE_AA)
            cv2.circle(image, middle, radius - 8, color, -1, cv2.LINE_AA)
    if spot:
        cv2.circle(image, (880, 560), spot, CARD, -1, cv2.LINE_AA)
    light = srgb_to_linear(cv2.warpAffine(image, move, (1650, 1275), borderValue=CARD) / 255.0)
    light[holed] = sheet[holed]
    grain = 1 + 0.01 * np.random.default_rng(5).standard_normal(light.shape[:2])
    waves = 1 + texture * np.sin(np.arange(light.shape[1]) / 12.0)
    return picture_of(scanned(light * grain[..., None] * waves[None, :, None], SCANNER), DPI)


@pytest.fixture(scope="module")
def terms(tmp_path_factory):
    chart = published(next(iter(Edition)))
    made = calibrate(picture_of(scanned(chart_light(chart), SCANNER)), chart, None, None)
    assert isinstance(made, Calibration)
    path = tmp_path_factory.mktemp("profile") / "scanner.toml"
    path.write_text(
        profile_toml(Profile(made.fit.correction, None, made.residual, "chart", "scan", "0", "today", "own"))
    )
    return ScanTerms(DPI, str(path), "0" * 64, made.residual.p95, CARD, Punch(), made.residual.mean)


def found(picture, terms):
    checked = check_scan(picture, widened(PALETTE, terms), DEFAULTS, terms)
    return checked, [(fault.kind, fault.verdict) for fault in checked.faults]


def test_a_right_cel_has_no_fault_and_says_its_residual(terms):
    checked, kinds = found(scan(), terms)
    assert kinds == []
    assert "thousandths of an inch" in checked.notes[0]
    assert f"supports a tolerance of {terms.supported:.1f} ΔE00" in checked.notes[-1]
    assert not checked.picture.opaque


def test_the_picture_for_frames_lies_in_register(terms):
    checked, _ = found(scan(turn=2.0), terms)
    mask = checked.picture.rgba[..., 3] > 127
    rows, columns = np.nonzero(mask)
    assert (columns.mean(), rows.mean()) == pytest.approx((800, 500), abs=0.6)
    assert mask.sum() == pytest.approx(np.pi * 300**2, rel=0.01)


def test_a_wrong_paint_is_sent_back(terms):
    # ΔE00 from the coat's own color: 5.6.
    checked, kinds = found(scan(coat=(203, 96, 84)), terms)
    assert kinds == [(FaultKind.OFF_MODEL, Verdict.RETAKE)]
    x, y = checked.faults[0].point
    assert np.hypot(x - 812, y - 491) < 300


def test_a_color_nearer_than_the_profile_is_sure_of_is_a_query(terms):
    checked, kinds = found(scan(coat=(203, 96, 84)), replace(terms, residual=4.0))
    assert kinds == [(FaultKind.OFF_MODEL, Verdict.QUERY)]
    assert "The scan is sure of this color within 4." in checked.faults[0].text


def test_a_color_is_known_by_its_spread_its_size_and_the_profiles_residual():
    usual = known_within(0.6, 100.0, 0.5)
    assert known_within(1.2, 100.0, 0.5) > usual
    assert known_within(0.6, 1.0, 0.5) > usual
    assert known_within(0.6, 100.0, 1.0) > usual
    assert known_within(0.0, 0.0, 0.0) == 0.5  # paint of one pot


def test_a_coarse_paint_varies_by_more_than_a_smooth_one_on_its_own_place():
    ready = [prepare(scan(texture=one), PALETTE, None, Bed(DPI, Punch(), CARD)) for one in (0.0, 0.06)]
    smooth, coarse = (one.own.at(800, 500) for one in ready)
    assert 0 < 2 * smooth < coarse


def test_without_a_profile_no_color_is_sent_back(terms):
    bare = replace(terms, profile="", profile_sha256="", supported=5.0)
    checked, kinds = found(scan(coat=(210, 130, 120)), bare)
    assert kinds == 2 * [(FaultKind.OFF_MODEL, Verdict.QUERY)]
    assert [fault.box is None for fault in checked.faults] == [
        False,
        True,
    ]  # and one for what was not checked


def test_a_spot_of_a_millimeter_without_paint_is_sent_back(terms):
    checked, kinds = found(scan(spot=3), terms)
    assert kinds == [(FaultKind.UNPAINTED, Verdict.RETAKE)]
    (text,) = (fault.text for fault in checked.faults if fault.kind is FaultKind.UNPAINTED)
    assert re.search(r"A spot of [01]\.\d mm without paint", text)


def test_a_torn_hole_is_off_register_and_the_rest_is_checked(terms):
    _, kinds = found(scan(coat=(203, 96, 84), torn={0: "torn"}), terms)
    assert (FaultKind.OFF_REGISTER, Verdict.RETAKE) in kinds
    assert FaultKind.OFF_MODEL in [kind for kind, _ in kinds]


def test_a_scan_without_any_hole_is_a_query(terms):
    _, kinds = found(scan(torn=dict.fromkeys(range(3), "missing")), terms)
    assert kinds == [(FaultKind.OFF_REGISTER, Verdict.QUERY)]


def test_a_scan_of_unknown_resolution_is_not_checked(terms):
    with pytest.raises(Refused, match="does not state its resolution"):
        check_scan(replace(scan(), dpi=None), PALETTE, DEFAULTS, replace(terms, dpi=None))


def test_places_lie_on_the_scan_as_it_was_read(terms):
    checked, _ = found(scan(), terms)
    (coat,) = checked.places
    _, move = punched((1650, 1275), DPI, 1.0, (2.0, -1.5))
    assert coat.center == pytest.approx(move @ [800, 500, 1], abs=0.5)
    assert coat.area == pytest.approx(np.pi * 288**2, rel=0.01)
    assert coat.box == pytest.approx((*(move @ [800, 500, 1] - 288), 576, 576), abs=14)
    assert np.sqrt(coat.moments[0]) == pytest.approx(288 / 2, rel=0.01)  # of a disk, a half of its radius


def test_a_part_painted_with_another_parts_color_is_told_by_the_levels_other_scans(terms):
    palette = widened(THREE, terms)
    level = Level("A", (), palette)
    cels = []
    for number, patch in enumerate((SCARF, SCARF, BUTTON, SCARF), start=1):
        checked = check_scan(scan(patch=patch, turn=number / 2), palette, DEFAULTS, terms)
        cels.append(
            CelResult("A", str(number), "A/1.tif", Verdict.PASS, checked.faults, places=checked.places)
        )
    scene = Scene(Path(), "s", "1", "scan", None, 24, 12, None, (level,), None, (), scan=terms)
    done, _ = compared(scene, cels, DEFAULTS)
    wrong = [[fault for fault in cel.faults if fault.kind is FaultKind.WRONG_PART] for cel in done]
    assert [len(faults) for faults in wrong] == [0, 0, 1, 0]
    (fault,) = wrong[2]
    assert fault.verdict is Verdict.RETAKE
    assert fault.expected is not None
    assert fault.expected.color == "scarf"
    _, move = punched((1650, 1275), DPI, 1.5, (2.0, -1.5))
    assert np.hypot(*(move @ [700, 420, 1] - fault.point)) < 82


@pytest.mark.parametrize(
    ("delta", "calibrated", "verdict"),
    [(9.0, True, Verdict.RETAKE), (2.3, True, Verdict.QUERY), (9.0, False, Verdict.QUERY)],
)
def test_a_wrong_part_of_a_color_too_close_to_tell_is_a_query(delta, calibrated, verdict):
    expected = ModelMatch("scarf", "Scarf", None, "tilda", "#E2C878", delta, 2.0)
    fault = Fault(FaultKind.WRONG_PART, Verdict.RETAKE, "It is wrong.", SendTo.PAINT, 0.98, expected=expected)
    spill = replace(fault, kind=FaultKind.SPILL, expected=None)
    terms = ScanTerms(DPI, "scanner.toml" * calibrated, "", 2.0, CARD, Punch())
    told = told_by_others((fault, spill), terms)
    assert [one.verdict for one in told] == [verdict, Verdict.QUERY]
