"""TGA, BMP, JPEG and WebP pixels come as Pillow reads them, with the alpha that the file means."""

import io
import struct

import numpy as np
import pytest
from picture_files import noise, rgba_of, with_pillow
from PIL import Image

from cel_check.errors import BadPicture
from cel_check.picture.flat import decode_flat
from cel_check.picture.kind import Kind
from cel_check.picture.raster import Alpha
from cel_check.picture.reader import read_picture


def tga(samples, alpha_sort=None, origin=0x20, packed=False):
    """An uncompressed or run-length TGA file by hand, from the Truevision TGA 2.0 specification."""
    height, width, channels = samples.shape
    order = [2, 1, 0, 3][:channels]
    rows = samples if origin & 0x20 else samples[::-1]
    rows = rows[:, ::-1] if origin & 0x10 else rows
    pixels = rows[:, :, order].reshape(-1, channels)
    body = b"".join(b"\0" + pixel.tobytes() for pixel in pixels) if packed else pixels.tobytes()
    flags = origin | (8 if channels == 4 and alpha_sort is not None else 0)
    header = struct.pack("<BBB5xHHHHBB", 0, 0, 10 if packed else 2, 0, 0, width, height, 8 * channels, flags)
    if alpha_sort is None:
        return header + body
    extension = bytearray(495)
    extension[:2] = struct.pack("<H", 495)
    extension[494] = alpha_sort
    footer = struct.pack("<II", len(header) + len(body), 0) + b"TRUEVISION-XFILE.\0"
    return header + body + bytes(extension) + footer


@pytest.mark.parametrize("origin", [0, 0x10, 0x20, 0x30])
@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize("channels", [3, 4])
def test_tga_is_exact_whichever_corner_it_starts_in(origin, packed, channels):
    samples = noise(channels)
    raster = decode_flat(tga(samples, origin=origin, packed=packed), Kind.TGA, b"")
    np.testing.assert_array_equal(raster.samples, samples)


@pytest.mark.parametrize(
    ("sort", "alpha"), [(None, Alpha.UNDECLARED), (3, Alpha.STRAIGHT), (4, Alpha.ASSOCIATED)]
)
def test_the_sort_of_alpha_is_read_from_a_tga_file(sort, alpha):
    assert decode_flat(tga(noise(4), alpha_sort=sort), Kind.TGA, b"").alpha is alpha


def test_tga_without_alpha_by_its_own_word_is_opaque():
    raster = decode_flat(tga(noise(4), alpha_sort=0), Kind.TGA, b"")
    assert (raster.samples[:, :, 3] == 255).all()


def test_an_empty_alpha_of_a_tga_file_is_left_out(tmp_path):
    """Programs that write 32 bits a pixel for speed leave the fourth byte 0."""
    samples = noise(4)
    samples[:, :, 3] = 0
    path = tmp_path / "cel.tga"
    path.write_bytes(tga(samples))
    picture = read_picture(path)
    np.testing.assert_array_equal(picture.rgba, rgba_of(samples[:, :, :3]))
    assert len(picture.notes) == 1


@pytest.mark.parametrize("kind", [Kind.TGA, Kind.BMP])
def test_an_indexed_picture_shows_its_colors(kind):
    indexed = Image.fromarray(noise(3)).quantize(40)
    out = io.BytesIO()
    indexed.save(out, kind.value)
    raster = decode_flat(out.getvalue(), kind, b"")
    np.testing.assert_array_equal(raster.samples, np.asarray(indexed.convert("RGB")))


def test_a_bilevel_bmp_is_black_and_white():
    bits = noise(1)[:, :, 0] > 127
    out = io.BytesIO()
    Image.fromarray(bits).save(out, "BMP")
    raster = decode_flat(out.getvalue(), Kind.BMP, b"")
    np.testing.assert_array_equal(raster.samples[:, :, 0], np.where(bits, 255, 0))


def test_32_bits_of_a_bmp_hold_no_alpha_unless_it_says_so():
    """The fourth byte of a 32-bit BMP is padding under its oldest header; a later one may name it alpha."""
    pixels = noise(4)
    height, width, _ = pixels.shape
    header = struct.pack("<IiiHHIIiiII", 40, width, -height, 1, 32, 0, 0, 0, 0, 0, 0)
    data = b"BM" + struct.pack("<IHHI", 54 + pixels.size, 0, 0, 54) + header
    raster = decode_flat(data + pixels[:, :, [2, 1, 0, 3]].tobytes(), Kind.BMP, b"")
    np.testing.assert_array_equal(raster.samples, pixels[:, :, :3])


def test_a_cmyk_jpeg_is_converted_and_noted(tmp_path):
    """Flat areas, so that JPEG loses little; (255 - ink) * (255 - black) / 255 is the rough rule."""
    inks = np.zeros((32, 64, 4), np.uint8)
    inks[:, 16:32] = (255, 0, 0, 0)
    inks[:, 32:48] = (0, 128, 255, 0)
    inks[:, 48:] = (0, 0, 0, 200)
    out = io.BytesIO()
    Image.fromarray(inks, "CMYK").save(out, "JPEG", quality=95)
    path = tmp_path / "cel.jpg"
    path.write_bytes(out.getvalue())
    picture = read_picture(path)
    wanted = (255 - inks[:, :, :3].astype(int)) * (255 - inks[:, :, 3:].astype(int)) / 255
    assert np.abs(picture.rgba[:, :, :3] - wanted).max() < 6
    assert picture.notes == (
        "CMYK was converted to sRGB without a profile that can be used: its colors are only rough.",
    )
    assert picture.opaque


def test_webp_keeps_what_lies_under_clear_pixels():
    data = with_pillow(noise(4), "WEBP", lossless=True, exact=True)
    np.testing.assert_array_equal(decode_flat(data, Kind.WEBP, b"").samples, noise(4))


def test_damage_is_raised():
    with pytest.raises((OSError, BadPicture)):
        decode_flat(with_pillow(noise(3), "JPEG")[:-40], Kind.JPEG, b"")
