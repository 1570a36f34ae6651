"""The chart is found by itself, whichever way it lies; what is no chart is not taken for one."""

import cv2
import numpy as np
import pytest
from scan_art import DULL, PLAIN, WARM, chart_light, corners_of, scanned, turned

from cel_check.scan.chart import Edition, published
from cel_check.scan.find_chart import Found, NotFound, chart_at, find_chart

CHART = published(Edition.AFTER)


@pytest.mark.parametrize("turn", [0, 90, 180, 270, 4, 177, 93, 30])
@pytest.mark.parametrize("scanner", [PLAIN, WARM, DULL], ids=["plain", "warm", "dull"])
def test_it_is_found_in_any_turn(turn, scanner):
    linear, move = turned(chart_light(CHART), turn, 0.1)
    found = find_chart(np.asarray(scanned(linear, scanner), np.uint8), CHART)
    assert isinstance(found, Found)
    true = cv2.perspectiveTransform(corners_of()[None], move)[0]
    assert np.abs(found.spots()[[0, 5, 23, 18]] - true).max() < 2.0  # of a pitch of 60


@pytest.mark.parametrize("pitch", [24, 160])
def test_it_is_found_small_in_a_large_scan_and_large(pitch):
    image = np.asarray(scanned(chart_light(CHART, pitch, 3 * pitch), PLAIN), np.uint8)
    found = find_chart(image, CHART)
    assert isinstance(found, Found)
    assert np.abs(found.spots()[[0, 5, 23, 18]] - corners_of(pitch, 3 * pitch)).max() < 0.05 * pitch


def test_a_covered_patch_hides_no_chart():
    image = np.asarray(scanned(chart_light(CHART, covered=9), PLAIN), np.uint8)
    assert isinstance(find_chart(image, CHART), Found)


def test_a_mirrored_chart_is_told_as_such():
    image = np.asarray(scanned(chart_light(CHART)[:, ::-1], PLAIN), np.uint8)
    assert find_chart(image, CHART) == NotFound(24, mirrored=True)


def test_paper_noise_and_other_grids_are_no_chart():
    rng = np.random.default_rng(4)
    paper = np.asarray(rng.normal(230, 2, (500, 700, 3)), np.uint8)
    assert isinstance(find_chart(paper, CHART), NotFound)
    assert isinstance(find_chart(np.asarray(rng.integers(0, 256, (500, 700, 3)), np.uint8), CHART), NotFound)
    for seed in range(5):  # 24 squares of chance colors
        shuffled = published(Edition.AFTER)
        order = np.random.default_rng(seed).permutation(24)
        other = type(shuffled)("other", shuffled.lab[order])
        image = np.asarray(scanned(chart_light(other), PLAIN), np.uint8)
        assert isinstance(find_chart(image, CHART), NotFound)


def test_given_corners_place_every_patch():
    corners = np.array([[10.0, 20.0], [60.0, 20.0], [60.0, 50.0], [10.0, 50.0]])
    assert chart_at(corners).spots()[[0, 1, 6, 23]].tolist() == [[10, 20], [20, 20], [10, 30], [60, 50]]
