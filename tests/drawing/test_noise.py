"""Lossy compression and grain are told from digital paint, whatever its edges."""

import numpy as np
import pytest
from cel_art import CARD, figure, jpeg

from cel_check.drawing.noise import is_noisy


@pytest.mark.parametrize("smooth", [True, False])
@pytest.mark.parametrize("card", [None, CARD])
@pytest.mark.parametrize("pen", [3, 8])
def test_digital_art_is_not_noisy(pen, card, smooth):
    assert not is_noisy(figure(pen).rgba(smooth, card))


@pytest.mark.parametrize("quality", [75, 85, 92, 97])
def test_what_was_saved_as_jpeg_is_noisy(quality):
    assert is_noisy(jpeg(figure(6).rgba(card=CARD), quality))


def test_grain_is_noisy():
    rough = np.random.default_rng(7).normal(0, 2.5, (200, 240, 4))
    noisy = np.clip(figure().rgba(card=CARD) + rough, 0, 255).astype(np.uint8)
    noisy[..., 3] = 255
    assert is_noisy(noisy)


@pytest.mark.parametrize("size", [(1, 1), (1, 9), (9, 1), (2, 2), (3, 3)])
def test_a_tiny_picture_is_not_noisy(size):
    assert not is_noisy(np.full((*size, 4), 255, np.uint8))
