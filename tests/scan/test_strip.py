"""A strip's bands are found in its picture, whichever way it lies; what shows no bands is refused."""

import cv2
import numpy as np
import pytest
from scan_art import PLAIN, WARM, chart_light, picture_of, scanned

from cel_check.color.spaces import linear_to_srgb
from cel_check.errors import BadInput
from cel_check.model.cels_above import law_of
from cel_check.scan.calibrate import Calibration, calibrate
from cel_check.scan.chart import Edition, published
from cel_check.scan.profile import Profile
from cel_check.scan.strip import strip_in

THROUGH, ADDS = 0.9, 0.006
WIDTHS = (150, 120, 170, 140, 160)


def light(cels):
    value = 0.2
    for _ in range(cels):
        value = THROUGH * value + ADDS
    return value


def chip(cels=4):
    bands = [np.full((90, WIDTHS[n], 3), light(n)) for n in range(cels + 1)]
    return np.concatenate(bands, axis=1)


def coded(linear, bits=16, noise=1.0, seed=4):
    codes = linear_to_srgb(linear) + np.random.default_rng(seed).normal(0, noise / 255, linear.shape)
    top = 2**bits - 1
    return np.rint(np.clip(codes, 0, 1) * top).astype(np.uint16 if bits == 16 else np.uint8)


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("cels", [2, 3, 4])
@pytest.mark.parametrize("turn", range(4))
def test_bands_are_found_any_way_up(bits, cels, turn):
    codes = np.ascontiguousarray(np.rot90(coded(chip(cels), bits), turn))
    strip = strip_in(picture_of(codes), "strip.png", None)
    assert strip.linear.shape == (cels + 1, 3)
    assert np.abs(strip.linear - [[light(n)] for n in range(cels + 1)]).max() < 0.001


def test_dust_hairs_and_the_cels_edges_do_no_harm():
    codes = coded(chip(), 8)
    for x in np.cumsum(WIDTHS)[:-1]:
        cv2.line(codes, (int(x), 0), (int(x), 89), (40, 40, 40), 1)
    for x in range(20, 700, 90):
        cv2.circle(codes, (x, 45), 3, (250, 250, 250), -1)
    law = law_of([strip_in(picture_of(codes), "strip.png", None)])
    assert law.under(np.full(3, 0.2), 4) == pytest.approx(light(4), abs=0.001)


def test_a_scanners_own_curve_is_taken_off_by_its_profile():
    chart = published(Edition.AFTER)
    made = calibrate(picture_of(scanned(chart_light(chart), WARM, 16)), chart, None, None)
    assert isinstance(made, Calibration)
    profile = Profile(made.fit.correction, None, made.residual, "after-2014", "a.tif", "0" * 64, "", "")
    strip = strip_in(picture_of(scanned(chip(), WARM, 16)), "strip.png", profile)
    share = strip.linear.mean(axis=1) / strip.linear[0].mean()
    assert share == pytest.approx([light(n) / light(0) for n in range(5)], abs=0.02)


BAD = {
    "too few for bands": np.full((20, 60, 3), 90, np.uint8),
    "it shows 1 even bands": coded(np.full((90, 700, 3), 0.2)),
    "lighter than the one before it": coded(chip()[:, np.r_[0:150, 270:440, 150:270, 440:740]]),
    "where a chip under 0 to 4 cels has 5": coded(
        np.repeat(np.random.default_rng(2).uniform(0.1, 0.9, (1, 20, 1)), 40, axis=1) * np.ones((90, 1, 3))
    ),
}


@pytest.mark.parametrize("wrong", BAD)
def test_what_shows_no_bands_is_refused_in_one_line(wrong):
    with pytest.raises(BadInput) as refused:
        strip_in(picture_of(BAD[wrong]), "strip.png", None)
    (problem,) = refused.value.problems
    assert wrong in problem.line()


def test_paper_noise_makes_no_band():
    codes = scanned(np.full((200, 800, 3), 0.3), PLAIN)
    with pytest.raises(BadInput, match="1 even bands"):
        strip_in(picture_of(codes), "strip.png", None)
