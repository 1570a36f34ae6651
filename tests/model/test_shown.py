"""What sRGB cannot hold, a broadcaster refuses, a lost line, and pairs that some viewers cannot tell."""

import importlib
import warnings

import numpy as np
import pytest
from looks_art import UNKNOWN, color, condition, looks, model_of

from cel_check.color.spaces import srgb8_to_lab
from cel_check.model.finding import Kind, Severity
from cel_check.model.shown import Levels, encoded, find_unshown
from cel_check.model.together import Together


def found(model, kind, together=UNKNOWN, levels=Levels.SCALED):
    return [one for one in find_unshown(looks(model), together, levels) if one.kind is kind]


def colour():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return importlib.import_module("colour")


@pytest.mark.parametrize(
    ("lab", "severity"),
    [
        ("L = 62.0, a = -48.0, b = -22.0, illuminant = 'D50'", Severity.ERROR),
        (
            "L = 60.0, a = -36.0, b = -14.0, illuminant = 'D50'",
            Severity.WARNING,
        ),  # 1 ΔE00 out: within tolerance
        ("L = 50.0, a = 10.0, b = 10.0, illuminant = 'D65'", None),
    ],
)
def test_a_measured_color_outside_the_gamut_is_named(tmp_path, lab, severity):
    told = found(model_of(tmp_path, color("glass", lab)), Kind.OUT_OF_GAMUT)
    assert [one.severity for one in told] == ([severity] if severity else [])
    if told:
        assert told[0].text.startswith("Glass, L*a*b* ")
        assert told[0].mend.startswith("Choose a color inside the gamut, as #00")


def test_unclipped_signals_are_those_of_colour_science():
    lab = np.array([[62.0, -48.0, -22.0], [72.0, 62.0, 70.0], [50.0, 0.0, 0.0]])
    white = np.array([0.95047, 1.0, 1.08883])
    xy = white[:2] / white.sum()
    library = colour()
    rgb = library.XYZ_to_RGB(library.Lab_to_XYZ(lab, xy), "sRGB", xy, chromatic_adaptation_transform=None)
    size = np.abs(rgb)
    curve = np.where(size <= 0.0031308, 12.92 * size, 1.055 * size ** (1 / 2.4) - 0.055)
    # the printed matrix of IEC 61966-2-1 has 4 digits
    assert encoded(lab) == pytest.approx(np.copysign(curve, rgb), abs=2e-3)


def test_a_signal_past_5_per_cent_is_illegal(tmp_path):
    parts = [
        color("glass", "L = 62.0, a = -48.0, b = -22.0, illuminant = 'D50'"),
        color("coat", "#FFFFFF"),
        color("line", "#000000"),
    ]
    (one,) = found(model_of(tmp_path, *parts), Kind.BROADCAST)
    assert (one.severity, one.colors) == (Severity.ERROR, (("tilda", "glass"),))
    assert one.value > 5.0
    assert "EBU R 103 tolerates 5 %" in one.text


def test_codes_sent_straight_must_stay_within_5_and_246(tmp_path):
    parts = [color("a", "#05F6F6"), color("b", "#04F0F0"), color("c", "#F7A0A0")]
    parts.append(condition("night", a="#030303"))
    told = found(model_of(tmp_path, *parts), Kind.BROADCAST, levels=Levels.STRAIGHT)
    assert [(one.colors[0][1], one.condition) for one in told] == [("a", "night"), ("b", ""), ("c", "")]
    assert not found(model_of(tmp_path, *parts), Kind.BROADCAST)


def test_a_line_without_contrast_to_its_paint_is_named(tmp_path):
    # green and red of one luminance: ΔE00 is large, the luminance contrast nothing
    parts = [color("line", "#C03030", use="ink"), color("leaf", "#3E7A3E"), color("sky", "#E0F0FF")]
    together = Together(borders={"tilda": frozenset({("line", "leaf"), ("line", "sky")})})
    (one,) = found(model_of(tmp_path, *parts), Kind.INK_CONTRAST, together)
    assert one.severity is Severity.WARNING
    assert one.colors == (("tilda", "line"), ("tilda", "leaf"))
    assert 1.0 <= one.value < 1.15
    assert not found(model_of(tmp_path, *parts), Kind.INK_CONTRAST)


def test_pairs_that_fall_together_are_notes_by_deficiency(tmp_path):
    # A red and a brown that protan viewers confuse, by colour-science's matrices of the same paper.
    pair = ("#B8342F", "#6B5138")
    (protan, *rest) = found(
        model_of(tmp_path, color("scarf", pair[0]), color("pipe", pair[1])), Kind.COLOR_VISION
    )
    assert not rest
    assert protan.severity is Severity.NOTE
    assert protan.text.startswith("For protan viewers")
    library = colour()
    rgb = np.array([list(bytes.fromhex(one[1:])) for one in pair]) / 255.0
    matrix = library.CVD_MATRICES_MACHADO2010["Protanomaly"][1.0]
    linear = np.clip(library.cctf_decoding(rgb) @ np.array(matrix).T, 0, 1)
    lab = library.XYZ_to_Lab(library.RGB_to_XYZ(linear, "sRGB"))
    assert protan.value == pytest.approx(float(library.delta_E(lab[0], lab[1], method="CIE 2000")), abs=0.01)
    assert protan.value < 3.0


def test_pairs_that_nobody_can_tell_are_no_matter_of_color_vision(tmp_path):
    model = model_of(tmp_path, color("coat", "#8A4B2F"), color("vest", "#884B30"))
    assert not found(model, Kind.COLOR_VISION)


def test_the_short_cut_over_lightness_loses_no_pair(tmp_path):
    rng = np.random.default_rng(3)
    texts = ["#{:02X}{:02X}{:02X}".format(*rgb) for rgb in rng.integers(0, 256, (60, 3))]
    model = model_of(tmp_path, *(color(f"c{i}", text) for i, text in enumerate(texts)))
    counted = 0
    library = colour()
    rgb = np.array([list(bytes.fromhex(one[1:])) for one in texts], np.uint8)
    plain = library.delta_E(srgb8_to_lab(rgb)[:, None], srgb8_to_lab(rgb)[None], method="CIE 2000")
    for name in ("Protanomaly", "Deuteranomaly", "Tritanomaly"):
        linear = library.cctf_decoding(rgb / 255.0) @ np.array(library.CVD_MATRICES_MACHADO2010[name][1.0]).T
        lab = library.XYZ_to_Lab(library.RGB_to_XYZ(np.clip(linear, 0, 1), "sRGB"))
        seen = library.delta_E(lab[:, None], lab[None], method="CIE 2000")
        counted += int(np.triu((seen < 3.0) & (plain >= 3.0), 1).sum())
    told = found(model, Kind.COLOR_VISION)
    named = sum(one.text.count("ΔE00") for one in told)
    more = sum(int(one.text.split(" and ")[-1].split()[0]) for one in told if "pairs more" in one.text)
    assert named + more == pytest.approx(counted, abs=2)  # a pair at the limit may fall to either side
    assert counted > 10
