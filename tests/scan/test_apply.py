"""A profile brings a whole scan back to the colors that lay on the bed, at 8 and at 16 bits."""

from dataclasses import replace

import numpy as np
import pytest
from scan_art import PAPER_LAB, WARM, chart_light, linear_of_lab, picture_of, scanned

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import linear_to_srgb, srgb8_to_lab, srgb16_to_lab, to_8_bit
from cel_check.scan.apply import encoded, linear_srgb
from cel_check.scan.calibrate import Calibration, calibrate
from cel_check.scan.chart import Edition, published
from cel_check.scan.profile import Profile

CHART = published(Edition.AFTER)
PAINTS = np.array([[52, 38, 31], [78, 14, 22], [45, 5, -30], [34, 21, 12], [84, -2, 30], [50, -25, 18.0]])
"""L*a*b* under D50 of paints that no chart has, inside sRGB; invented."""

SIZE = (368, 488)  # of chart_light, so that the blank sheet's light holds for it


def profile_for(scanner):
    blank = np.empty((*SIZE, 3))
    blank[:] = linear_of_lab(PAPER_LAB)
    found = calibrate(
        picture_of(scanned(chart_light(CHART), scanner, 16)),
        CHART,
        picture_of(scanned(blank, scanner, 16)),
        None,
    )
    assert isinstance(found, Calibration)
    fit = found.fit.correction
    return Profile(fit, found.light, found.residual, "after-2014", "chart.tif", "0" * 64, "", "")


def bars(height=SIZE[0], width=SIZE[1]):
    light = np.empty((height, width, 3))
    for n, color in enumerate(linear_of_lab(PAINTS)):
        light[:, n * width // 6 : (n + 1) * width // 6] = color
    return light


@pytest.mark.parametrize("bits", [8, 16])
def test_uneven_miscolored_paints_come_back_everywhere(bits):
    scanner = replace(WARM, fall=0.3, noise=0.3)
    picture = picture_of(scanned(bars(), scanner, bits))
    out = encoded(linear_srgb(picture, profile_for(scanner)), picture)
    lab = srgb8_to_lab(np.ascontiguousarray(out.rgba[:, :, :3])) if bits == 8 else srgb16_to_lab(out.rgb16)
    true = srgb8_to_lab(to_8_bit(linear_to_srgb(linear_of_lab(PAINTS))))
    for n in range(6):
        bar = lab[:, n * SIZE[1] // 6 + 3 : (n + 1) * SIZE[1] // 6 - 3]
        for part in np.array_split(bar, 4):
            assert ciede2000(part.mean(axis=(0, 1)), true[n]) < 1.5
    assert (out.rgb16 is None) == (bits == 8)
    assert (out.rgba[:, :, 3] == 255).all()


def test_the_light_of_another_beds_shape_is_left_alone():
    scanner = replace(WARM, fall=0.3, noise=0.0)
    profile = profile_for(scanner)
    picture = picture_of(scanned(bars(200, 488), replace(scanner, fall=0.0)))
    assert np.array_equal(linear_srgb(picture, profile), linear_srgb(picture, replace(profile, light=None)))
