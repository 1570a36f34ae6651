"""Thumbnails come back as they were, in a format that other libraries read, and damage is no picture."""

import io

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from cel_check.picture.thumbnail import LARGEST, decode_thumbnail, encode_thumbnail


def picture(width, height, seed=1):
    return np.random.default_rng(seed).integers(0, 256, (height, width, 4), np.uint8)


@given(st.integers(1, 40), st.integers(1, 40), st.integers(0, 2**32 - 1))
def test_a_thumbnail_comes_back_to_the_pixel(width, height, seed):
    rgba = picture(width, height, seed)
    assert np.array_equal(decode_thumbnail(encode_thumbnail(rgba)), rgba)


def test_pillow_reads_it_alike():
    rgba = picture(31, 17)
    with Image.open(io.BytesIO(encode_thumbnail(rgba))) as image:
        assert image.format == "QOI"
        assert np.array_equal(np.asarray(image.convert("RGBA")), rgba)


@given(st.binary(max_size=200), st.integers(0, 60))
def test_whatever_the_bytes_are_it_is_a_picture_or_none(tail, kept):
    data = encode_thumbnail(picture(9, 5))[:kept] + tail
    for damaged in (data, data + b"\0\0\0\0\0\0\0\1"):
        found = decode_thumbnail(damaged)
        assert found is None or found.shape[2] == 4


@pytest.mark.parametrize("size", [(0, 5), (5, 0), (2**31, 2**31), (LARGEST, 2)])
def test_a_size_that_no_thumbnail_has_is_none(size):
    good = bytearray(encode_thumbnail(picture(4, 4)))
    good[4:12] = size[0].to_bytes(4, "big") + size[1].to_bytes(4, "big")
    assert decode_thumbnail(bytes(good)) is None
