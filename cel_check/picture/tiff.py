"""TIFF files (TIFF 6.0 and BigTIFF): what they hold, and their exact pixels."""

import io
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import numpy as np
import tifffile
from numpy.typing import NDArray

from cel_check.errors import BadPicture
from cel_check.picture.cmyk import cmyk_to_rgb
from cel_check.picture.kind import SAVE_AGAIN, SAVE_AS_PNG
from cel_check.picture.raster import Alpha, Raster, Samples, complaints_of

_WHITE_IS_ZERO, _BLACK_IS_ZERO, _RGB, _INDEXED, _CMYK, _YCBCR = 0, 1, 2, 3, 5, 6
_COLORS = {_WHITE_IS_ZERO: 1, _BLACK_IS_ZERO: 1, _RGB: 3, _INDEXED: 1, _CMYK: 4, _YCBCR: 3}
"""Samples a pixel for each PhotometricInterpretation that is read, without extra samples."""

_BITS = (1, 2, 4, 8, 16)
_UNSIGNED = 1
_JPEG = 7
_PLANES_APART = 2
_ASSOCIATED, _STRAIGHT = 1, 2
_INCH, _CENTIMETER = 2, 3

_MOST_PAGES = 10_000
_MOST_EXTRAS = 8
_LARGE_TILE = 4096 * 4096
"""Pages, extra channels and pixels a tile beyond which a file is taken for damaged (house choices)."""


@dataclass(frozen=True)
class TiffFacts:
    """What a TIFF file says about its first full picture; `dpi` holds x and y."""

    width: int
    height: int
    mode: str
    frames: int
    icc: bytes
    orientation: int
    dpi: tuple[float, float] | None


def describe_tiff(data: bytes) -> TiffFacts:
    """Return what a TIFF file says about itself, without decoding pixels.

    Raises:
        BadPicture: its structure is damaged.
    """
    with _opened(data) as (page, frames):
        return TiffFacts(
            width=int(page.imagewidth),
            height=int(page.imagelength),
            mode=f"{page.samplesperpixel} x {page.bitspersample} bit",
            frames=frames,
            icc=_bytes_tag(page, "InterColorProfile"),
            orientation=int(_tag(page, "Orientation", 1)),
            dpi=_dpi(page),
        )


def decode_tiff(data: bytes, icc: bytes) -> Raster:
    """Return the exact pixels of a TIFF file's first full picture.

    Args:
        data: the file's bytes.
        icc: its profile, which CMYK is converted by.

    Raises:
        BadPicture: the pixels are damaged, or are of a sort that is not read.
    """
    with _opened(data) as (page, _), complaints_of("tifffile") as complaints:
        _expect_known_sort(page)
        _expect_whole(page, len(data))
        stored = np.asarray(page.asarray(maxworkers=1))
        if complaints:
            raise _damaged(complaints[0])
        return _raster(page, _height_width_channels(page, stored), icc)


@contextmanager
def _opened(data: bytes) -> Iterator[tuple[Any, int]]:
    """Open the first picture that is no preview of another, with the number of such pictures."""
    # tifffile holds on to its stream in a circle; closed, the stream lets go of the bytes.
    with io.BytesIO(data) as stream, tifffile.TiffFile(stream) as file:
        pages = [page for page in _pages(file) if not page.is_reduced and not page.is_mask]
        if not pages:
            raise _damaged("there is no picture in it")
        yield pages[0], len(pages)


def _pages(file: tifffile.TiffFile) -> Iterator[tifffile.TiffPage]:
    """Walk over the pages; tifffile follows a chain that runs in a circle until memory ends."""
    seen: set[int] = set()
    for number in range(_MOST_PAGES):
        try:
            page = file.pages[number]
        except IndexError:
            return
        if page.offset in seen or not isinstance(page, tifffile.TiffPage):
            raise _damaged("its list of pictures runs in a circle")
        seen.add(page.offset)
        yield page
    raise _damaged(f"it lists more than {_MOST_PAGES} pictures")


def _tag(page: Any, name: str, default: Any) -> Any:
    tag = page.tags.get(name)
    return default if tag is None or tag.value is None else tag.value


def _bytes_tag(page: Any, name: str) -> bytes:
    value = _tag(page, name, b"")
    return value if isinstance(value, bytes) else bytes(value)


def _dpi(page: Any) -> tuple[float, float] | None:
    unit = {_INCH: 1.0, _CENTIMETER: 2.54}.get(int(_tag(page, "ResolutionUnit", _INCH)))
    ratios = _tag(page, "XResolution", (0, 1)), _tag(page, "YResolution", (0, 1))
    if unit is None or any(below == 0 or above == 0 for above, below in ratios):
        return None
    x, y = (unit * above / below for above, below in ratios)
    return x, y


def _damaged(detail: object) -> BadPicture:
    return BadPicture(f"is a damaged TIFF picture ({detail})", SAVE_AGAIN)


def _expect_known_sort(page: Any) -> None:
    if "PhotometricInterpretation" not in page.tags:
        raise _damaged("it does not say which color space it is in")
    colors = _COLORS.get(int(page.photometric))
    packed_ycbcr = int(page.photometric) == _YCBCR and int(page.compression) != _JPEG
    if colors is None or packed_ycbcr or page.imagedepth != 1:
        name = getattr(page.photometric, "name", page.photometric)
        raise BadPicture(f"is a TIFF picture in a color space that is not read ({name})", SAVE_AS_PNG)
    if page.bitspersample not in _BITS or int(page.sampleformat) != _UNSIGNED:
        raise BadPicture(
            f"is a TIFF picture of {page.bitspersample} bits a channel of a sort that is not read",
            "Save it with 8 or 16 bits a channel (whole numbers).",
        )


def _expect_whole(page: Any, size: int) -> None:
    """Refuse strips or tiles that are missing, empty or beyond the end: a decoder fills them with black."""
    _expect_sane_layout(page)
    if len(page.dataoffsets) != len(page.databytecounts):
        raise _damaged("its strips or tiles have places without lengths")
    places = list(zip(page.dataoffsets, page.databytecounts, strict=True))
    if len(places) < math.prod(page.chunked):
        raise _damaged(f"{math.prod(page.chunked) - len(places)} of its strips or tiles are not listed")
    for number, (start, length) in enumerate(places):
        if start <= 0 or length <= 0:
            raise _damaged(f"strip or tile {number} holds no pixels")
        if start + length > size:
            raise BadPicture(
                f"is cut short: it stops at byte {size}, and strip or tile {number} should reach byte "
                f"{start + length}",
                SAVE_AGAIN,
            )


def _expect_sane_layout(page: Any) -> None:
    """Refuse channels and tiles that would take far more memory than the picture they make up."""
    extras = page.samplesperpixel - _COLORS[int(page.photometric)]
    if not 0 <= extras <= _MOST_EXTRAS:
        raise _damaged(f"{page.samplesperpixel} channels do not fit its color space")
    if not page.is_tiled:
        return
    picture = page.imagewidth * page.imagelength
    if page.tiledepth != 1 or page.tilewidth * page.tilelength > max(_LARGE_TILE, picture):
        raise _damaged(f"it claims tiles of {page.tilewidth} x {page.tilelength} pixels")


def _height_width_channels(page: Any, stored: NDArray[Any]) -> NDArray[Any]:
    """Return `(height, width, channels)`; indexes and gray get one channel, separate planes are joined."""
    height, width, channels = page.imagelength, page.imagewidth, page.samplesperpixel
    if int(page.planarconfig) == _PLANES_APART and channels > 1:
        return np.moveaxis(stored.reshape(channels, height, width), 0, -1)
    return stored.reshape(height, width, channels)


def _raster(page: Any, stored: NDArray[Any], icc: bytes) -> Raster:
    count = _COLORS[int(page.photometric)]
    notes: tuple[str, ...] = ()
    in_srgb = False
    bits = int(page.bitspersample)
    colors: Samples
    if int(page.photometric) == _INDEXED:
        colors = _from_palette(page, stored[:, :, 0])
    else:
        colors = _whole_range(stored[:, :, :count], bits)
    if int(page.photometric) == _WHITE_IS_ZERO:
        colors = np.invert(colors)
    elif int(page.photometric) == _CMYK:
        colors, notes, in_srgb = cmyk_to_rgb(_eight_bits(colors), icc)
    extra, alpha, extra_notes = _alpha(page, stored[:, :, count:])
    if extra is not None:
        extra = _whole_range(extra, bits)
        extra = _eight_bits(extra) if colors.dtype == np.uint8 else _sixteen_bits(extra)
        colors = np.concatenate((colors, extra), axis=2)
    return Raster(np.ascontiguousarray(colors), alpha, notes + extra_notes, in_srgb)


def _alpha(page: Any, extras: NDArray[Any]) -> tuple[NDArray[Any] | None, Alpha, tuple[str, ...]]:
    """Return the alpha channel among the extra samples `(height, width, n)`, and what is said of it."""
    if extras.shape[2] == 0:
        return None, Alpha.STRAIGHT, ()
    sorts = [int(sort) for sort in page.extrasamples][: extras.shape[2]]
    sorts += [0] * (extras.shape[2] - len(sorts))
    at = next((n for n, sort in enumerate(sorts) if sort in (_ASSOCIATED, _STRAIGHT)), 0)
    alpha = {_ASSOCIATED: Alpha.ASSOCIATED, _STRAIGHT: Alpha.STRAIGHT}.get(sorts[at], Alpha.UNDECLARED)
    notes: tuple[str, ...] = ()
    if alpha is Alpha.UNDECLARED:
        notes += ("The file does not say what its extra channel is; it was taken as alpha.",)
    if len(sorts) > 1:
        notes += (
            f"The file holds {len(sorts)} extra channels; one was taken as alpha, the others were left out.",
        )
    return extras[:, :, at : at + 1], alpha, notes


def _from_palette(page: Any, indexes: NDArray[Any]) -> Samples:
    """Return RGB for a TIFF color map, whose entries are 16 bits wide (in some old files only 8 are used)."""
    colormap = np.asarray(page.colormap, np.uint32).T
    full = colormap if int(colormap.max(initial=0)) < 256 else (colormap * 255 + 32767) // 65535
    return np.asarray(full.astype(np.uint8)[indexes])


def _whole_range(values: NDArray[Any], bits: int) -> Samples:
    if bits < 8:
        return (values.astype(np.uint8) * np.uint8(255 // ((1 << bits) - 1))).astype(np.uint8)
    return values.astype(np.uint8 if bits == 8 else np.uint16, copy=False)


def _eight_bits(values: Samples) -> NDArray[np.uint8]:
    if values.dtype == np.uint8:
        return values.astype(np.uint8, copy=False)
    return ((values.astype(np.uint32) * 255 + 32767) // 65535).astype(np.uint8)


def _sixteen_bits(values: Samples) -> NDArray[np.uint16]:
    if values.dtype == np.uint16:
        return values.astype(np.uint16, copy=False)
    return values.astype(np.uint16) * np.uint16(257)
