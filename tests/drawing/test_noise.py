"""Lossy compression and grain are told from digital paint, whatever its edges."""

import numpy as np
import pytest
from cel_art import CARD, Sheet, figure, jpeg

from cel_check.drawing.noise import is_noisy


def noisy(rgba):
    return is_noisy(rgba, (0, 0, rgba.shape[1], rgba.shape[0]))


@pytest.mark.parametrize("smooth", [True, False])
@pytest.mark.parametrize("card", [None, CARD])
@pytest.mark.parametrize("pen", [3, 8])
def test_digital_art_is_not_noisy(pen, card, smooth):
    assert not noisy(figure(pen).rgba(smooth, card))


@pytest.mark.parametrize("quality", [75, 85, 92, 97])
def test_what_was_saved_as_jpeg_is_noisy(quality):
    assert noisy(jpeg(figure(6).rgba(card=CARD), quality))


def test_grain_is_noisy():
    rough = np.random.default_rng(7).normal(0, 2.5, (200, 240, 4))
    grainy = np.clip(figure().rgba(card=CARD) + rough, 0, 255).astype(np.uint8)
    grainy[..., 3] = 255
    assert noisy(grainy)


@pytest.mark.parametrize("place", [(0, 0), (37, 50), (120, 61)])
def test_what_cannot_be_seen_changes_nothing(place):
    art = jpeg(figure(6).rgba(), 85)
    art[..., 3] = figure(6).rgba()[..., 3]
    height, width = art.shape[:2]
    x, y = place
    whole = np.zeros((height + 200, width + 200, 4), np.uint8)
    whole[y : y + height, x : x + width] = art
    assert is_noisy(whole, (x, y, width, height)) == noisy(whole)


@pytest.mark.parametrize("size", [(1, 1), (1, 9), (9, 1), (2, 2), (3, 3)])
def test_a_tiny_picture_is_not_noisy(size):
    assert not noisy(np.full((*size, 4), 255, np.uint8))


NEAR = ((79, 30, 62), (67, 37, 51), (91, 42, 68))
"""A mouth's paint and its line under a night condition: 12 levels apart, as grain is from its neighbors."""


def mouth(scale, turn=0.0):
    """A mouth alone on a cel: paints and a line of nearly one color."""
    dark, line, tongue = NEAR
    along, down = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    corners = [(-20, -6), (-8, -10), (8, -10), (20, -6), (12, 12), (0, 16), (-12, 12)]
    lips = [tuple(np.array([80, 60]) + scale * (x * along + y * down)) for x, y in corners]
    sheet = Sheet().shape(lips, dark).disk(tuple(np.array([80, 60]) + 8 * scale * down), 6 * scale, tongue)
    return sheet.line(lips, 4, line, closed=True)


@pytest.mark.parametrize("smooth", [True, False])
@pytest.mark.parametrize("turn", [0.0, 0.3, 0.8])
@pytest.mark.parametrize("scale", [0.8, 1.0, 2.0, 3.0])
def test_paints_that_are_near_each_other_are_no_grain(scale, turn, smooth):
    rgba = mouth(scale, turn).rgba(smooth)
    for row in range(16):  # only some rows are looked at: not by their number
        assert not noisy(np.roll(rgba, row, axis=0))


@pytest.mark.parametrize("quality", [75, 85, 92])
def test_the_same_saved_as_jpeg_is_noisy(quality):
    assert noisy(jpeg(mouth(2.0).rgba(card=CARD), quality))
