"""The only reader of pixels: a file in, a `Picture` in sRGB with straight alpha out, or the reason."""

from dataclasses import replace
from pathlib import Path
from typing import cast

import cv2
import numpy as np

from cel_check.color.profiles import BadProfile, is_srgb, profile_name, to_srgb
from cel_check.errors import BadPicture, Refused
from cel_check.picture.alpha import is_opaque, looks_associated, unassociate
from cel_check.picture.flat import decode_flat
from cel_check.picture.header import Header, read_header, turn_note
from cel_check.picture.kind import SAVE_AGAIN, Kind, damaged
from cel_check.picture.picture import Picture
from cel_check.picture.png import decode_png
from cel_check.picture.raster import Alpha, Raster, Samples, without_warnings
from cel_check.picture.source import read_source
from cel_check.picture.tiff import decode_tiff
from cel_check.picture.turn import upright
from cel_check.settings import DEFAULTS, Settings

_TO_8_BITS = ((np.arange(65536, dtype=np.uint32) * 255 + 32767) // 65535).astype(np.uint8)
"""16 bits to 8, rounded to the nearest."""

_WITH_ALPHA = (2, 4)
"""Channels of pictures that have alpha."""

_TO_RGBA = {1: cv2.COLOR_GRAY2RGBA, 3: cv2.COLOR_RGB2RGBA}


def read_picture(path: Path, settings: Settings = DEFAULTS) -> Picture:
    """Read one picture whole: sniffed by content, in sRGB, upright, with straight alpha.

    PNG, TIFF, TGA, JPEG, BMP and WebP are read. What is converted on the way is said in the picture's notes.

    Args:
        path: the file.
        settings: holds the limits of size.

    Raises:
        BadPicture: it cannot be read whole; the reason and the mend are for a person. Its `sha256` is that of
            the bytes that were read.
        Refused: it is over a limit of `settings`, or needs more memory than there is.
    """
    source = read_source(path, settings)
    sha256 = source.sha256
    try:
        header = read_header(source.data, path.name, settings)
        raster = _in_rgba(_decode(source.data, header))
        del source  # a deep scan's bytes are 200 MB, and its pixels twice that
        return _picture(raster, header, sha256)
    except BadPicture as error:
        error.sha256 = sha256
        raise
    except MemoryError as error:
        raise Refused("is not checked: there is not enough memory to decode it") from error


def _decode(data: bytes, header: Header) -> Raster:
    try:
        with without_warnings():
            raster = _decode_kind(data, header)
    except (BadPicture, Refused, MemoryError):
        raise
    except Exception as error:  # each decoder fails in its own way over damaged pixels
        raise damaged(header.kind, error) from error
    if raster.samples.shape[:2] != (header.height, header.width):
        raise BadPicture("is damaged: its pixels do not fill the size that its header claims", SAVE_AGAIN)
    return raster


def _decode_kind(data: bytes, header: Header) -> Raster:
    if header.kind is Kind.PNG and header.chunks is not None:
        return decode_png(data, header.chunks)
    if header.kind is Kind.TIFF:
        return decode_tiff(data, header.icc)
    return decode_flat(data, header.kind, header.icc)


def _in_rgba(raster: Raster) -> Raster:
    """Return a raster of four channels; the one that it was made from is not held on to."""
    return replace(
        raster, samples=_as_rgba(raster.samples), opaque=raster.samples.shape[2] not in _WITH_ALPHA
    )


def _picture(raster: Raster, header: Header, sha256: str) -> Picture:
    full = raster.samples
    notes = header.notes + raster.notes
    opaque = raster.opaque or is_opaque(full)
    if not opaque:
        notes += _settle_alpha(full, raster.alpha)
    if header.icc and not raster.in_srgb:
        notes += _settle_profile(full, header.icc)
    full = upright(full, header.orientation)
    deep = full.dtype == np.uint16
    rgba = _TO_8_BITS[full] if deep else full.astype(np.uint8, copy=False)
    return Picture(
        rgba=rgba,
        rgb16=np.ascontiguousarray(full[:, :, :3]).astype(np.uint16, copy=False) if deep else None,
        opaque=opaque or is_opaque(rgba),
        sha256=sha256,
        dpi=header.dpi,
        notes=notes + turn_note(header.orientation),
    )


def _as_rgba(samples: Samples) -> Samples:
    """Return `(height, width, 4)`, writable and C-contiguous; the very same array where it is that."""
    channels = samples.shape[2]
    if channels == 4:
        return np.require(samples, requirements=("C", "W"))
    if channels == 2:
        gray, alpha = cv2.split(samples)
        return cast(Samples, cv2.merge((gray, gray, gray, alpha)))
    return cast(Samples, cv2.cvtColor(samples, _TO_RGBA[channels]))


def _settle_alpha(full: Samples, declared: Alpha) -> tuple[str, ...]:
    """Make alpha straight, in place, and say how where that changed anything."""
    if declared is Alpha.UNDECLARED and not full[:, :, 3].any():
        full[:, :, 3] = np.iinfo(full.dtype).max
        return ("The file's alpha is 0 everywhere and nothing says what it means; it was left out.",)
    if declared is Alpha.ASSOCIATED:
        unassociate(full)
        return (
            "The colors were stored multiplied by alpha (associated alpha); they were divided by it again.",
        )
    if looks_associated(full):
        unassociate(full)
        return (
            "The colors look multiplied by alpha although the file does not say so; "
            "they were divided by it again.",
        )
    return ()


def _settle_profile(full: Samples, icc: bytes) -> tuple[str, ...]:
    """Bring the colors from the file's profile to sRGB, in place, and say so."""
    try:
        if is_srgb(icc):
            return ()
        colors = np.ascontiguousarray(full[:, :, :3])
        if colors.dtype == np.uint8:
            full[:, :, :3] = to_srgb(colors.astype(np.uint8, copy=False), icc)
        else:
            full[:, :, :3] = to_srgb(colors.astype(np.uint16, copy=False), icc)
        return (f"The colors were converted to sRGB from the file's profile ({profile_name(icc)}).",)
    except BadProfile as error:
        return (f"{error.reason[0].upper()}{error.reason[1:]}; the colors were taken as sRGB.",)
