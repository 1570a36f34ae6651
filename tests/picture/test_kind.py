"""What a file is, is told by its content; what is not read is named."""

import io

import numpy as np
import pytest
from picture_files import exact_files, lossy_files, noise, with_pillow
from PIL import Image

from cel_check.errors import BadPicture
from cel_check.picture.kind import Kind, damaged, sniff

KIND_OF_ENDING = {
    "png": Kind.PNG,
    "tif": Kind.TIFF,
    "tga": Kind.TGA,
    "jpg": Kind.JPEG,
    "bmp": Kind.BMP,
    "webp": Kind.WEBP,
}


def reason_for(data):
    with pytest.raises(BadPicture) as caught:
        sniff(data)
    return caught.value.reason


@pytest.mark.parametrize("name", [*exact_files(), *lossy_files()])
def test_every_kind_that_is_read_is_known_by_its_bytes(name):
    data, _ = (exact_files() | lossy_files())[name]
    assert sniff(data) is KIND_OF_ENDING[name.rpartition(".")[2]]


@pytest.mark.parametrize("kind", ["GIF", "PPM", "ICO", "PCX", "SGI"])
def test_a_picture_of_another_kind_is_named(kind):
    out = io.BytesIO()
    Image.fromarray(noise(3)).save(out, kind)
    assert reason_for(out.getvalue()) == f"is a {kind} picture, which cel-check does not read"


@pytest.mark.parametrize("text", ["frame,A,B\n1,1,1\n", "<svg xmlns='x'/>\n" * 90, "Gr\u00fc\u00dfe\n"])
def test_text_is_called_text(text):
    assert reason_for(text.encode()) == "is a text file, not a picture"


def test_zeros_are_called_zeros():
    assert reason_for(bytes(5000)) == "holds nothing but zeros"


def test_a_png_file_that_was_copied_as_text_is_recognized():
    data = with_pillow(noise(3), "PNG").replace(b"\r\n", b"\n")
    assert reason_for(data) == "is a PNG picture whose first bytes were changed, as copying it as text does"


def test_random_bytes_are_no_picture():
    rng = np.random.default_rng(3)
    assert reason_for(b"\0\xff" + rng.bytes(3000)) == "is not a picture of a kind that cel-check knows"


def test_a_decoder_that_stumbles_is_not_quoted():
    assert damaged(Kind.TIFF, IndexError("list index out of range")).reason == (
        "is a damaged TIFF picture (its parts contradict each other)"
    )
    assert damaged(Kind.PNG, RuntimeError("IDAT: CRC error")).reason == (
        "is a damaged PNG picture (IDAT: CRC error)"
    )
