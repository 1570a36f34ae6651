"""A picture over the limits is refused and a damaged header is told of, before any pixel is decoded."""

import io
import struct
import tracemalloc
import zlib

import numpy as np
import pytest
import tifffile
from picture_files import bare_png, noise, png_chunk, tiff, with_pillow
from PIL import Image

from cel_check.errors import BadPicture, Refused
from cel_check.picture.header import read_header
from cel_check.picture.kind import Kind
from cel_check.settings import DEFAULTS, Settings


def header_of(data, name="cel", settings=DEFAULTS):
    return read_header(data, name, settings)


def huge(kind):
    """Headers that claim 30,000 x 30,000 pixels over next to no data."""
    side = 30000
    if kind == "png":
        return bare_png(side, side, 8, 6, zlib.compress(bytes(100)))
    if kind == "tga":
        return struct.pack("<BBB5xHHHHBB", 0, 0, 2, 0, 0, side, side, 32, 8) + bytes(100)
    if kind == "bmp":
        data = bytearray(with_pillow(noise(3), "BMP"))
        data[18:26] = struct.pack("<ii", side, side)
        return bytes(data)
    if kind == "jpeg":
        data = with_pillow(noise(3), "JPEG")
        at = data.index(b"\xff\xc0") + 5
        return data[:at] + struct.pack(">HH", side, side) + data[at + 4 :]
    data = tiff(noise(3))
    with tifffile.TiffFile(io.BytesIO(data)) as file:
        places = [file.pages[0].tags[code].offset for code in (256, 257)]
    for at in places:
        data = (
            data[:at]
            + struct.pack("<HHII", struct.unpack_from("<H", data, at)[0], 4, 1, side)
            + data[at + 12 :]
        )
    return data


@pytest.mark.parametrize("kind", ["png", "tga", "bmp", "jpeg", "tiff"])
def test_a_header_that_claims_too_much_is_refused_without_decoding(kind):
    data = huge(kind)
    tracemalloc.start()
    try:
        with pytest.raises(Refused, match=r"it claims to be 30000 x 30000 pixels"):
            header_of(data)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 20e6


def test_a_real_bomb_is_refused():
    """12,000 x 12,000 RGBA zeros in half a megabyte, the sort that Pillow alone only warns of."""
    packer = zlib.compressobj(1)
    rows = b"".join(packer.compress(bytes(1 + 4 * 12000)) for _ in range(12000)) + packer.flush()
    with pytest.raises(Refused, match=r"144 megapixels\), and the limit is 120 megapixels"):
        header_of(bare_png(12000, 12000, 8, 6, rows))


def test_limits_can_be_set_either_way():
    data = with_pillow(noise(3), "PNG")
    with pytest.raises(Refused, match="the limit is 40 a side"):
        header_of(data, settings=Settings(max_side=40))
    with pytest.raises(Refused, match="megapixels"):
        header_of(data, settings=Settings(max_megapixels=0.001))
    wide = bare_png(30000, 30000, 1, 0, zlib.compress(bytes(100)))
    assert header_of(wide, settings=Settings(max_megapixels=900, max_side=30000)).width == 30000


@pytest.mark.parametrize("name", [b"zTXt", b"iTXt", b"iCCP"])
def test_a_text_bomb_is_told_of_and_not_inflated(name):
    packer = zlib.compressobj(9)
    bomb = b"".join(packer.compress(bytes(1 << 20)) for _ in range(100)) + packer.flush()
    content = {b"zTXt": b"a\0\0", b"iTXt": b"a\0\1\0\0\0", b"iCCP": b"a\0\0"}[name] + bomb
    png = with_pillow(noise(3), "PNG")
    data = png[:33] + png_chunk(name, content) + png[33:]
    tracemalloc.start()
    try:
        with pytest.raises(BadPicture, match="too large"):
            header_of(data)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 20e6


@pytest.mark.parametrize(
    ("kind", "name", "noted"),
    [
        ("JPEG", "a.png", "The file is a JPEG picture although it is named .png."),
        ("PNG", "a.TGA", "The file is a PNG picture although it is named .tga."),
        ("PNG", "a.bak", "The file is a PNG picture although its name ends otherwise."),
        ("PNG", "a.<b>\n", "The file is a PNG picture although its name ends otherwise."),
        ("PNG", "a.PNG", None),
        ("PNG", "a", None),
        ("JPEG", "a.jpeg", None),
    ],
)
def test_an_ending_of_another_kind_is_noted(kind, name, noted):
    assert header_of(with_pillow(noise(3), kind), name).notes == ((noted,) if noted else ())


def several(kind, **options):
    first, second = (Image.fromarray(samples) for samples in (noise(3), noise(3)[::-1].copy()))
    out = io.BytesIO()
    first.save(out, kind, save_all=True, append_images=[second], **options)
    return out.getvalue()


@pytest.mark.parametrize(
    ("kind", "options"),
    [("PNG", {}), ("TIFF", {}), ("WEBP", {"lossless": True}), ("MPO", {})],
)
def test_more_than_one_picture_in_a_file_is_noted(kind, options):
    assert header_of(several(kind, **options)).notes == (
        "The file holds 2 pictures; only the first was checked.",
    )


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "JPEG", "BMP"])
def test_the_stated_resolution_is_read(kind):
    header = header_of(with_pillow(noise(3), kind, dpi=(300, 300)))
    assert header.dpi == pytest.approx(300, abs=0.02)  # PNG and BMP count pixels a meter
    assert header.notes == ()


def test_a_resolution_in_centimeters_is_turned_into_inches():
    data = tiff(noise(3), resolution=(100, 100), resolutionunit="CENTIMETER")
    assert header_of(data).dpi == pytest.approx(254)


def test_a_resolution_without_a_unit_is_none():
    assert header_of(tiff(noise(3), resolution=(4, 3), resolutionunit="NONE")).dpi is None
    assert header_of(with_pillow(noise(3), "PNG")).dpi is None
    exif = Image.Exif()
    exif[0x0112] = 1
    assert header_of(with_pillow(noise(3), "JPEG", exif=exif.tobytes())).dpi is None


def test_two_resolutions_are_noted():
    header = header_of(tiff(noise(3), resolution=(300, 150), resolutionunit="INCH"))
    assert header.dpi == 300
    assert header.notes == ("The file states 300 dpi across and 150 dpi down; 300 was taken.",)


@pytest.mark.parametrize("value", [0, 9])
def test_an_orientation_that_does_not_exist_is_upright(value):
    exif = Image.Exif()
    exif[0x0112] = value
    assert header_of(with_pillow(noise(3), "JPEG", exif=exif.tobytes())).orientation == 1


def test_damaged_exif_does_not_spoil_the_picture():
    data = with_pillow(noise(3), "JPEG", exif=b"Exif\0\0MM\0*" + bytes(range(40)))
    assert header_of(data).kind is Kind.JPEG


@pytest.mark.parametrize(("width", "height"), [(0, 10), (10, 0)])
def test_a_picture_without_pixels_is_told_of(width, height):
    with pytest.raises(BadPicture):
        header_of(bare_png(width, height, 8, 2, zlib.compress(b"")))


def test_the_header_is_that_of_the_file():
    header = header_of(with_pillow(noise(4), "PNG"))
    assert (header.kind, header.width, header.height, header.mode) == (Kind.PNG, 53, 37, "RGBA")
    assert np.prod([header.frames, header.orientation]) == 1
