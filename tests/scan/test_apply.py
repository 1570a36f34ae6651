"""A profile brings a whole scan back to the colors that lay on the bed, at 8 and at 16 bits."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from scan_art import PAPER_LAB, WARM, chart_light, linear_of_lab, picture_of, scanned

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import White, adapt, linear_to_srgb, srgb8_to_lab, to_8_bit, xyz_d65_to_linear
from cel_check.scan.apply import evened, linear_srgb
from cel_check.scan.calibrate import Calibration, calibrate
from cel_check.scan.chart import Edition, published
from cel_check.scan.correct import Kind, terms
from cel_check.scan.lit import light_over
from cel_check.scan.patches import codes_of
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


TRUE = srgb8_to_lab(to_8_bit(linear_to_srgb(linear_of_lab(PAINTS))))


def worst(lab):
    """How far the mean of a quarter of a bar is from its paint, in ΔE00, the most of them."""
    apart = []
    for n in range(6):
        bar = lab[:, n * SIZE[1] // 6 + 3 : (n + 1) * SIZE[1] // 6 - 3]
        apart += [float(ciede2000(part.mean(axis=(0, 1)), TRUE[n])) for part in np.array_split(bar, 4)]
    return max(apart)


@pytest.mark.parametrize("bits", [8, 16])
def test_uneven_miscolored_paints_come_back_everywhere(bits):
    scanner = replace(WARM, fall=0.3, noise=0.3)
    picture = picture_of(scanned(bars(), scanner, bits))
    linear = linear_srgb(codes_of(picture), profile_for(scanner))
    assert worst(srgb8_to_lab(to_8_bit(linear_to_srgb(linear)))) < 1.5


# sRGB's primaries under D50 (ICC.1:2022's sRGB profiles, from memory), and a little of each further term.
MIX = np.array([[0.436, 0.385, 0.143], [0.222, 0.717, 0.061], [0.014, 0.097, 0.714]])


@pytest.mark.parametrize(("kind", "more"), [(Kind.MATRIX, 0), (Kind.AFFINE, 1), (Kind.ROOT, 3)])
def test_codes_evened_in_bands_are_those_of_the_whole(kind, more):
    scanner = replace(WARM, fall=0.3, noise=0.3)
    codes = codes_of(picture_of(scanned(bars(), scanner)))
    matrix = np.hstack([MIX, np.linspace(0.01, 0.04, 3 * more).reshape(3, more)])
    profile = profile_for(scanner)
    correction = replace(profile.correction, kind=kind, matrix=matrix)
    field = np.linspace(0.8, 1.1, 27, dtype=np.float32).reshape(3, 3, 3)
    found = evened(codes, replace(profile, correction=correction), field)
    lit = correction.linear(codes / 255.0) / light_over(profile.light, *SIZE[::-1])
    light = xyz_d65_to_linear(adapt(terms(lit, kind) @ matrix.T, White.D50, White.D65))
    whole = linear_to_srgb(np.clip(light / cv2.resize(field, SIZE[::-1]), 0, 1)) * 255
    # Half a level is rounding; over eight of these few rows the light changes by another.
    assert np.abs(found - whole).max() <= 1.5


def test_without_a_profile_and_in_even_light_codes_stay():
    codes = np.random.default_rng(3).integers(0, 256, (37, 20, 3), np.uint8)
    assert np.array_equal(evened(codes, None, None), codes)


def test_the_light_of_another_beds_shape_is_left_alone():
    scanner = replace(WARM, fall=0.3, noise=0.0)
    profile = profile_for(scanner)
    codes = codes_of(picture_of(scanned(bars(200, 488), replace(scanner, fall=0.0))))
    assert np.array_equal(linear_srgb(codes, profile), linear_srgb(codes, replace(profile, light=None)))
