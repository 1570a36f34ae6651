"""The card is cleared through its grain; dust goes with it, dirt and paint stay."""

import cv2
import numpy as np
import pytest

from cel_check.scan.clear_card import clear_card

CARD = (127, 168, 160)
DPI = 300.0


def scan(*spots, grain=2.0, art=(200, 85, 61)):
    """A disk of paint on a card, and dark spots of a diameter in mm at places."""
    image = np.empty((500, 700, 3))
    image[:] = CARD
    shape = cv2.circle(np.zeros((500, 700), np.uint8), (350, 250), 120, 1, -1).astype(bool)
    image[shape] = art
    for x, y, mm in spots:
        spot = np.zeros((500, 700), np.uint8)
        cv2.circle(spot, (x * 16, y * 16), round(mm / 2 / 25.4 * DPI * 16), 1, -1, shift=4)
        image[spot > 0] = (40, 38, 36)
    image = cv2.GaussianBlur(image, (0, 0), 0.8) + np.random.default_rng(3).normal(0, grain, image.shape)
    return np.clip(np.rint(image), 0, 255).astype(np.uint8), shape


@pytest.mark.parametrize("grain", [0.0, 2.0, 4.0])
def test_art_is_kept_to_the_pixel_and_the_card_is_clear(grain):
    image, shape = scan(grain=grain)
    found = clear_card(image, CARD, DPI)
    wrong = (found.clear == shape).astype(np.uint8)
    rim = cv2.morphologyEx(shape.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((7, 7), np.uint8)) > 0
    assert not (wrong[~rim] > 0).any()
    assert abs(int((~found.clear).sum()) - int(shape.sum())) < 0.03 * shape.sum()


def test_dust_is_cleared_and_counted_and_dirt_stays():
    image, _ = scan((60, 60, 0.2), (150, 60, 0.24), (60, 400, 0.8))
    found = clear_card(image, CARD, DPI)
    assert found.dust == 2
    assert found.clear[60, 60]
    assert found.clear[60, 150]
    assert not found.clear[400, 60]


def test_a_pinhole_of_half_a_millimeter_shows_the_card():
    image, _ = scan()
    hole = np.zeros(image.shape[:2], np.uint8)
    cv2.circle(hole, (350 * 16, 250 * 16), round(0.25 / 25.4 * DPI * 16), 255, -1, shift=4)
    image[hole > 0] = CARD
    found = clear_card(image, CARD, DPI)
    assert found.clear[245:256, 345:356].sum() >= 12


def test_a_bare_card_has_no_art():
    image = np.clip(np.random.default_rng(1).normal(CARD, 2.0, (300, 400, 3)), 0, 255).astype(np.uint8)
    assert clear_card(image, CARD, DPI).clear.all()


def test_a_mix_of_line_and_fill_that_looks_like_the_card_is_no_hole():
    image, _ = scan(grain=1.0, art=(212, 245, 255))
    image[200:300, 300:380] = (42, 91, 65)
    image[240:243, 299] = CARD  # half of either, beside the line
    image[260:266, 340:346] = CARD
    found = clear_card(image, CARD, 150.0)
    assert not found.clear[238:244, 296:304].any()
    assert found.clear[262, 342]
