"""The kinds of picture file that are read, told apart by content and never by name."""

import io
import struct
import warnings
from enum import StrEnum
from pathlib import PurePath

from PIL import Image

from cel_check.errors import BadPicture

SAVE_AS_PNG = "Save it as PNG."
SAVE_AGAIN = "Save or copy it again."


class Kind(StrEnum):
    """The kinds of picture file that cel-check reads."""

    PNG = "PNG"
    TIFF = "TIFF"
    TGA = "TGA"
    JPEG = "JPEG"
    BMP = "BMP"
    WEBP = "WebP"


_STARTS = (
    (b"\x89PNG\r\n\x1a\n", Kind.PNG),
    (b"II\x2a\x00", Kind.TIFF),
    (b"MM\x00\x2a", Kind.TIFF),
    (b"II\x2b\x00", Kind.TIFF),
    (b"MM\x00\x2b", Kind.TIFF),
    (b"\xff\xd8\xff", Kind.JPEG),
    (b"BM", Kind.BMP),
)
"""First bytes as each format's specification gives them; a big TIFF has 43 (`+`), others 42 (`*`)."""

_ENDINGS = {
    Kind.PNG: (".png", ".apng"),
    Kind.TIFF: (".tif", ".tiff", ".btf", ".tf8"),
    Kind.TGA: (".tga", ".icb", ".vda", ".vst"),
    Kind.JPEG: (".jpg", ".jpeg", ".jpe", ".jfif"),
    Kind.BMP: (".bmp", ".dib"),
    Kind.WEBP: (".webp",),
}

_PLAINER = {
    "not identified by this driver": "its header names a sort of pixels that does not exist",
    "png_read_data_fn input stream too small": "it stops too early",
}
"""Decoders' words that say nothing to a person, in words that do."""

_NO_WORDS = (
    TypeError,
    LookupError,
    AttributeError,
    AssertionError,
    UnicodeError,
    ArithmeticError,
    struct.error,
)
"""What decoders raise when they stumble rather than complain; their words are about the decoder."""

_TEXT_BYTES = frozenset(range(0x20, 0x100)) | frozenset(b"\t\n\r\f\x1b")
_TEXT_SAMPLE = 512


def sniff(data: bytes) -> Kind:
    """Return the kind of picture that the bytes hold.

    Raises:
        BadPicture: they hold none of the kinds that are read; the reason names what they hold, if known.
    """
    for start, kind in _STARTS:
        if data.startswith(start):
            return kind
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return Kind.WEBP
    if _looks_like_tga(data):
        return Kind.TGA
    raise _not_read(data)


def ending_note(kind: Kind, name: str) -> tuple[str, ...]:
    """Return a note where the file's name ends as another kind of file does, else nothing."""
    ending = PurePath(name).suffix.lower()
    if not ending or ending in _ENDINGS[kind]:
        return ()
    known = any(ending in endings for endings in _ENDINGS.values())
    named = f"it is named {ending}" if known else "its name ends otherwise"
    return (f"The file is a {kind} picture although {named}.",)


def _looks_like_tga(data: bytes) -> bool:
    """Tell whether the fields of a TGA header fit each other: the format has no first bytes of its own."""
    if len(data) < 18:
        return False
    has_map, image_type, depth = data[1], data[2], data[16]
    width, height = data[12] | data[13] << 8, data[14] | data[15] << 8
    fits = {1: (8,), 2: (16, 24, 32), 3: (8, 16)}.get(image_type & 7, ())
    return (
        has_map in (0, 1)
        and image_type & ~0x0B == 0
        and depth in fits
        and (image_type & 7 != 1 or has_map == 1)
        and width > 0
        and height > 0
        and data[17] & 0xC0 == 0
    )


def _not_read(data: bytes) -> BadPicture:
    if not any(data):
        return BadPicture("holds nothing but zeros", SAVE_AGAIN)
    if _TEXT_BYTES.issuperset(data[:_TEXT_SAMPLE]):
        return BadPicture("is a text file, not a picture", "Put the picture itself in its place.")
    if b"PNG" in data[:8]:
        return BadPicture(
            "is a PNG picture whose first bytes were changed, as copying it as text does", SAVE_AGAIN
        )
    name = _other_format(data)
    if name and name not in Kind.__members__:
        return BadPicture(f"is a {name} picture, which cel-check does not read", SAVE_AS_PNG)
    return BadPicture("is not a picture of a kind that cel-check knows", SAVE_AS_PNG)


def _other_format(data: bytes) -> str:
    """Return Pillow's name of a format that is not read here, or nothing."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data)) as image:
                return image.format or ""
    except Exception:  # the opener of any format may stumble in its own way over bytes that are no picture
        return ""


def damaged(kind: Kind, error: Exception) -> BadPicture:
    """Return the error for a file that starts well and cannot be decoded, with the decoder's own words.

    Raises:
        MemoryError: where the decoder's words say that it ran out of memory, which is no damage to the file.
    """
    if "memory" in str(error).lower():
        raise MemoryError(str(error)) from error
    detail = _PLAINER.get(str(error), str(error)) or type(error).__name__
    if isinstance(error, _NO_WORDS) or (kind is Kind.TIFF and type(error) is ValueError):
        detail = "its parts contradict each other"
    return BadPicture(f"is a damaged {kind} picture ({' '.join(detail.split())})", SAVE_AGAIN)
