"""The front door: what a picture file is and says of itself, before any of its pixels is decoded."""

import math
from dataclasses import dataclass, replace
from typing import Any

from PIL import Image

from cel_check.errors import BadPicture, Refused
from cel_check.picture.flat import open_with_pillow
from cel_check.picture.kind import SAVE_AGAIN, Kind, damaged, ending_note, sniff
from cel_check.picture.png import Chunks, color_notes, read_chunks
from cel_check.picture.raster import without_warnings
from cel_check.picture.tiff import describe_tiff
from cel_check.picture.turn import UPRIGHT, WORDS
from cel_check.settings import Settings

_ORIENTATION = 0x0112
_X_RESOLUTION = 0x011A
_DPI_SLACK = 0.01
"""Resolutions across and down that differ by less than a hundredth are the same, rounded."""


@dataclass(frozen=True)
class Header:
    """What a picture file says of itself.

    Attributes:
        kind: the kind of file, by its content.
        width: pixels across, as stored (before orientation).
        height: pixels down, as stored.
        mode: the decoder's name for its channels and bits.
        frames: how many pictures it holds.
        icc: its ICC profile; empty where it has none.
        orientation: 1 (upright) to 8, as in Exif.
        dpi: pixels an inch across, or None.
        notes: what is odd about it, one sentence each.
        chunks: a PNG file's chunks; None for other kinds.
    """

    kind: Kind
    width: int
    height: int
    mode: str
    frames: int = 1
    icc: bytes = b""
    orientation: int = UPRIGHT
    dpi: float | None = None
    notes: tuple[str, ...] = ()
    chunks: Chunks | None = None


def read_header(data: bytes, name: str, settings: Settings) -> Header:
    """Return what a picture file says of itself.

    Args:
        data: the file's bytes.
        name: the file's name, only to note an ending that belongs to another kind.
        settings: holds the limits of size.

    Raises:
        BadPicture: it is no picture of a kind that is read, or its header is damaged.
        Refused: it claims to be larger than the limits.
    """
    kind = sniff(data)
    try:
        with without_warnings():
            header = _tiff_header(data) if kind is Kind.TIFF else _pillow_header(data, kind)
    except (BadPicture, Refused, MemoryError):
        raise
    except Exception as error:  # each format's parser fails in its own way over a damaged header
        raise damaged(kind, error) from error
    _expect_within_limits(header, settings)
    return replace(header, notes=ending_note(kind, name) + header.notes + _frames_note(header.frames))


def turn_note(orientation: int) -> tuple[str, ...]:
    """Return the note on how a picture was turned to be shown, or nothing where it is stored upright."""
    if orientation == UPRIGHT:
        return ()
    return (f"The picture was {WORDS[orientation]}, as its orientation tag says ({orientation}).",)


def _tiff_header(data: bytes) -> Header:
    facts = describe_tiff(data)
    dpi, notes = _one_dpi(facts.dpi)
    return Header(
        kind=Kind.TIFF,
        width=facts.width,
        height=facts.height,
        mode=facts.mode,
        frames=facts.frames,
        icc=facts.icc,
        orientation=facts.orientation if facts.orientation in WORDS else UPRIGHT,
        dpi=dpi,
        notes=notes,
    )


def _pillow_header(data: bytes, kind: Kind) -> Header:
    chunks = read_chunks(data) if kind is Kind.PNG else None
    with open_with_pillow(data, kind) as image:
        exif = _exif(image, chunks)
        dpi, notes = _one_dpi(_stated_dpi(image, exif))
        if chunks is not None:
            notes += color_notes(chunks)
        icc = image.info.get("icc_profile") or b""
        if not icc and chunks is not None and b"iCCP" in chunks.places:
            notes += ("The file's color profile is damaged; its colors were taken as sRGB.",)
        return Header(
            kind=kind,
            width=image.width,
            height=image.height,
            mode=image.mode,
            frames=2 if "mp" in image.info else int(getattr(image, "n_frames", 1)),
            icc=icc,
            orientation=_orientation(exif),
            dpi=dpi,
            notes=notes,
            chunks=chunks,
        )


def _exif(image: Image.Image, chunks: Chunks | None) -> Image.Exif:
    """Return the picture's Exif record; an empty one where it is absent or damaged (it holds no pixels)."""
    exif = Image.Exif()
    stored = chunks.content(b"eXIf") if chunks else image.info.get("exif", b"")
    try:
        exif.load(stored)
    except Exception:  # Pillow's Exif reader fails in many ways over damaged bytes
        return Image.Exif()
    return exif


def _orientation(exif: Image.Exif) -> int:
    stated: Any = exif.get(_ORIENTATION, UPRIGHT)
    return stated if isinstance(stated, int) and stated in WORDS else UPRIGHT


def _stated_dpi(image: Image.Image, exif: Image.Exif) -> tuple[float, float] | None:
    # Pillow makes up 72 dpi for a JPEG file with Exif that states none.
    made_up = image.format == "JPEG" and not image.info.get("jfif_unit") and _X_RESOLUTION not in exif
    stated = image.info.get("dpi")
    return None if made_up or stated is None else (float(stated[0]), float(stated[1]))


def _one_dpi(stated: tuple[float, float] | None) -> tuple[float | None, tuple[str, ...]]:
    if stated is None or not all(math.isfinite(value) and value > 0 for value in stated):
        return None, ()
    across, down = stated
    if abs(across - down) <= _DPI_SLACK * across:
        return across, ()
    return across, (f"The file states {across:g} dpi across and {down:g} dpi down; {across:g} was taken.",)


def _expect_within_limits(header: Header, settings: Settings) -> None:
    width, height = header.width, header.height
    if width <= 0 or height <= 0:
        raise BadPicture(f"claims to be {width} x {height} pixels, so there is nothing in it", SAVE_AGAIN)
    size = f"is not checked: it claims to be {width} x {height} pixels"
    mend = "If it really is that large, raise the limit; if not, save it again"
    if max(width, height) > settings.max_side:
        raise Refused(f"{size}, and the limit is {settings.max_side} a side. {mend}.")
    megapixels = width * height / 1e6
    if megapixels > settings.max_megapixels:
        limit = f"{settings.max_megapixels:g} megapixels"
        raise Refused(f"{size} ({megapixels:.0f} megapixels), and the limit is {limit}. {mend}.")


def _frames_note(frames: int) -> tuple[str, ...]:
    if frames <= 1:
        return ()
    return (f"The file holds {frames} pictures; only the first was checked.",)
