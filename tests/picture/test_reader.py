"""A picture is read whole and exact, in sRGB, upright and with straight alpha; what was converted is said."""

import hashlib
import io
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from imagecodecs import cms_profile
from picture_files import (
    exact_files,
    lossy_files,
    noise,
    png_chunk,
    rgba_of,
    tiff,
    with_chunk,
    with_pillow,
)
from PIL import Image, ImageCms, ImageOps

from cel_check.errors import BadPicture, Refused
from cel_check.picture import reader
from cel_check.picture.reader import read_picture

OUTSIDE = Path(__file__).parents[3] / "shared" / "data"
EXACT = exact_files()
LOSSY = lossy_files()
ADOBE_RGB = bytes(cms_profile("adobergb"))
SRGB = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
HOSTILE_NAMES = [
    b"cel 0001.png",
    "Z\u00fcge_\u00e4.png".encode(),
    "\u30bb\u30eb0001.png".encode(),
    b'it\'s "A".png',
    b"<img onerror=x>.png",
    b"two\nlines.png",
    b"-rf.png",
    b"not-utf8-\xff\xfe.png",
    b"0001.png\xe9",
]


def outside(folder):
    path = OUTSIDE / folder
    if not path.is_dir():
        pytest.skip(f"the outside pictures are not here ({folder})")
    return path


@pytest.fixture
def read(tmp_path):
    def read_bytes(data, name="cel.png"):
        path = tmp_path / name
        path.write_bytes(data)
        return read_picture(path)

    return read_bytes


def in_8_bits(samples):
    return np.rint(samples / 257).astype(np.uint8) if samples.dtype == np.uint16 else samples


def test_valid_files_of_pngsuite_are_exact():
    """W. van Schaik's PngSuite; expected pixels from the public repository lunapaint/pngsuite."""
    folder = outside("pngsuite")
    valid = sorted(path for path in folder.glob("*.png") if not path.name.startswith("x"))
    assert len(valid) == 161
    with np.load(folder / "expected-rgba.npz") as expected:
        for path in valid:
            picture = read_picture(path)
            wanted = expected[path.stem].reshape(picture.rgba.shape)
            sixteen = path.read_bytes()[24] == 16
            assert (picture.rgb16 is not None) == sixteen, path.name
            np.testing.assert_array_equal(
                picture.rgba, in_8_bits(wanted) if sixteen else wanted, err_msg=path.name
            )
            if picture.rgb16 is not None:
                np.testing.assert_array_equal(picture.rgb16, wanted[:, :, :3], err_msg=path.name)
            assert picture.opaque == bool((picture.rgba[:, :, 3] == 255).all())
            assert all("gamma" in note or "dpi" in note for note in picture.notes), picture.notes


def test_no_broken_file_of_pngsuite_is_accepted():
    broken = sorted(outside("pngsuite").glob("x*.png"))
    assert len(broken) == 14
    for path in broken:
        with pytest.raises(BadPicture):
            read_picture(path)


def test_no_broken_file_of_libpng_is_accepted():
    """The public repository pnggroup/libpng, contrib/testpngs: bad checksums, lengths and palette indexes."""
    broken = sorted(outside("broken").rglob("*.png"))
    assert len(broken) >= 32
    for path in broken:
        with pytest.raises(BadPicture):
            read_picture(path)


@pytest.mark.parametrize("shape", ["Landscape", "Portrait"])
def test_every_orientation_is_shown_upright(shape):
    """The public repository recurser/exif-orientation-examples; the oracle is Pillow's exif_transpose."""
    folder = outside("orientation")
    first = read_picture(folder / f"{shape}_1.jpg")
    for number in range(1, 9):
        path = folder / f"{shape}_{number}.jpg"
        picture = read_picture(path)
        with Image.open(path) as image:
            wanted = np.asarray(ImageOps.exif_transpose(image).convert("RGBA"))
        np.testing.assert_array_equal(picture.rgba, wanted)
        assert picture.rgba.flags.c_contiguous
        # the eight were photographed once and compressed eight times
        assert np.abs(picture.rgba.astype(int) - first.rgba).mean() < 3
        assert len(picture.notes) == (number > 1)


@pytest.mark.parametrize("name", EXACT)
def test_lossless_kinds_are_exact(read, name):
    data, samples = EXACT[name]
    picture = read(data, name)
    wanted = rgba_of(samples)
    np.testing.assert_array_equal(picture.rgba, in_8_bits(wanted))
    if samples.dtype == np.uint16:
        np.testing.assert_array_equal(picture.rgb16, wanted[:, :, :3])
    else:
        assert picture.rgb16 is None
    assert picture.notes == ()
    assert picture.rgba.flags.c_contiguous
    assert picture.rgba.dtype == np.uint8
    assert picture.opaque == (samples.shape[2] in (1, 3))
    assert picture.sha256 == hashlib.sha256(data).hexdigest()


@pytest.mark.parametrize("name", LOSSY)
def test_lossy_kinds_are_close(read, name):
    data, samples = LOSSY[name]
    picture = read(data, name)
    assert np.abs(picture.rgba.astype(int) - rgba_of(samples)).max() <= 8
    assert picture.notes == ()
    assert picture.opaque


@pytest.mark.parametrize("name", [*EXACT, *LOSSY])
def test_a_file_that_was_cut_short_is_never_accepted_with_other_pixels(read, name):
    data, samples = (EXACT | LOSSY)[name]
    for kept in (0, 1, max(2, len(data) // 1000), len(data) // 2, len(data) * 99 // 100, len(data) - 1):
        try:
            picture = read(data[:kept], name)
        except BadPicture:
            continue
        # A TGA file may lose its footer and a BMP file its padding, which hold no pixels.
        assert name.endswith((".tga", ".bmp"))
        assert kept > len(data) // 2
        np.testing.assert_array_equal(picture.rgba, rgba_of(samples))


def test_changed_bytes_give_a_picture_or_the_reason(read):
    """A fixed replay of random damage: bits flipped, bytes replaced, lost and added, mostly in headers."""
    rng = np.random.default_rng(20)
    files = [(name, data) for name, (data, _) in (EXACT | LOSSY).items()]
    outcomes = set()
    unprintable = 0
    for _ in range(3000):
        name, data = files[rng.integers(len(files))]
        damaged = bytearray(data)
        for _ in range(rng.choice([1, 1, 2, 8])):
            at = int(rng.integers(min(len(damaged), rng.choice([200, 1 << 30]))))
            match rng.integers(4):
                case 0:
                    damaged[at] ^= 1 << int(rng.integers(8))
                case 1:
                    damaged[at] = int(rng.choice([0, 1, 2, 127, 128, 255]))
                case 2:
                    del damaged[at : at + int(rng.integers(1, 9))]
                case _:
                    damaged[at:at] = rng.bytes(int(rng.integers(1, 9)))
        try:
            picture = read(bytes(damaged), f"damaged{Path(name).suffix}")
        except (BadPicture, Refused) as error:
            outcomes.add(type(error))
            unprintable += not str(error).isprintable()
        else:
            outcomes.add(type(picture))
            assert picture.rgba.shape == (picture.height, picture.width, 4)
            assert picture.rgba.flags.c_contiguous
    assert len(outcomes) == 3
    assert unprintable == 0


@pytest.mark.parametrize("name", HOSTILE_NAMES)
def test_any_name_is_read(tmp_path, name):
    path = os.fsencode(tmp_path) + b"/" + name
    data, samples = EXACT["png-4-uint8.png"]
    try:
        with open(path, "wb") as file:  # noqa: PTH123 - the name is bytes, which pathlib does not take
            file.write(data)
    except OSError:
        pytest.skip("this file system does not allow the name")
    picture = read_picture(Path(os.fsdecode(path)))
    np.testing.assert_array_equal(picture.rgba, samples)
    for note in picture.notes:
        assert note.isprintable()
        note.encode()


def test_nothing_is_written_to_the_terminal(tmp_path):
    """imagecodecs and tifffile log warnings (here: an interlaced picture), which Python prints by default."""
    path = tmp_path / "interlaced.png"
    data = bytearray(EXACT["png-1-uint8.png"][0])
    data[28] = 1
    data[29:33] = png_chunk(b"IHDR", bytes(data[16:29]))[-4:]
    path.write_bytes(data)
    code = (
        "import sys, pathlib\n"
        "from cel_check.errors import BadPicture\n"
        "from cel_check.picture.reader import read_picture\n"
        "try: read_picture(pathlib.Path(sys.argv[1]))\n"
        "except BadPicture: pass\n"
    )
    done = subprocess.run([sys.executable, "-c", code, path], capture_output=True, check=True)
    assert (done.stdout, done.stderr) == (b"", b"")


def opposite_profile_files(icc):
    rgb, rgb16 = noise(3), noise(3, np.uint16)
    return {
        "a.png": with_pillow(rgb, "PNG", icc_profile=icc),
        "a.tif": tiff(rgb, iccprofile=icc),
        "a16.tif": tiff(rgb16, iccprofile=icc),
        "a.webp": with_pillow(rgb, "WEBP", lossless=True, icc_profile=icc),
    }


@pytest.mark.parametrize("name", opposite_profile_files(ADOBE_RGB))
def test_another_profile_is_followed(read, name):
    """The profile is built by Little CMS from published primaries; the oracle is Pillow's ImageCms."""
    picture = read(opposite_profile_files(ADOBE_RGB)[name], name)
    wanted = ImageCms.profileToProfile(
        Image.fromarray(in_8_bits(noise(3, np.uint16)) if "16" in name else noise(3)),
        ImageCms.ImageCmsProfile(io.BytesIO(ADOBE_RGB)),
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        flags=ImageCms.Flags.NOOPTIMIZE,
    )
    # 8-bit rounding before the conversion is stretched by the steep foot of the curve, up to 12.92 times
    allowed = 1 if picture.rgb16 is None else 13
    difference = np.abs(picture.rgba[:, :, :3].astype(int) - np.asarray(wanted))
    assert difference.max() <= allowed
    assert difference.mean() < 0.2
    assert picture.notes == (
        "The colors were converted to sRGB from the file's profile (Adobe RGB (compatible)).",
    )
    if picture.rgb16 is not None:
        np.testing.assert_array_equal(picture.rgba[:, :, :3], in_8_bits(picture.rgb16))


def test_alpha_outlives_a_profile(read):
    picture = read(with_pillow(noise(4), "PNG", icc_profile=ADOBE_RGB))
    np.testing.assert_array_equal(picture.rgba[:, :, 3], noise(4)[:, :, 3])
    assert len(picture.notes) == 1


def test_srgb_by_its_profile_is_left_alone(read):
    picture = read(with_pillow(noise(3), "PNG", icc_profile=SRGB))
    np.testing.assert_array_equal(picture.rgba, rgba_of(noise(3)))
    assert picture.notes == ()


@pytest.mark.parametrize("icc", [b"not a profile", ADOBE_RGB[:200]])
def test_a_broken_profile_is_noted_and_the_colors_are_taken_as_srgb(read, icc):
    picture = read(with_pillow(noise(3), "PNG", icc_profile=icc))
    np.testing.assert_array_equal(picture.rgba, rgba_of(noise(3)))
    assert picture.notes == ("The embedded color profile is broken; the colors were taken as sRGB.",)


def test_a_gray_profile_is_followed(read):
    icc = bytes(cms_profile("gray", whitepoint=[0.3457, 0.3585, 1.0], gamma=1.8))
    gray = np.arange(256, dtype=np.uint8).reshape(1, 256, 1)
    picture = read(with_pillow(gray, "PNG", icc_profile=icc))
    # sRGB's curve of IEC 61966-2-1 over the profile's own gamma
    linear = (gray[0, :, 0] / 255) ** 1.8
    coded = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    assert np.abs(picture.rgba[0, :, :3] - coded[:, np.newaxis] * 255).max() < 0.75


def test_a_profile_chunk_that_does_not_inflate_is_noted(read):
    png = with_chunk(with_pillow(noise(3), "PNG"), b"iCCP", b"name\0\0not deflated")
    picture = read(png)
    assert picture.notes == ("The file's color profile is damaged; its colors were taken as sRGB.",)


def test_orientation_in_a_png_file_is_applied(read):
    exif = Image.Exif()
    exif[0x0112] = 6
    picture = read(with_pillow(noise(3), "PNG", exif=exif.tobytes()))
    np.testing.assert_array_equal(picture.rgba, np.rot90(rgba_of(noise(3)), -1))
    assert picture.notes == ("The picture was turned right by 90 degrees, as its orientation tag says (6).",)


def test_notes_come_in_the_order_of_conversion(read):
    """tifffile writes tag 274; the note on the ending comes first, the turn last."""
    data = tiff(noise(3), iccprofile=ADOBE_RGB, extratags=[(274, "H", 1, 3, True)])
    notes = read(data, "cel.png").notes
    assert [note.split()[1] for note in notes] == ["file", "colors", "picture"]


def test_a_picture_that_does_not_fit_into_memory_is_refused(read, monkeypatch):
    def no_room(*_):
        raise MemoryError

    monkeypatch.setattr(reader, "decode_png", no_room)
    with pytest.raises(Refused, match="not enough memory"):
        read(EXACT["png-4-uint8.png"][0])


@pytest.mark.parametrize("words", ["Out of memory", "could not allocate memory for the strip"])
def test_a_decoder_that_ran_out_of_memory_says_nothing_of_the_file(read, monkeypatch, words):
    def no_room(*_):
        raise RuntimeError(words)

    monkeypatch.setattr(reader, "decode_png", no_room)
    with pytest.raises(Refused, match="not enough memory"):
        read(EXACT["png-4-uint8.png"][0])


def test_an_error_tells_which_bytes_were_read(read, tmp_path):
    data = EXACT["png-4-uint8.png"][0][:-20]
    with pytest.raises(BadPicture) as caught:
        read(data)
    assert caught.value.sha256 == hashlib.sha256(data).hexdigest()
    with pytest.raises(BadPicture) as caught:
        read_picture(tmp_path / "nowhere.png")
    assert caught.value.sha256 is None


def test_a_plain_png_file_is_handed_on_without_a_copy(tmp_path, monkeypatch):
    path = tmp_path / "cel.png"
    path.write_bytes(EXACT["png-4-uint8.png"][0])
    decoded = []
    decode = reader.decode_png
    monkeypatch.setattr(reader, "decode_png", lambda *given: decoded.append(decode(*given)) or decoded[-1])
    assert np.shares_memory(read_picture(path).rgba, decoded[0].samples)
