"""The card evens a scan's light, gives the acetate's tint away, and paints that look like it are named."""

import cv2
import numpy as np
import pytest
from cel_art import CARD, PALETTE, model
from scan_art import light

from cel_check.color.spaces import srgb_to_linear
from cel_check.model.colormodel import Palette
from cel_check.scan.backing import alike, card_behind

CARD_RGB = (127, 168, 160)
COAT = (200, 85, 61)


def cel(fall=0.0, tint=(1.0, 1.0, 1.0), reach=0.3):
    """A coat on a card under a lamp, seen through acetate, with grain; and where the coat is."""
    rng = np.random.default_rng(5)
    image = np.empty((400, 600, 3))
    image[:] = srgb_to_linear(np.array(CARD_RGB) / 255)
    coat = cv2.ellipse(
        np.zeros((400, 600), np.uint8), (320, 210), (round(600 * reach), round(400 * reach)), 0, 0, 360, 1, -1
    ).astype(bool)
    image[coat] = srgb_to_linear(np.array(COAT) / 255)
    image *= light((400, 600), fall)[..., None] * np.array(tint)
    image *= 1 + 0.02 * rng.normal(size=image.shape)
    return image.astype(np.float32), coat


def evened(linear, given):
    """Return what `card_behind` makes of a picture: its card, and the picture with its light taken off."""
    backing, field = card_behind(linear, given)
    return backing, linear if field is None else linear / cv2.resize(field, linear.shape[1::-1])


def off(linear, where, rgb):
    """How far the light in quarters of a mask is from a color, as a share of it, the most of them."""
    true = srgb_to_linear(np.array(rgb) / 255)
    rows, columns = np.nonzero(where)
    worst = 0.0
    for part in (rows < 200, rows >= 200, columns < 300, columns >= 300):
        worst = max(worst, float(np.abs(linear[rows[part], columns[part]].mean(axis=0) / true - 1).max()))
    return worst


@pytest.mark.parametrize("fall", [0.0, 0.2, 0.35])
def test_light_and_tint_are_taken_off_where_the_card_is_known(fall):
    linear, coat = cel(fall, (0.90, 0.92, 0.86))
    assert off(linear, coat, COAT) > 0.07
    backing, linear = evened(linear, CARD_RGB)
    assert off(linear, coat, COAT) < 0.02
    assert off(linear, ~coat, CARD_RGB) < 0.02
    assert backing.srgb == CARD_RGB
    red, green, blue = backing.tint
    assert (green / red, blue / red) == pytest.approx((0.92 / 0.90, 0.86 / 0.90), abs=0.01)


def test_without_its_color_the_card_is_what_the_border_shows():
    linear, _ = cel(0.0)
    backing, _ = evened(linear, None)
    assert backing.srgb == pytest.approx(CARD_RGB, abs=1)
    assert backing.tint == (1.0, 1.0, 1.0)


def test_a_cel_that_hides_its_card_is_not_bent_by_its_corners():
    linear, _ = cel(0.0, reach=0.9)
    assert np.abs(evened(linear, None)[1] / linear - 1).max() < 0.02


def test_paints_like_the_card_are_named():
    linear = np.empty((300, 300, 3), np.float32)
    linear[:] = srgb_to_linear(np.array(CARD) / 255)
    backing, _ = evened(linear, None)
    shirt = Palette((*PALETTE.colors, model("Shirt", (250, 250, 246))), ("Tilda Brake",))
    warnings = alike(shirt, backing)
    assert [text.split(" is ")[0] for text in warnings] == ["Shirt"]
    assert "#F3F0E6" in warnings[0]
    assert alike(PALETTE, backing) == ()
