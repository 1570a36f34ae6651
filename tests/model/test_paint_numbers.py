"""One paint number is one paint: two colors that bear it are named, in one model and across models."""

import pytest
from looks_art import color, looks, model_of

from cel_check.model.finding import Kind, Severity
from cel_check.model.paint_numbers import find_number_slips, plain_number


@pytest.mark.parametrize("other", ["K-22", "k 22", "K22"])
def test_a_number_that_two_colors_bear(tmp_path, other):
    parts = [color("boots", "#3A332E", paint="K-22"), color("pipe", "#6B5138", paint=other)]
    (one,) = find_number_slips(looks(model_of(tmp_path, *parts)))
    assert (one.severity, one.kind) == (Severity.ERROR, Kind.PAINT_NUMBER)
    assert one.text == f"Boots and Pipe both bear the paint number {other}, and are 15.2 ΔE00 apart."


def test_one_paint_for_two_parts_is_no_slip(tmp_path):
    parts = [color("boots", "#3A332E", paint="K-22"), color("pipe", "#3A332E", paint="K-22")]
    assert not list(find_number_slips(looks(model_of(tmp_path, *parts))))


def test_models_share_the_shop(tmp_path):
    tilda = model_of(tmp_path, color("boots", "#3A332E", paint="K-22"))
    rook = model_of(tmp_path, color("beak", "#6B5138", paint="K-22"), key="rook", who="Rook")
    (one,) = find_number_slips(looks(tilda, rook))
    assert one.text.startswith("Tilda: Boots and Rook: Beak both bear")


def test_plain_numbers():
    assert plain_number(" R-31_b ") == "r31b"
