"""A scanner's colors come back from a chart's scan; a scan that is no good is refused with its reason."""

from dataclasses import replace

import numpy as np
import pytest
from scan_art import DULL, PAPER_LAB, PLAIN, WARM, chart_light, corners_of, linear_of_lab, picture_of, scanned

from cel_check.color.difference import ciede2000
from cel_check.scan.calibrate import Calibration, calibrate
from cel_check.scan.chart import Edition, published
from cel_check.scan.refuse import Reason

CHART = published(Edition.AFTER)
PAINTS = np.array([[52, 38, 31], [78, 14, 22], [50, -6, -33], [34, 21, 12], [84, -2, 30], [40, -25, 18.0]])
"""L*a*b* under D50 of paints that no chart has; invented."""


def calibrated(scanner, bits=8, **chart):
    return calibrate(picture_of(scanned(chart_light(CHART, **chart), scanner, bits)), CHART, None, None)


@pytest.mark.parametrize("scanner", [PLAIN, WARM, replace(DULL, fall=0.0)], ids=["plain", "warm", "dull"])
@pytest.mark.parametrize("bits", [8, 16])
def test_paints_that_the_chart_does_not_have_come_back(scanner, bits):
    found = calibrated(scanner, bits)
    assert isinstance(found, Calibration)
    quiet = replace(scanner, noise=0.0)
    codes = scanned(linear_of_lab(PAINTS)[None], quiet, 16)[0] / 65535
    apart = ciede2000(found.fit.correction.lab(codes), PAINTS)
    assert apart.max() < 1.5
    assert found.residual.mean < 1.5
    assert found.residual.mean <= found.residual.plain_mean + 0.2


def test_uneven_light_is_evened_by_a_blank_sheet_with_dust_on_it():
    scanner = replace(WARM, fall=0.5)
    image = scanned(chart_light(CHART), scanner)
    blank = np.empty((*image.shape[:2], 3))
    blank[:] = linear_of_lab(PAPER_LAB)
    blank[50:60, 100:104] = 0.05
    sheet = picture_of(scanned(blank, replace(scanner, seed=2)))
    without = calibrate(picture_of(image), CHART, None, None)
    found = calibrate(picture_of(image), CHART, sheet, None)
    assert isinstance(found, Calibration)
    assert isinstance(without, Reason) or without.residual.mean > 2 * found.residual.mean
    assert found.residual.mean < 1.5
    assert found.light is not None
    assert found.light.unevenness == pytest.approx(1 - 0.5 * (0.7**2 + 0.8**2), abs=0.02)


def test_given_corners_do_what_finding_does():
    picture = picture_of(scanned(chart_light(CHART), WARM))
    found = calibrate(picture, CHART, None, None)
    given = calibrate(picture, CHART, None, corners_of())
    assert isinstance(found, Calibration)
    assert isinstance(given, Calibration)
    assert np.abs(found.patches.codes - given.patches.codes).max() < 1 / 255


def test_the_other_edition_is_named_where_it_fits_better():
    old = published(Edition.BEFORE)
    found = calibrate(picture_of(scanned(chart_light(old), PLAIN)), CHART, None, None)
    assert isinstance(found, Calibration)
    assert any("before-2014" in note for note in found.notes)
    assert not any("edition" in note for note in calibrated(PLAIN).notes)


def with_glare(spot, size, strength):
    light = chart_light(CHART)
    y, x = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
    return light + strength * np.exp(-((x - spot[0]) ** 2 + (y - spot[1]) ** 2) / (2 * size**2))[..., None]


REFUSED = {
    "clipped at the bright end": scanned(chart_light(CHART), replace(PLAIN, gain=1.35)),
    "clipped at the dark end": np.maximum(scanned(chart_light(CHART), PLAIN).astype(int) - 70, 0).astype(
        np.uint8
    ),
    "uneven": scanned(with_glare(corners_of()[1], 14, 0.25), PLAIN),
    "patch 10 (purple) is": scanned(chart_light(CHART, covered=9), PLAIN),
    "gray patch 21 (neutral 6.5)": scanned(chart_light(CHART, covered=20), PLAIN),
    "black is too bright": scanned(chart_light(CHART), replace(PLAIN, flare=0.14, gain=0.8)),
    "too small": scanned(chart_light(CHART, 12, 40), PLAIN),
    "mirrored": scanned(chart_light(CHART)[::-1], PLAIN),
    "there is no 24-patch chart": scanned(np.full((400, 500, 3), 0.8), PLAIN),
    "squares stand in a grid": scanned(chart_light(CHART)[:230, :330], PLAIN),
}


@pytest.mark.parametrize("wrong", REFUSED)
def test_a_bad_chart_is_refused_with_its_reason(wrong):
    found = calibrate(picture_of(REFUSED[wrong]), CHART, None, None)
    assert isinstance(found, Reason)
    assert wrong in found.wrong


def test_paper_over_the_white_is_doubted():
    found = calibrate(picture_of(scanned(chart_light(CHART, covered=18), PLAIN)), CHART, None, None)
    assert isinstance(found, Calibration)
    assert any(note.startswith("Patch 19 (white 9.5) is 5.") for note in found.notes)
    assert not any(note.startswith("Patch") for note in calibrated(PLAIN).notes)


def test_another_charts_reference_is_refused():
    other = type(CHART)("mine.csv", CHART.lab[::-1].copy())
    found = calibrate(picture_of(scanned(chart_light(CHART), PLAIN)), other, None, corners_of())
    assert isinstance(found, Reason)
    assert "mine.csv" in found.wrong


def test_a_blank_that_is_a_picture_is_refused():
    picture = picture_of(scanned(chart_light(CHART), PLAIN))
    assert isinstance(calibrate(picture, CHART, picture, None), Reason)
