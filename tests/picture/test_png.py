"""A PNG file's chunks are walked to the end, its statements about color are noted, its palette is held to."""

import gc
import io
import struct
import sys
import tracemalloc
import zlib

import imagecodecs
import numpy as np
import pytest
from picture_files import noise, png_chunk, with_chunk, with_pillow
from PIL import Image

from cel_check.errors import BadPicture
from cel_check.picture.png import _decode_usual, color_notes, decode_png, read_chunks

PLAIN = with_pillow(noise(3), "PNG")
SRGB_PRIMARIES = (31270, 32900, 64000, 33000, 30000, 60000, 15000, 6000)
WIDE_PRIMARIES = (31270, 32900, 64000, 33000, 21000, 71000, 15000, 6000)


def indexed(indexes, colors):
    height, width = indexes.shape
    rows = b"".join(b"\0" + row.tobytes() for row in indexes.astype(np.uint8))
    header = struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)
    palette = bytes(channel for color in range(colors) for channel in (color, 255 - color, 7))
    return (
        b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", header)
        + png_chunk(b"PLTE", palette)
        + png_chunk(b"IDAT", zlib.compress(rows))
        + png_chunk(b"IEND", b"")
    )


@pytest.mark.parametrize("kept", range(8, len(PLAIN), 97))
def test_a_file_without_its_end_is_cut_short(kept):
    with pytest.raises(BadPicture, match=rf"is cut short.*it stops at byte {kept},"):
        read_chunks(PLAIN[:kept])


def test_what_follows_the_end_is_nobodys_business():
    data = PLAIN + b"appended"
    np.testing.assert_array_equal(decode_png(data, read_chunks(data)).samples, noise(3))


def test_a_chunk_that_fails_its_checksum_is_not_believed():
    data = with_chunk(PLAIN, b"gAMA", struct.pack(">I", 100000))
    assert read_chunks(data).content(b"gAMA") == struct.pack(">I", 100000)
    at = data.index(b"gAMA") + 5
    damaged = data[:at] + bytes([data[at] ^ 1]) + data[at + 1 :]
    assert read_chunks(damaged).content(b"gAMA") == b""
    assert read_chunks(PLAIN).content(b"gAMA") == b""


@pytest.mark.parametrize(
    ("gamma", "noted"),
    [(45455, False), (45000, False), (41667, False), (100000, True), (55556, True), (0, True)],
)
def test_a_gamma_far_from_that_of_srgb_is_noted(gamma, noted):
    notes = color_notes(read_chunks(with_chunk(PLAIN, b"gAMA", struct.pack(">I", gamma))))
    assert bool(notes) == noted
    assert all(f"a gamma of {gamma / 100000:g} where" in note for note in notes)


@pytest.mark.parametrize(("primaries", "noted"), [(SRGB_PRIMARIES, False), (WIDE_PRIMARIES, True)])
def test_primaries_other_than_those_of_srgb_are_noted(primaries, noted):
    data = with_chunk(PLAIN, b"cHRM", struct.pack(">8I", *primaries))
    assert bool(color_notes(read_chunks(data))) == noted


def test_an_srgb_chunk_overrules_gamma():
    """W3C PNG Specification, section 4.3: sRGB and iCCP go before gAMA and cHRM, cICP before all."""
    data = with_chunk(with_chunk(PLAIN, b"gAMA", struct.pack(">I", 100000)), b"sRGB", b"\0")
    assert color_notes(read_chunks(data)) == ()
    video = with_chunk(data, b"cICP", bytes((9, 16, 0, 1)))
    assert "video color space" in color_notes(read_chunks(video))[0]
    assert color_notes(read_chunks(with_chunk(data, b"cICP", bytes((1, 13, 0, 1))))) == ()


def test_statements_about_color_leave_the_pixels_alone():
    data = with_chunk(PLAIN, b"gAMA", struct.pack(">I", 100000))
    np.testing.assert_array_equal(decode_png(data, read_chunks(data)).samples, noise(3))


def test_damage_leaks_neither_memory_nor_references():
    """imagecodecs keeps its output, and gives None away once too often, each time its PNG decoder fails.

    A night of damaged files would fill the memory, and Python 3.11 dies when None has no reference left.
    """
    data = with_pillow(np.random.default_rng(6).integers(0, 256, (256, 256, 4), np.uint8), "PNG")
    at = len(data) // 2
    damaged = data[:at] + bytes([data[at] ^ 0xFF]) + data[at + 1 :]
    chunks = read_chunks(damaged)

    def fail(times):
        for _ in range(times):
            with pytest.raises(BadPicture):
                decode_png(damaged, chunks)
        gc.collect()
        return tracemalloc.get_traced_memory()[0], sys.getrefcount(None)

    tracemalloc.start()
    try:
        memory_before, references_before = fail(3)
        memory_after, references_after = fail(100)
    finally:
        tracemalloc.stop()
    assert memory_after - memory_before < 256 * 256 * 4  # one picture of the hundred
    assert abs(references_after - references_before) < 50


@pytest.mark.parametrize("name", ["gray", "indexed", "rgb"])
def test_a_clear_color_becomes_alpha(name):
    image = Image.fromarray(noise(3)).convert({"gray": "L", "indexed": "P", "rgb": "RGB"}[name])
    clear = image.getpixel((5, 5))
    out = io.BytesIO()
    image.save(out, "PNG", transparency=clear)
    samples = decode_png(out.getvalue(), read_chunks(out.getvalue())).samples
    stored = np.asarray(image).reshape(37, 53, -1)
    np.testing.assert_array_equal(samples[:, :, -1] == 0, (stored == clear).all(axis=2))


def test_a_color_beyond_the_palette_is_damage():
    indexes = np.arange(12).reshape(3, 4)
    good = indexed(indexes, 12)
    samples = decode_png(good, read_chunks(good)).samples
    np.testing.assert_array_equal(samples[:, :, 0], indexes)
    np.testing.assert_array_equal(samples[:, :, 1], 255 - indexes)
    bad = indexed(indexes, 11)
    with pytest.raises(BadPicture, match=r"uses color 11 of a palette that holds 11 \(numbered from 0\)"):
        decode_png(bad, read_chunks(bad))


def raw_png(size, color_type, rows, interlaced=0, clear=b""):
    header = struct.pack(">IIBBBBB", size[1], size[0], 8, color_type, 0, 0, interlaced)
    return (
        b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", header)
        + (png_chunk(b"tRNS", clear) if clear else b"")
        + png_chunk(b"IDAT", zlib.compress(rows))
        + png_chunk(b"IEND", b"")
    )


def usual_picture(channels, depth):
    """Return smooth and noisy parts: libpng's heuristic then uses every filter."""
    rng = np.random.default_rng(channels + depth)
    ramp = np.add.outer(np.arange(61), np.arange(83))[:, :, None] * np.arange(1, channels + 1)
    ramp[20:40] += rng.integers(0, 200, (20, 83, channels))
    return (ramp * (257 if depth == 16 else 1)).astype(np.uint16 if depth == 16 else np.uint8)


@pytest.mark.parametrize("depth", [8, 16])
@pytest.mark.parametrize("channels", [3, 4])
def test_two_decoders_agree_on_the_usual_kinds(channels, depth):
    picture = usual_picture(channels, depth)
    data = imagecodecs.png_encode(picture, level=6, filter=0x08 | 0x10 | 0x20 | 0x40 | 0x80)
    chunks = read_chunks(data)
    usual = _decode_usual(data, chunks, np.empty_like(picture))
    np.testing.assert_array_equal(usual, picture)
    np.testing.assert_array_equal(usual, imagecodecs.png_decode(data))


@pytest.mark.parametrize(
    ("color_type", "interlaced", "clear", "pixel"),
    [
        pytest.param(0, 0, b"", b"\x07", id="gray"),
        pytest.param(4, 0, b"", b"\x07\x09", id="gray and alpha"),
        pytest.param(2, 1, b"", b"\x07\x08\x09", id="interlaced"),
        pytest.param(2, 0, struct.pack(">HHH", 7, 8, 9), b"\x07\x08\x09", id="a clear color"),
    ],
)
def test_other_kinds_are_left_to_the_decoder_that_knows_them(color_type, interlaced, clear, pixel):
    data = raw_png((1, 1), color_type, b"\0" + pixel, interlaced, clear)
    chunks = read_chunks(data)
    assert _decode_usual(data, chunks, np.empty((1, 1, 3), np.uint8)) is None
    assert decode_png(data, chunks).samples[0, 0, 0] == 7


def test_two_decoders_agree_on_what_is_damaged():
    """A bit turned over anywhere, a checksum of the pixels that is wrong, an end that is missing."""
    picture = usual_picture(4, 8)
    data = imagecodecs.png_encode(picture, level=6)
    rng = np.random.default_rng(8)
    for at, bit in zip(rng.integers(33, len(data) - 12, 300), rng.integers(0, 8, 300), strict=True):
        damaged = data[:at] + bytes([data[at] ^ 1 << bit]) + data[at + 1 :]
        try:
            expected = imagecodecs.png_decode(damaged)
        except (imagecodecs.PngError, ValueError):
            expected = None
        try:
            chunks = read_chunks(damaged)
        except BadPicture:
            continue
        usual = _decode_usual(damaged, chunks, np.empty_like(picture))
        assert (usual is None) == (expected is None)
        assert usual is None or np.array_equal(usual, expected)


def test_pixels_that_stop_early_are_damage_to_both_decoders():
    rows = b"".join(b"\0" + row.tobytes() for row in usual_picture(3, 8))
    for cut in (0, 1, 250, len(rows) // 2, len(rows) - 1):
        data = raw_png((61, 83), 2, rows[:cut])
        assert _decode_usual(data, read_chunks(data), np.empty((61, 83, 3), np.uint8)) is None
        with pytest.raises(BadPicture, match="damaged"):
            decode_png(data, read_chunks(data))
