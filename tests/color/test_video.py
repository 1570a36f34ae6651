"""A color's video codes are those of BT.709's bars, and EBU R 103 tolerates its 5 %."""

import numpy as np
import oracles
import pytest

from cel_check.color.video import (
    excursion,
    luma,
    narrow_codes,
    narrow_ycbcr_codes,
    signal_of_codes,
    tolerated_codes,
    ycbcr,
)

BARS = oracles.table("bt709_bars_ycbcr.csv")
RGB = np.stack([BARS["R"], BARS["G"], BARS["B"]], axis=-1)


@pytest.mark.parametrize("bits", [8, 10])
def test_the_bars_have_their_published_codes(bits):
    told = np.stack([BARS[f"{name}{bits}"] for name in ("Y", "Cb", "Cr")], axis=-1)
    assert narrow_ycbcr_codes(RGB, bits).tolist() == told.astype(int).tolist()


@pytest.mark.parametrize("bits", [8, 10])
def test_colors_have_the_codes_of_colour_science(bits):
    colour = oracles.quiet_import("colour")
    rng = np.random.default_rng(709)
    rgb = rng.integers(0, 256, (500, 3)) / 255.0
    weights = colour.WEIGHTS_YCBCR["ITU-R BT.709"]
    want = colour.RGB_to_YCbCr(rgb, K=weights, out_bits=bits, out_legal=True, out_int=True)
    assert np.array_equal(narrow_ycbcr_codes(rgb, bits), want)


def test_the_example_of_colour_science():
    # colour.RGB_to_YCbCr's own example: RGB 0.75, 0.75, 0 in narrow range, divided by 255
    y, blue, red = ycbcr([0.75, 0.75, 0.0])
    assert (219 * y + 16) / 255 == pytest.approx(0.66035745, abs=5e-9)
    assert (224 * blue + 128) / 255 == pytest.approx(0.17254902, abs=5e-9)
    assert (224 * red + 128) / 255 == pytest.approx(0.53216593, abs=5e-9)


def test_black_and_white_are_16_and_235():
    assert narrow_codes([0.0, 1.0, 0.5]).tolist() == [16, 235, 126]
    assert signal_of_codes([16, 235]).tolist() == [0.0, 1.0]
    assert luma([1.0, 1.0, 1.0]) == pytest.approx(1.0)


@pytest.mark.parametrize(("bits", "limits"), [(8, (5, 246)), (10, (20, 984)), (12, (80, 3936))])
def test_the_tolerated_codes_are_those_of_ebu_r_103(bits, limits):
    # EBU R 103 v3.0, as the delivery specification of a European broadcaster tabulates it; EBU QC item 0051B
    assert tolerated_codes(bits) == limits


@pytest.mark.parametrize(
    ("rgb", "over"),
    [
        ((0.0, 0.5, 1.0), 0.0),
        ((-0.02, 0.5, 1.0), 0.02),
        ((1.06, 0.5, 0.2), 0.06),
        ((-0.051, 1.02, 0.5), 0.051),
    ],
)
def test_an_excursion_is_that_of_the_worst_signal(rgb, over):
    assert excursion(rgb) == pytest.approx(over)
