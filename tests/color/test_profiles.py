"""A profile is judged by what it does to colors, and pixels come out as the profile's own formulas say."""

import contextlib
import io

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from imagecodecs import cms_profile
from oracles import quiet_import
from PIL import Image, ImageCms

from cel_check.color.profiles import BadProfile, is_srgb, profile_name, to_srgb

# Built by Little CMS from the published primaries, white and gamma (563/256) of Adobe RGB (1998), and, for
# gray, from the D50 white and a gamma.
ADOBE_RGB = bytes(cms_profile("adobergb"))
GRAY_GAMMA_18 = bytes(cms_profile("gray", whitepoint=[0.3457, 0.3585, 1.0], gamma=1.8))
SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
LAB = ImageCms.ImageCmsProfile(ImageCms.createProfile("LAB")).tobytes()

# A profile's numbers are rounded to 1/65536, which the steep foot of sRGB's curve multiplies by 12.92 and a
# matrix by up to 3: a sixth of an 8-bit step. Little CMS's optimized 16-bit conversion would be 18 steps off.
STEP_8_BIT = 1 / 255
PROFILE_ROUNDING = STEP_8_BIT / 6


@pytest.fixture(scope="module")
def expected_from_adobe_rgb():
    colour = quiet_import("colour")

    def convert(values):
        # from the primaries, as the profile is: the matrices that the library holds have 4 digits
        source, target = (
            colour.normalised_primary_matrix(space.primaries, space.whitepoint)
            for space in (colour.RGB_COLOURSPACES["Adobe RGB (1998)"], colour.RGB_COLOURSPACES["sRGB"])
        )
        matrix = np.linalg.inv(target) @ source
        linear = np.clip(values ** (563 / 256) @ matrix.T, 0, 1)
        return colour.eotf_inverse(linear, "sRGB")

    return convert


def random_pixels(dtype, *shape, seed=1):
    return np.random.default_rng(seed).integers(0, np.iinfo(dtype).max, (*shape, 3), dtype, endpoint=True)


def renamed(profile, old, new):
    """Give a profile another name of the same length (version 2 holds it in ASCII, version 4 in UTF-16)."""
    assert len(old) == len(new)
    changed = profile
    for encoding in ("ascii", "utf-16-be"):
        changed = changed.replace(old.encode(encoding), new.encode(encoding))
    assert changed != profile
    return changed


@pytest.mark.parametrize(("dtype", "rounding"), [(np.uint8, 0.5 / 255), (np.uint16, 0.5 / 65535)])
def test_pixels_come_out_as_the_formulas_of_their_profile_say(expected_from_adobe_rgb, dtype, rounding):
    pixels = random_pixels(dtype, 100, 100)
    top = np.iinfo(dtype).max
    converted = to_srgb(pixels, ADOBE_RGB)
    assert converted.dtype == dtype
    expected = expected_from_adobe_rgb(pixels / top)
    np.testing.assert_allclose(converted / top, expected, rtol=0, atol=rounding + PROFILE_ROUNDING)


def test_a_large_picture_is_converted_color_by_color_to_the_same_pixels():
    pixels = random_pixels(np.uint8, 300, 400)
    rows = np.concatenate([to_srgb(pixels[top : top + 100], ADOBE_RGB) for top in range(0, 300, 100)])
    np.testing.assert_array_equal(to_srgb(pixels, ADOBE_RGB), rows)


def test_8_bit_pixels_are_those_of_the_unoptimized_conversion_of_another_library():
    pixels = random_pixels(np.uint8, 100, 100)
    transform = ImageCms.buildTransform(
        io.BytesIO(ADOBE_RGB),
        io.BytesIO(SRGB),
        "RGB",
        "RGB",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.NOOPTIMIZE,
    )
    expected = np.asarray(ImageCms.applyTransform(Image.fromarray(pixels), transform))
    np.testing.assert_array_equal(to_srgb(pixels, ADOBE_RGB), expected)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_srgb_pixels_are_left_as_they_are(dtype):
    pixels = random_pixels(dtype, 60, 60)
    np.testing.assert_array_equal(to_srgb(pixels, SRGB), pixels)


def test_gray_pixels_are_converted_by_a_gray_profile():
    codes = np.arange(256, dtype=np.uint8)
    pixels = np.repeat(codes[None, :, None], 3, axis=-1)
    colour = quiet_import("colour")
    expected = colour.eotf_inverse((codes / 255) ** 1.8, "sRGB")
    for channel in range(3):
        converted = to_srgb(pixels, GRAY_GAMMA_18)[0, :, channel] / 255
        np.testing.assert_allclose(converted, expected, rtol=0, atol=0.5 / 255 + PROFILE_ROUNDING)


def test_an_empty_picture_stays_empty():
    assert to_srgb(np.empty((0, 5, 3), np.uint8), ADOBE_RGB).shape == (0, 5, 3)


def test_srgb_is_told_from_other_profiles():
    assert is_srgb(SRGB)
    assert not is_srgb(ADOBE_RGB)
    assert not is_srgb(GRAY_GAMMA_18)


def test_a_profile_is_not_srgb_because_it_says_so():
    impostor = renamed(ADOBE_RGB, "Adobe RGB (compatible)", "sRGB IEC61966-2-1     ")
    assert profile_name(impostor) == "sRGB IEC61966-2-1"
    assert not is_srgb(impostor)


def test_a_profile_is_srgb_whatever_it_says():
    modest = renamed(SRGB, "sRGB built-in", "Scanner no. 1")
    assert profile_name(modest) == "Scanner no. 1"
    assert is_srgb(modest)


def test_a_profiles_name_is_one_line_of_text():
    assert profile_name(ADOBE_RGB) == "Adobe RGB (compatible)"
    assert profile_name(renamed(SRGB, "sRGB built-in", "sRGB\nbuilt\x1b[m")) == "sRGB built [m"


BROKEN = {
    "empty": b"",
    "text": b"not a profile",
    "half a header": ADOBE_RGB[:100],
    "cut short": ADOBE_RGB[:300],
    "nonsense": ADOBE_RGB[:128] + b"\xff" * 736,
}


# By name: a profile holds the second in which it was made, and no two processes may make it in the same one.
@pytest.mark.parametrize("icc", BROKEN.values(), ids=BROKEN)
def test_a_broken_profile_is_said_to_be_broken(icc):
    with pytest.raises(BadProfile) as caught:
        to_srgb(random_pixels(np.uint8, 2, 2), icc)
    assert str(caught.value) == "the embedded color profile is broken. Save the picture again as sRGB."
    with pytest.raises(BadProfile):
        is_srgb(icc)


def test_a_profile_of_another_kind_is_refused():
    with pytest.raises(BadProfile) as caught:
        to_srgb(random_pixels(np.uint8, 2, 2), LAB)
    assert str(caught.value) == (
        "the embedded color profile (Lab identity built-in) is not one for RGB or gray pictures. "
        "Save the picture again as sRGB."
    )


def test_a_gray_profile_on_colored_pixels_is_refused():
    with pytest.raises(BadProfile) as caught:
        to_srgb(random_pixels(np.uint8, 2, 2), GRAY_GAMMA_18)
    assert str(caught.value) == (
        "the embedded color profile is for gray pictures, and this one has colors. "
        "Save the picture again with the profile that it was painted under."
    )


@settings(max_examples=300)
@given(st.sampled_from([ADOBE_RGB, SRGB, GRAY_GAMMA_18]), st.data())
def test_bytes_changed_at_random_give_pixels_or_the_one_error(profile, data):
    changed = bytearray(profile)
    for _ in range(data.draw(st.integers(1, 6))):
        changed[data.draw(st.integers(0, len(changed) - 1))] = data.draw(st.integers(0, 255))
    icc = (
        bytes(changed[: data.draw(st.integers(0, len(changed)))])
        if data.draw(st.booleans())
        else bytes(changed)
    )
    for use in (profile_name, is_srgb, lambda icc: to_srgb(np.zeros((1, 2, 3), np.uint8), icc)):
        with contextlib.suppress(BadProfile):
            use(icc)
