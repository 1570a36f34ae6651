"""Of a scan that is not in register the peg holes are clear cel, and paint near them is not."""

import numpy as np
import pytest
from scan_art import PLAIN, picture_of, punched, scanned

from cel_check.color.spaces import srgb8_to_lab
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.scan.prepare import Bed, prepare
from cel_check.scan.punch import Punch

SIZE, DPI = (1800, 900), 150.0
WHITE, RED = (238, 238, 234), (170, 40, 44)
BED = Bed(DPI, Punch())

SHEETS = {
    "torn left slot": {"torn": {0: "torn"}},
    "torn right slot": {"torn": {2: "torn"}, "turn": 1.2},
    "round hole gone": {"torn": {1: "missing"}},
    "turned too far": {"turn": 3.4},
    "holes at the other edge": {"top": True},
    "dark holes": {"torn": {0: "torn"}, "hole": 0.02},
}


def color(name, rgb):
    lab = tuple(float(v) for v in srgb8_to_lab(np.array([rgb], np.uint8))[0])
    return ModelColor(name, name.title(), Use.PAINT, rgb, lab, 2.0, None, "rook")


PALETTE = Palette((color("body", WHITE), color("beak", RED)), ("rook",))


def ready(light):
    return prepare(picture_of(scanned(light, PLAIN), DPI), PALETTE, None, BED)


@pytest.mark.parametrize("sheet", SHEETS)
def test_holes_are_clear_cel(sheet):
    found = ready(punched(SIZE, DPI, **SHEETS[sheet])[0])
    assert found.off is not None
    assert not found.picture.rgba[:, :, 3].any()


def test_paint_near_torn_holes_stays():
    light, _ = punched(SIZE, DPI, torn={0: "torn"})
    light[700:780, 500:700] = (0.4, 0.02, 0.025)  # in the strip, two inches from the torn slot
    light[640:700, 250:330] = (0.4, 0.02, 0.025)  # half an inch above it
    alpha = ready(light).picture.rgba[:, :, 3]
    assert alpha[705:775, 505:695].all()
    assert alpha[645:695, 255:325].all()
    assert not alpha[790:].any()
