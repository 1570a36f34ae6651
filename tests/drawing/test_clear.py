"""Clear cel is told from art, on clear cels and on cards, and the art's rectangle holds all of it."""

import numpy as np
import pytest
from cel_art import (
    CARD,
    CLOTH,
    COAT,
    INK,
    PALETTE,
    SKIN,
    WHITE,
    WITH_WHITE,
    Sheet,
    apart,
    figure,
    jpeg,
    picture,
)

from cel_check.drawing.clear import card_color, ground_of
from cel_check.drawing.regions import OUTSIDE


def on_picture(ground):
    """The clear mask in the picture's own coordinates: True where clear."""
    width, height = ground.size
    whole = np.ones((height, width), bool)
    x, y = ground.origin
    rows, cols = np.nonzero(ground.clear == 0)
    whole[rows + y, cols + x] = False
    return whole


@pytest.mark.parametrize("smooth", [True, False])
def test_a_clear_cel_is_clear_where_alpha_is_nothing(smooth):
    rgba = figure().rgba(smooth)
    ground = ground_of(picture(rgba), PALETTE)
    clear = on_picture(ground)
    assert clear[rgba[..., 3] == 0].all()
    assert not clear[rgba[..., 3] >= 32].any()
    assert (ground.card, ground.empty, ground.size) == (None, False, (240, 200))


def test_colors_hidden_under_clear_pixels_do_not_matter():
    rgba = figure().rgba()
    hidden = rgba.copy()
    hidden[rgba[..., 3] == 0, :3] = (255, 0, 255)
    first, second = (ground_of(picture(one), PALETTE) for one in (rgba, hidden))
    assert np.array_equal(first.rgba, second.rgba)
    assert np.array_equal(first.clear, second.clear)


def test_clear_pixels_stand_all_around_the_art():
    ground = ground_of(picture(figure().rgba()), PALETTE)
    edge = np.concatenate([ground.clear[0], ground.clear[-1], ground.clear[:, 0], ground.clear[:, -1]])
    assert (edge == 255).all()


@pytest.mark.parametrize("smooth", [True, False])
def test_art_on_a_card_is_cut_out_as_from_a_clear_cel(smooth):
    sheet = figure().disk((90, 75), 8, None)
    clear = on_picture(ground_of(picture(sheet.rgba(smooth)), PALETTE))
    ground = ground_of(picture(sheet.rgba(smooth, CARD)), PALETTE)
    assert ground.card == CARD
    differ = on_picture(ground) != clear
    # Rims mixed with the card by less than its noise may go either way.
    assert differ.sum() <= (0 if not smooth else 0.03 * (~clear).sum())
    assert not differ[sheet.rgba(smooth)[..., 3] >= 32].any()


def test_a_noisy_card_is_one_card():
    rgba = jpeg(figure().rgba(card=CARD), 92)
    ground = ground_of(picture(rgba), PALETTE)
    assert ground.card is not None
    assert max(abs(a - b) for a, b in zip(ground.card, CARD, strict=True)) <= 2
    x, y = ground.origin
    assert x >= 5
    assert y >= 15
    assert x + ground.clear.shape[1] <= 240


def test_art_that_is_cut_by_the_picture_s_edge_leaves_the_card():
    sheet = Sheet().disk((80, 120), 60, COAT).ring((80, 120), 60, 5, INK)
    ground = ground_of(picture(sheet.rgba(card=CARD)), PALETTE)
    assert ground.card == CARD
    drawing = apart(sheet.rgba(card=CARD))
    assert drawing.box(0, 0, *drawing.ground.clear.shape[::-1])[3] < 120


def test_white_paint_on_a_white_card_is_paint_inside_its_lines():
    sheet = Sheet().disk((80, 60), 40, WHITE).ring((80, 60), 40, 5, INK)
    rgba = sheet.rgba(card=WHITE)
    assert not on_picture(ground_of(picture(rgba), WITH_WHITE))[60, 80]
    # Where the model has no such paint, the card shows there.
    assert on_picture(ground_of(picture(rgba), PALETTE))[60, 80]


def test_a_picture_painted_to_its_edges_lies_on_no_card():
    rgba = Sheet().rect(0, 0, 80, 60, COAT).rect(80, 0, 80, 60, CLOTH).rect(0, 60, 160, 60, SKIN).rgba()
    assert card_color(rgba) is None
    assert not on_picture(ground_of(picture(rgba), PALETTE)).any()


@pytest.mark.parametrize("card", [None, CARD])
def test_an_empty_cel_is_empty(card):
    ground = ground_of(picture(Sheet().rgba(card=card)), PALETTE)
    assert ground.empty
    assert (ground.clear == 255).all()


def test_an_empty_cel_of_an_old_card_is_empty():
    assert ground_of(picture(jpeg(Sheet().rgba(card=CARD))), PALETTE).empty


def test_enclosed_clear_cel_is_no_part_of_the_outside():
    drawing = apart(figure().disk((90, 75), 8, None).rgba())
    x, y = drawing.ground.origin
    assert drawing.regions.clears == 2
    assert drawing.regions.ids[3, 3] == OUTSIDE
    assert drawing.regions.ids[75 - y, 90 - x] > OUTSIDE
