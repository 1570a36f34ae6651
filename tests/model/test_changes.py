"""Two versions of a model: what was added, removed and changed, by how much, and in which looks."""

import numpy as np
import pytest
from looks_art import color, condition, model_of
from skimage.color import deltaE_ciede2000, rgb2lab

from cel_check.model.changes import changes_between


def both(folder, old, new):
    (folder / "old").mkdir()
    (folder / "new").mkdir()
    return changes_between(model_of(folder / "old", *old), model_of(folder / "new", *new))


def test_nothing_changed(tmp_path):
    parts = [color("coat", "#C8553D"), condition("night", coat="#5A2E3A")]
    assert both(tmp_path, parts, parts) == ()


def test_a_changed_color_says_by_how_much(tmp_path):
    (one,) = both(tmp_path, [color("coat", "#C8553D")], [color("coat", "#CB5B44")])
    lab = rgb2lab(np.array([[[0xC8, 0x55, 0x3D], [0xCB, 0x5B, 0x44]]]) / 255.0)[0]
    assert (one.color, one.what, one.look, one.old, one.new) == ("coat", "color", "", "#C8553D", "#CB5B44")
    assert one.delta_e == pytest.approx(float(deltaE_ciede2000(lab[0], lab[1])), abs=2e-3)
    assert one.line() == f"Coat: #C8553D → #CB5B44, {one.delta_e:.2f} ΔE00"


def test_added_and_removed(tmp_path):
    changes = both(
        tmp_path,
        [color("a", "#111111"), color("b", "#222222")],
        [color("b", "#222222"), color("c", "#333333")],
    )
    assert [one.line() for one in changes] == ["C: added (#333333)", "A: removed (#111111)"]


def test_a_condition_alone(tmp_path):
    old = [color("coat", "#C8553D"), condition("night", coat="#5A2E3A")]
    new = [color("coat", "#C8553D"), condition("night", coat="#5A2E3B"), condition("rain", coat="#AA5544")]
    changes = both(tmp_path, old, new)
    assert [(one.look, one.old, one.new) for one in changes] == [
        ("night", "#5A2E3A", "#5A2E3B"),
        ("rain", "#C8553D", "#AA5544"),
    ]


def test_a_condition_that_keeps_the_base_is_not_told_twice(tmp_path):
    old = [color("coat", "#C8553D"), color("cap", "#2F6E78"), condition("night", cap="#204E6C")]
    new = [color("coat", "#CB5B44"), color("cap", "#2F6E78"), condition("night", cap="#204E6C")]
    assert [one.look for one in both(tmp_path, old, new)] == [""]


def test_words_and_numbers(tmp_path):
    old = [color("coat", "#C8553D", paint="R-31")]
    new = [color("coat", "#C8553D", use="both", paint="R-35", tolerance=1.0)]
    assert [one.line() for one in both(tmp_path, old, new)] == [
        "Coat: use paint → both",
        "Coat: paint R-31 → R-35",
        "Coat: tolerance 1.5 → 1",
    ]
