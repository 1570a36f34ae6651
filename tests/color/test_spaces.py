"""sRGB, XYZ and L*a*b* agree with the standards and with other libraries, and come back unchanged."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from oracles import columns, quiet_import
from skimage.color import rgb2lab

from cel_check.color.spaces import (
    White,
    adapt,
    lab_to_srgb,
    lab_to_xyz,
    linear_to_srgb,
    linear_to_xyz_d65,
    srgb8_to_lab,
    srgb16_to_lab,
    srgb_to_linear,
    to_8_bit,
    white_xyz,
    xyz_d65_to_linear,
    xyz_to_lab,
)

TRIPLES = "srgb_lab_triples.csv"
# The table was computed with a matrix of 7 decimals: half its last digit, and as much for the matrix.
TRIPLES_ATOL = 1e-4

unit_colors = hnp.arrays(np.float64, (4, 3), elements=st.floats(0, 1))
any_lab = st.tuples(st.floats(0, 100), st.floats(-128, 128), st.floats(-128, 128)).map(np.array)
whites = st.sampled_from(list(White))


@pytest.fixture(scope="module")
def colour():
    return quiet_import("colour")


def every_8_bit_step_of_15():
    steps = np.arange(0, 256, 15, dtype=np.uint8)
    return np.stack(np.meshgrid(steps, steps, steps), axis=-1)


def xy(white):
    x, y, z = white_xyz(white)
    return np.array([x, y]) / (x + y + z)


def test_8_bit_codes_have_the_lab_of_the_reference_table_under_d65():
    rgb = columns(TRIPLES, "R8", "G8", "B8").astype(np.uint8)
    expected = columns(TRIPLES, "L_D65", "a_D65", "b_D65")
    np.testing.assert_allclose(srgb8_to_lab(rgb), expected, rtol=0, atol=TRIPLES_ATOL)


def test_8_bit_codes_have_the_xyz_of_the_reference_table():
    rgb = columns(TRIPLES, "R8", "G8", "B8") / 255
    expected = columns(TRIPLES, "X_D65", "Y_D65", "Z_D65")
    np.testing.assert_allclose(linear_to_xyz_d65(srgb_to_linear(rgb)), expected, rtol=0, atol=TRIPLES_ATOL)


def test_8_bit_codes_have_the_lab_of_the_reference_table_under_d50():
    xyz_d65 = linear_to_xyz_d65(srgb_to_linear(columns(TRIPLES, "R8", "G8", "B8") / 255))
    lab_d50 = xyz_to_lab(adapt(xyz_d65, White.D65, White.D50), White.D50)
    np.testing.assert_allclose(
        lab_d50, columns(TRIPLES, "L_D50", "a_D50", "b_D50"), rtol=0, atol=TRIPLES_ATOL
    )


def test_css_green_has_the_published_lab():
    # web-platform-tests, css/css-color/lab-001.html: #008000 is lab(46.277% -47.562 48.583), D50
    xyz_d65 = linear_to_xyz_d65(srgb_to_linear(np.array([0, 128, 0]) / 255))
    lab_d50 = xyz_to_lab(adapt(xyz_d65, White.D65, White.D50), White.D50)
    np.testing.assert_allclose(lab_d50, [46.277, -47.562, 48.583], rtol=0, atol=1e-3)


def test_the_matrix_is_the_printed_one_to_its_four_digits():
    # IEC 61966-2-1, linear RGB to XYZ
    printed = [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]]
    np.testing.assert_allclose(linear_to_xyz_d65(np.eye(3)).T, printed, rtol=0, atol=2.1e-4)


@pytest.mark.parametrize("code", [0, 1, 127, 254, 255])
def test_grays_have_no_chroma(code):
    lab = srgb8_to_lab(np.full(3, code, dtype=np.uint8))
    np.testing.assert_allclose(lab[1:], 0, atol=1e-12)


def test_white_is_exactly_100():
    np.testing.assert_allclose(srgb8_to_lab(np.full(3, 255, np.uint8)), [100, 0, 0], rtol=0, atol=1e-12)


def test_16_bit_codes_agree_with_8_bit_codes():
    rgb = every_8_bit_step_of_15()
    np.testing.assert_allclose(
        srgb16_to_lab(rgb.astype(np.uint16) * 257), srgb8_to_lab(rgb), rtol=0, atol=1e-10
    )


def test_the_transfer_curve_agrees_with_another_library(colour):
    codes = np.arange(256) / 255
    np.testing.assert_allclose(srgb_to_linear(codes), colour.eotf(codes, "sRGB"), rtol=0, atol=1e-9)
    np.testing.assert_allclose(linear_to_srgb(codes), colour.eotf_inverse(codes, "sRGB"), rtol=0, atol=1e-9)


def test_lab_agrees_with_scikit_image():
    rgb = every_8_bit_step_of_15()
    # scikit-image's matrix has 6 digits and another last one: up to 0.006, as measured on 200,000 colors
    np.testing.assert_allclose(srgb8_to_lab(rgb), rgb2lab(rgb), rtol=0, atol=0.01)


@pytest.mark.parametrize("white", list(White))
def test_lab_agrees_with_another_library_for_the_same_white(colour, white):
    xyz = np.random.default_rng(1).uniform(0, 1, (500, 3))
    expected = colour.XYZ_to_Lab(xyz, illuminant=xy(white))
    np.testing.assert_allclose(xyz_to_lab(xyz, white), expected, rtol=0, atol=1e-9)
    np.testing.assert_allclose(colour.Lab_to_XYZ(expected, illuminant=xy(white)), xyz, rtol=0, atol=1e-12)


@pytest.mark.parametrize("edition", ["pre2014", "post2014"])
def test_the_charts_24_patches_are_adapted_as_another_library_does(colour, edition):
    lab_d50 = columns("colorchecker24_lab_d50.csv", f"L_{edition}", f"a_{edition}", f"b_{edition}")
    assert lab_d50.shape == (24, 3)
    xyz_d50 = lab_to_xyz(lab_d50, White.D50)
    expected = colour.chromatic_adaptation(
        xyz_d50, white_xyz(White.D50), white_xyz(White.D65), method="Von Kries", transform="Bradford"
    )
    xyz_d65 = adapt(xyz_d50, White.D50, White.D65)
    np.testing.assert_allclose(xyz_d65, expected, rtol=0, atol=1e-9)
    back = xyz_to_lab(adapt(xyz_d65, White.D65, White.D50), White.D50)
    np.testing.assert_allclose(back, lab_d50, rtol=0, atol=1e-9)


@given(unit_colors)
def test_encoding_undoes_decoding(srgb):
    np.testing.assert_allclose(linear_to_srgb(srgb_to_linear(srgb)), srgb, rtol=0, atol=1e-7)


@given(unit_colors)
def test_xyz_comes_back(linear):
    np.testing.assert_allclose(xyz_d65_to_linear(linear_to_xyz_d65(linear)), linear, rtol=0, atol=1e-12)


@given(any_lab, whites)
def test_lab_comes_back(lab, white):
    np.testing.assert_allclose(xyz_to_lab(lab_to_xyz(lab, white), white), lab, rtol=0, atol=1e-9)


@given(any_lab, whites, whites)
def test_adaptation_comes_back(lab, source, target):
    xyz = lab_to_xyz(lab, source)
    np.testing.assert_allclose(adapt(adapt(xyz, source, target), target, source), xyz, rtol=0, atol=1e-12)


@pytest.mark.parametrize("source", list(White))
@pytest.mark.parametrize("target", list(White))
def test_adaptation_carries_white_to_white(source, target):
    np.testing.assert_allclose(
        adapt(white_xyz(source), source, target), white_xyz(target), rtol=0, atol=1e-12
    )


@given(hnp.arrays(np.uint8, (3, 2, 3)))
def test_every_8_bit_color_comes_back_from_lab_and_is_in_gamut(rgb):
    srgb, in_gamut = lab_to_srgb(srgb8_to_lab(rgb), White.D65)
    assert in_gamut.shape == (3, 2)
    assert in_gamut.all()
    np.testing.assert_array_equal(to_8_bit(srgb), rgb)


def test_a_color_outside_srgb_is_clipped_and_said_to_be_outside():
    srgb, in_gamut = lab_to_srgb([[50.0, 0.0, 0.0], [80.0, -120.0, 90.0]], White.D65)
    assert in_gamut.tolist() == [True, False]
    assert srgb.min() == 0.0
    assert srgb.max() <= 1.0


def test_a_d50_white_is_srgb_white():
    srgb, in_gamut = lab_to_srgb([100.0, 0.0, 0.0], White.D50)
    np.testing.assert_allclose(srgb, 1.0, rtol=0, atol=1e-9)
    assert in_gamut


def test_numbers_of_another_scale_are_refused():
    with pytest.raises(TypeError, match="must be uint8, not uint16"):
        srgb8_to_lab(np.zeros(3, np.uint16))
    with pytest.raises(TypeError, match="must be uint16, not float64"):
        srgb16_to_lab(np.zeros(3))
