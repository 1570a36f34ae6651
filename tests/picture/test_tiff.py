"""TIFF pixels are exact whatever their layout; what would be guessed is noted, what is missing is refused."""

import io
import struct

import numpy as np
import pytest
import tifffile
from picture_files import noise, rgba_of, tiff

from cel_check.errors import BadPicture
from cel_check.picture.raster import Alpha
from cel_check.picture.reader import read_picture
from cel_check.picture.tiff import decode_tiff, describe_tiff


def stored(data, **options):
    out = io.BytesIO()
    tifffile.imwrite(out, data, metadata=None, **options)
    return out.getvalue()


def place_of_tag(data, code, page=0):
    with tifffile.TiffFile(io.BytesIO(data)) as file:
        return file.pages[page].tags[code].offset


def with_tag(data, code, value):
    """The little-endian file with another value for a tag of one number."""
    at = place_of_tag(data, code)
    kind = struct.unpack_from("<H", data, at + 2)[0]
    return data[: at + 8] + struct.pack("<Hxx" if kind == 3 else "<I", value) + data[at + 12 :]


def without_tag(data, code):
    """The file with a tag renamed to a private number."""
    at = place_of_tag(data, code)
    return data[:at] + struct.pack("<H", 65000) + data[at + 2 :]


@pytest.mark.parametrize("extra", ["assocalpha", "unassalpha"])
def test_declared_alpha_is_told_apart(extra):
    raster = decode_tiff(tiff(noise(4), extrasamples=[extra]), b"")
    assert raster.alpha is (Alpha.ASSOCIATED if extra == "assocalpha" else Alpha.STRAIGHT)
    np.testing.assert_array_equal(raster.samples, noise(4))
    assert raster.notes == ()


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_associated_alpha_is_divided_out_and_noted(tmp_path, dtype):
    straight = noise(4, dtype)
    top = int(np.iinfo(dtype).max)
    half = straight.copy()
    half[:, :, 3] = top // 2 + 1
    stored_colors = half.copy()
    stored_colors[:, :, :3] = np.rint(half[:, :, :3] * (half[:, :, 3:] / top))
    path = tmp_path / "cel.tif"
    path.write_bytes(tiff(stored_colors, extrasamples=["assocalpha"]))
    picture = read_picture(path)
    shown = picture.rgba[:, :, :3] if dtype is np.uint8 else picture.rgb16
    assert np.abs(shown.astype(int) - half[:, :, :3]).max() <= 1
    assert picture.notes == (
        "The colors were stored multiplied by alpha (associated alpha); they were divided by it again.",
    )


def test_an_extra_channel_without_a_meaning_is_taken_as_alpha_and_noted(tmp_path):
    path = tmp_path / "cel.tif"
    path.write_bytes(tiff(noise(4), extrasamples=["unspecified"]))
    picture = read_picture(path)
    np.testing.assert_array_equal(picture.rgba, noise(4))
    assert picture.notes == ("The file does not say what its extra channel is; it was taken as alpha.",)
    empty = noise(4)
    empty[:, :, 3] = 0
    path.write_bytes(tiff(empty, extrasamples=["unspecified"]))
    picture = read_picture(path)
    np.testing.assert_array_equal(picture.rgba, rgba_of(empty[:, :, :3]))
    assert picture.opaque
    assert "left out" in picture.notes[1]


def test_the_alpha_among_extra_channels_is_found():
    data = np.concatenate((noise(3), noise(2), noise(4)[:, :, 3:]), axis=2)
    raster = decode_tiff(tiff(data, extrasamples=["unspecified", "unassalpha", "unspecified"]), b"")
    np.testing.assert_array_equal(raster.samples, data[:, :, [0, 1, 2, 4]])
    assert raster.notes == (
        "The file holds 3 extra channels; one was taken as alpha, the others were left out.",
    )


def test_white_is_zero_is_turned_round():
    raster = decode_tiff(tiff(noise(1), photometric="miniswhite"), b"")
    np.testing.assert_array_equal(raster.samples, 255 - noise(1))


def test_white_is_zero_leaves_alpha_alone():
    raster = decode_tiff(tiff(noise(2), photometric="miniswhite", planarconfig="contig"), b"")
    np.testing.assert_array_equal(raster.samples[:, :, 0], 255 - noise(2)[:, :, 0])
    np.testing.assert_array_equal(raster.samples[:, :, 1], noise(2)[:, :, 1])


def test_one_bit_is_black_and_white():
    bits = noise(1)[:, :, 0] > 127
    raster = decode_tiff(stored(bits, photometric="minisblack"), b"")
    np.testing.assert_array_equal(raster.samples[:, :, 0], np.where(bits, 255, 0))


@pytest.mark.parametrize("bits", [2, 4])
def test_few_bits_are_spread_over_the_whole_range(bits):
    """TIFF 6.0 packs rows to whole bytes, the highest bits first; packed here by hand."""
    top = (1 << bits) - 1
    values = noise(1)[:, :48, 0] & top
    packed = np.zeros((values.shape[0], 48 * bits // 8), np.uint8)
    each = 8 // bits
    for n in range(each):
        packed |= (values[:, n::each] << (8 - bits * (n + 1))).astype(np.uint8)
    data = stored(packed, photometric="minisblack")
    data = with_tag(with_tag(data, 256, 48), 258, bits)
    raster = decode_tiff(data, b"")
    np.testing.assert_array_equal(raster.samples[:, :, 0], values * (255 // top))


@pytest.mark.parametrize("scale", [257, 1])
def test_a_color_map_is_followed(scale):
    """Entries are 16 bits wide; some old files fill only the lower 8."""
    indexes = noise(1)[:, :, 0]
    colors = np.random.default_rng(5).integers(0, 256, (3, 256))
    data = stored(indexes, photometric="palette", colormap=(colors * scale).astype(np.uint16))
    raster = decode_tiff(data, b"")
    np.testing.assert_array_equal(raster.samples, colors.T[indexes])


def test_cmyk_is_converted_and_noted():
    raster = decode_tiff(tiff(noise(4), photometric="separated"), b"")
    assert raster.samples.shape[2] == 3
    assert raster.notes[0].startswith("CMYK was converted to sRGB without a profile")


def test_a_preview_is_passed_over():
    out = io.BytesIO()
    with tifffile.TiffWriter(out) as writer:
        writer.write(noise(3)[::4, ::4], photometric="rgb", subfiletype=1, metadata=None)
        writer.write(noise(3), photometric="rgb", metadata=None)
    facts = describe_tiff(out.getvalue())
    assert (facts.width, facts.height, facts.frames) == (53, 37, 1)
    np.testing.assert_array_equal(decode_tiff(out.getvalue(), b"").samples, noise(3))


@pytest.mark.parametrize("to_page", [0, 1])
def test_a_chain_of_pictures_that_runs_in_a_circle_is_refused(to_page):
    """tifffile follows such a chain until memory ends."""
    out = io.BytesIO()
    with tifffile.TiffWriter(out) as writer:
        for _ in range(2):
            writer.write(noise(3), photometric="rgb", metadata=None)
    data = out.getvalue()
    with tifffile.TiffFile(io.BytesIO(data)) as file:
        starts = [page.offset for page in file.pages]
    tags = struct.unpack_from("<H", data, starts[1])[0]
    end = starts[1] + 2 + 12 * tags
    circular = data[:end] + struct.pack("<I", starts[to_page]) + data[end + 4 :]
    with pytest.raises(BadPicture, match="runs in a circle"):
        describe_tiff(circular)


def huge_tiles():
    data = tiff(noise(3), tile=(48, 64))
    return with_tag(with_tag(data, 322, 65520), 323, 65520)


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (huge_tiles(), "tiles of 65520 x 65520 pixels"),
        (with_tag(tiff(noise(3)), 279, 0), "holds no pixels"),
        (with_tag(tiff(noise(3)), 273, 1 << 30), "should reach byte"),
        (without_tag(tiff(noise(3)), 262), "does not say which color space"),
        (with_tag(tiff(noise(3)), 262, 8), "color space that is not read"),
        (tiff(noise(3).astype(np.float32)), "32 bits a channel"),
        (tiff(noise(3).astype(np.int16)), "16 bits a channel of a sort"),
        (tiff(noise(3).astype(np.uint32)), "32 bits a channel"),
        (tiff(np.repeat(noise(3), 5, axis=2), extrasamples=["unspecified"] * 12), "15 channels do not fit"),
    ],
)
def test_what_cannot_be_read_whole_is_refused(data, reason):
    with pytest.raises(BadPicture, match=reason):
        decode_tiff(data, b"")


def test_a_missing_tile_is_not_filled_with_black(tmp_path):
    """A TIFF file may leave tiles out (sparse files): a decoder shows black for them."""
    data = tiff(noise(3), tile=(16, 16))
    with tifffile.TiffFile(io.BytesIO(data)) as file:
        counts = file.pages[0].tags[325].valueoffset
    size = 2 if struct.unpack_from("<H", data, place_of_tag(data, 325) + 2)[0] == 3 else 4
    sparse = data[: counts + size] + bytes(size) + data[counts + 2 * size :]
    with pytest.raises(BadPicture, match="strip or tile 1 holds no pixels"):
        decode_tiff(sparse, b"")
