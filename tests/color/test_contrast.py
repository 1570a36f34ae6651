"""Contrast is the ratio that the Web Content Accessibility Guidelines define."""

import numpy as np
import oracles
import pytest

from cel_check.color.contrast import contrast_ratio, relative_luminance
from cel_check.color.spaces import srgb_to_linear


def luminance_of(text):
    return relative_luminance(srgb_to_linear(np.array(list(bytes.fromhex(text))) / 255.0))


@pytest.mark.parametrize(
    ("first", "second", "ratio"),
    [
        # WCAG 2.2: 21:1 is black on white. #767676 is the lightest gray of 4.5:1 on white and #949494 that of
        # 3:1, as W3C's understanding documents use them (4.54 and 3.03).
        ("000000", "FFFFFF", 21.0),
        ("FFFFFF", "000000", 21.0),
        ("767676", "FFFFFF", 4.54),
        ("949494", "FFFFFF", 3.03),
        ("C8553D", "C8553D", 1.0),
    ],
)
def test_known_pairs(first, second, ratio):
    assert contrast_ratio(luminance_of(first), luminance_of(second)) == pytest.approx(ratio, abs=5e-3)


def test_luminance_is_the_y_of_colour_science():
    # WCAG prints the coefficients with four digits
    colour = oracles.quiet_import("colour")
    rgb = np.random.default_rng(22).integers(0, 256, (200, 3)) / 255.0
    want = colour.sRGB_to_XYZ(rgb)[:, 1]
    assert relative_luminance(srgb_to_linear(rgb)) == pytest.approx(want, abs=1e-4)
