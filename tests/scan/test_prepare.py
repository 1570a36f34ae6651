"""A scan is made smaller by whole blocks, its holes are clear, and places lead back to the scan as read."""

import cv2
import numpy as np
import pytest
from scan_art import PLAIN, picture_of, punched, scanned

from cel_check.color.spaces import srgb8_to_lab
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.scan.prepare import WORK_DPI, Bed, prepare
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


CARD = (127, 168, 160)


@pytest.mark.parametrize("times", [1, 2, 4, 1.5])
@pytest.mark.parametrize(("height", "width"), [(801, 1003), (800, 1000)])
def test_a_disk_leads_back_to_where_it_lies(times, height, width):
    dpi = WORK_DPI * times
    rgb = np.full((height, width, 3), CARD, np.uint8)
    cv2.circle(rgb, (700, 500), 150, RED, -1, cv2.LINE_AA)
    found = prepare(picture_of(rgb, dpi), PALETTE, None, Bed(dpi, Punch(), CARD))
    assert found.picture.width == pytest.approx(width / times, abs=1)
    assert found.picture.height == pytest.approx(height / times, abs=1)
    alpha = found.picture.rgba[..., 3] / 255.0
    rows, columns = np.mgrid[: alpha.shape[0], : alpha.shape[1]]
    middle = [(alpha * columns).sum() / alpha.sum(), (alpha * rows).sum() / alpha.sum(), 1.0]
    assert found.back @ middle == pytest.approx((700, 500), abs=0.4)
    assert alpha.sum() * times**2 == pytest.approx(np.pi * 150.5**2, rel=0.02)


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
