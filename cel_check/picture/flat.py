"""JPEG, TGA, BMP and WebP files, read by Pillow: all of them hold 8 bits a channel."""

import io
import struct
from typing import Protocol

import numpy as np
from PIL import Image
from PIL.BmpImagePlugin import BmpImageFile
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.TgaImagePlugin import TgaImageFile
from PIL.WebPImagePlugin import WebPImageFile

from cel_check.errors import BadPicture
from cel_check.picture.cmyk import cmyk_to_rgb
from cel_check.picture.kind import SAVE_AS_PNG, Kind
from cel_check.picture.raster import Alpha, Raster


class _Opener(Protocol):
    def __call__(self, fp: io.BytesIO) -> Image.Image: ...


# Pillow's classes by themselves: Image.open would warn or refuse by its own limit of pixels, before ours.
_OPENERS: dict[Kind, _Opener] = {
    Kind.PNG: PngImageFile,
    Kind.JPEG: JpegImageFile,
    Kind.TGA: TgaImageFile,
    Kind.BMP: BmpImageFile,
    Kind.WEBP: WebPImageFile,
}

_TGA_FOOTER = b"TRUEVISION-XFILE.\x00"
_TGA_ALPHA_SORT_AT = 494
"""Offset of the attributes type in the extension area (TGA 2.0 specification): 3 straight, 4 multiplied."""


def open_with_pillow(data: bytes, kind: Kind) -> Image.Image:
    """Return Pillow's picture with its header read and its pixels not yet decoded."""
    return _OPENERS[kind](io.BytesIO(data))


def decode_flat(data: bytes, kind: Kind, icc: bytes) -> Raster:
    """Return the pixels of a JPEG, TGA, BMP or WebP file.

    Args:
        data: the file's bytes.
        kind: one of those four.
        icc: its profile, which CMYK is converted by.

    Raises:
        BadPicture: Pillow reads it in a mode that has no place here.
        Exception: whatever Pillow raises for damaged data.
    """
    with open_with_pillow(data, kind) as image:
        image.load()
        if image.mode == "CMYK":
            colors, notes, in_srgb = cmyk_to_rgb(np.asarray(image), icc)
            return Raster(colors, notes=notes, in_srgb=in_srgb)
        samples = np.asarray(image.convert(_target_mode(image)))
    samples = samples if samples.ndim == 3 else samples[:, :, np.newaxis]
    return Raster(samples, _alpha(data, kind))


def _target_mode(image: Image.Image) -> str:
    if image.mode in ("L", "LA", "RGB", "RGBA"):
        return image.mode
    if image.mode == "1":
        return "L"
    if image.mode == "P":
        has_alpha = "transparency" in image.info or (
            image.palette is not None and image.palette.mode == "RGBA"
        )
        return "RGBA" if has_alpha else "RGB"
    if image.mode in ("RGBX", "YCbCr"):
        return "RGB"
    raise BadPicture(
        f"is a {image.format} picture of a sort that is not read (mode {image.mode})", SAVE_AS_PNG
    )


def _alpha(data: bytes, kind: Kind) -> Alpha:
    if kind is not Kind.TGA:
        return Alpha.STRAIGHT
    sort = _tga_alpha_sort(data)
    return {3: Alpha.STRAIGHT, 4: Alpha.ASSOCIATED}.get(sort, Alpha.UNDECLARED)


def _tga_alpha_sort(data: bytes) -> int:
    """Return the attributes type of a TGA 2.0 file, or -1 where the file states none."""
    if not data.endswith(_TGA_FOOTER) or len(data) < 26:
        return -1
    start = struct.unpack_from("<I", data, len(data) - 26)[0]
    at = start + _TGA_ALPHA_SORT_AT
    return data[at] if start and at < len(data) else -1
