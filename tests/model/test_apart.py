"""Pairs that the checker cannot tell apart are errors, those an audience hardly can are warnings."""

import numpy as np
import pytest
from looks_art import UNKNOWN, color, condition, looks, model_of
from skimage.color import deltaE_ciede2000, rgb2lab

from cel_check.model.apart import AUDIENCE, find_close
from cel_check.model.finding import Kind, Severity
from cel_check.model.together import Together


def lab(text):
    return rgb2lab(np.array([[list(bytes.fromhex(text[1:]))]]) / 255.0)[0, 0]


def apart(one, other):
    """ΔE00 by scikit-image."""
    return float(deltaE_ciede2000(lab(one), lab(other)))


def found(*models, together=UNKNOWN):
    return find_close(looks(*models), together)


def test_a_pair_within_its_tolerances_is_an_error_that_says_how_far_and_which_way(tmp_path):
    (one,) = found(model_of(tmp_path, color("coat", "#8A4B2F"), color("vest", "#884B30")))
    assert (one.severity, one.kind, one.condition) == (Severity.ERROR, Kind.TOO_CLOSE, "")
    assert one.colors == (("tilda", "coat"), ("tilda", "vest"))
    assert one.value == pytest.approx(apart("#8A4B2F", "#884B30"), abs=2e-3)
    assert one.limit == 3.0
    assert one.text.startswith("Coat and Vest are 0.5 ΔE00 apart, less than their tolerances together (3.0)")
    assert one.mend.startswith(("Make Coat ", "Make Vest "))


def test_the_suggested_color_is_far_enough(tmp_path):
    (one,) = found(model_of(tmp_path, color("coat", "#8A4B2F"), color("vest", "#884B30")))
    moved = one.mend.rstrip(".").rsplit(" ", 1)[1]
    still = "#884B30" if "Coat" in one.mend else "#8A4B2F"
    assert 3.0 + AUDIENCE - 5e-3 <= apart(moved, still) < 3.0 + AUDIENCE + 0.7


def test_the_suggested_color_does_not_run_into_a_third(tmp_path):
    parts = [color("a", "#808080"), color("b", "#828282"), color("c", "#707070"), color("d", "#929292")]
    (one,) = [f for f in found(model_of(tmp_path, *parts)) if f.severity is Severity.ERROR]
    moved = one.mend.rstrip(".").rsplit(" ", 1)[1]
    assert apart(moved, "#707070") >= 3.0
    assert apart(moved, "#929292") >= 3.0


def test_a_pair_little_above_its_tolerances_is_a_warning(tmp_path):
    one, other = "#808080", "#8C8C8C"
    assert 3.0 < apart(one, other) < 3.0 + AUDIENCE
    (finding,) = found(model_of(tmp_path, color("coat", one), color("vest", other)))
    assert (finding.severity, finding.kind) == (Severity.WARNING, Kind.HARD_TO_TELL)
    assert not found(model_of(tmp_path, color("coat", one), color("vest", "#9C9C9C")))


def test_a_color_s_own_tolerance_counts(tmp_path):
    one, other = "#808080", "#8C8C8C"
    tight = [color("coat", one, tolerance=0.5), color("vest", other, tolerance=0.5)]
    wide = [color("coat", one, tolerance=2.5), color("vest", other, tolerance=2.0)]
    assert not found(model_of(tmp_path, *tight))
    assert found(model_of(tmp_path, *wide))[0].severity is Severity.ERROR


def test_a_pair_is_named_once_with_its_worst_condition(tmp_path):
    parts = [color("coat", "#8A4B2F"), color("vest", "#406080")]
    parts += [
        condition("night", coat="#302030", vest="#302032"),
        condition("rain", coat="#555555", vest="#555555"),
    ]
    (one,) = found(model_of(tmp_path, *parts))
    assert one.condition == "rain"
    assert "0.0 ΔE00 apart in rain (also in night)" in one.text
    assert "in rain" in one.mend


def test_an_ink_counts_against_the_paints_it_borders(tmp_path):
    model = model_of(tmp_path, color("line", "#5A3B2E", use="ink"), color("peak", "#5B3B2E"))
    assert [f.severity for f in found(model)] == [Severity.WARNING]
    for borders, severities in (({("line", "peak")}, [Severity.ERROR]), (set(), [])):
        together = Together(borders={"tilda": frozenset(borders)})
        assert [f.severity for f in found(model, together=together)] == severities


def test_models_that_meet_on_a_level_are_one_those_of_a_scene_are_warned_of(tmp_path):
    tilda = model_of(tmp_path, color("coat", "#8A4B2F"))
    rook = model_of(tmp_path, color("wing", "#884B30"), key="rook", who="Rook")
    pair = frozenset(("tilda", "rook"))
    (unknown,) = found(tilda, rook)
    (scene,) = found(tilda, rook, together=Together(known=True, scenes={pair: ("sc012",)}))
    (level,) = found(tilda, rook, together=Together(known=True, levels={pair: ("sc012",)}))
    assert [f.severity for f in (unknown, scene, level)] == [
        Severity.WARNING,
        Severity.WARNING,
        Severity.ERROR,
    ]
    assert "Tilda: Coat and Rook: Wing" in level.text
    assert "They meet in sc012." in scene.text
    assert scene.mend.startswith("Keep the two on separate levels, or: make ")
    assert found(tilda, rook, together=Together(known=True)) == ()


@pytest.mark.parametrize(
    ("paints", "severity"), [(("R-1", "R-1"), Severity.NOTE), (("R-1", "R-2"), Severity.ERROR)]
)
def test_one_color_twice_is_meant_only_where_it_is_one_paint(tmp_path, paints, severity):
    parts = [color("coat", "#8A4B2F", paint=paints[0]), color("vest", "#8A4B2F", paint=paints[1])]
    (one,) = found(model_of(tmp_path, *parts))
    assert (one.severity, one.kind) == (severity, Kind.SAME_COLOR)


def test_the_samples_have_no_error_and_the_order_is_worst_first(tmp_path):
    parts = [color(f"c{step}", f"#{64 + step:02X}4060") for step in (0, 1, 3, 30)]
    values = [f.value - f.limit for f in found(model_of(tmp_path, *parts))]
    assert values == sorted(values)


def test_one_color_has_no_pairs(tmp_path):
    assert found(model_of(tmp_path, color("coat", "#8A4B2F"))) == ()
