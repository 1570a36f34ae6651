"""A scan is brought to register by its peg holes; torn, missing and far-off holes are told."""

from dataclasses import replace

import numpy as np
import pytest
from scan_art import DULL, PLAIN, picture_of, punched, scanned

from cel_check.scan.punch import Punch, Side
from cel_check.scan.register import OffRegister, Registration, cover_punched, register

SIZE, DPI = (1800, 900), 150.0


def registered(scanner=PLAIN, **sheet):
    light, move = punched(SIZE, DPI, **sheet)
    picture = picture_of(scanned(light, scanner), DPI)
    return picture, register(picture, DPI, Punch()), move


def worst_mm(registration, move, dpi=DPI, size=SIZE):
    """How far the corners of the field end up from their places, the most of them."""
    corners = np.array([[0, 0, 1], [size[0], 0, 1], [0, 0.8 * size[1], 1], [size[0], 0.8 * size[1], 1]])
    scan = corners @ move.T
    back = np.column_stack([scan, np.ones(4)]) @ registration.move.T
    return float(np.hypot(*(back - corners[:, :2]).T).max()) / dpi * 25.4


@pytest.mark.parametrize("turn", [0.0, -2.0, 1.3])
@pytest.mark.parametrize("shift", [(0.0, 0.0), (5.0, -3.7), (-4.2, 2.9)])
@pytest.mark.parametrize("hole", [0.85, 0.02], ids=["lid", "bar"])
def test_the_art_lands_within_a_tenth_of_a_millimeter(turn, shift, hole):
    _, found, move = registered(DULL, turn=turn, shift_mm=shift, hole=hole)
    assert isinstance(found, Registration)
    assert worst_mm(found, move) < 0.1
    assert found.turn == pytest.approx(turn, abs=0.03)
    assert found.shift == pytest.approx(shift, abs=0.1)
    assert found.residual < 4.0


def test_the_holes_are_covered_where_they_lie():
    picture, found, _ = registered(turn=1.5, shift_mm=(3.0, -2.0))
    assert isinstance(found, Registration)
    covered = picture.rgba.copy()
    cover_punched(covered, found.move, DPI, Punch())
    again = register(replace(picture, rgba=covered), DPI, Punch())
    assert isinstance(again, OffRegister)
    assert "no row of peg holes" in again.wrong
    assert np.ptp(covered[-150:, :, 1].astype(int)) < 20
    assert np.array_equal(covered[:-150], picture.rgba[:-150])
    assert "thousandths of an inch" in found.sentence()


OFF = {
    "the left slot of its peg holes is missing": {"torn": {0: "missing"}},
    "the round hole of its peg holes is missing": {"torn": {1: "missing"}},
    "the right slot of its peg holes is torn or covered": {"torn": {2: "torn"}},
    "no row of peg holes": {"torn": {0: "torn", 1: "missing", 2: "missing"}},
    "along the top edge": {"top": True},
    "degrees off their place": {"turn": 3.6},
}


@pytest.mark.parametrize("wrong", OFF)
def test_what_cannot_be_brought_to_register_is_told(wrong):
    _, found, _ = registered(**OFF[wrong])
    assert isinstance(found, OffRegister)
    assert wrong in found.wrong


def test_a_wrong_resolution_is_no_punch_of_this_size():
    picture, _, _ = registered()
    assert isinstance(register(picture, 200.0, Punch()), OffRegister)


def test_pegs_at_the_top_are_found_where_they_are_looked_for():
    light, _ = punched(SIZE, DPI, 0.7, top=True)
    found = register(picture_of(scanned(light, PLAIN), DPI), DPI, replace(Punch(), side=Side.TOP))
    assert isinstance(found, Registration)
    assert found.residual < 4.0
