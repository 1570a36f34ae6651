"""PNG files: which chunks they hold (W3C PNG Specification, Third Edition), and their exact pixels."""

import io
import math
import struct
import zlib
from collections.abc import Mapping
from dataclasses import dataclass

import imagecodecs
import numpy as np
from kornia_rs.io import decode_image_png_u8 as _png_8_bits
from kornia_rs.io import decode_image_png_u16 as _png_16_bits
from PIL.PngImagePlugin import PngImageFile

from cel_check.errors import BadPicture
from cel_check.picture.kind import SAVE_AGAIN, Kind, damaged
from cel_check.picture.raster import Raster, Samples

_SRGB_GAMMA = 0.45455
"""The gAMA value that stands for sRGB (section 11.3.2 of the specification)."""

_GAMMA_SLACK = 1.1
"""gAMA within a tenth of sRGB's is taken for it: 1/2.2, 1/2.4 rounded and Rec. 709's fit display habits."""

_SRGB_CHROMATICITIES = (0.3127, 0.329, 0.64, 0.33, 0.3, 0.6, 0.15, 0.06)
"""White, red, green and blue x, y of sRGB (section 11.3.2.1)."""

_CHROMATICITY_SLACK = 0.01
"""Rounding by other programs stays below this; other gamuts in use differ by more (a house choice)."""

_CHANNELS = {0: 1, 2: 3, 3: 3, 4: 2, 6: 4}
"""Channels of each color type: gray, RGB, indexed (expanded to RGB), gray and alpha, RGB and alpha."""

_USUAL = {2: "rgb", 6: "rgba"}
"""Color types that the faster decoder takes, and its names for them."""

_TAKE_TRNS = (0, 2, 3)
"""Color types that a tRNS chunk gives an alpha channel to."""

_SRGB_CODE_POINTS = bytes((1, 13, 0, 1))
"""cICP for sRGB: Rec. 709 primaries, sRGB's curve, RGB order, full range (ITU-T H.273)."""


@dataclass(frozen=True)
class Chunks:
    """The chunks of a PNG file: the place of the first of each type, as (start, length) of its content."""

    data: bytes
    places: Mapping[bytes, tuple[int, int]]

    def content(self, name: bytes) -> bytes:
        """Return the content of the first chunk of a type; nothing where absent or failing its checksum."""
        if name not in self.places:
            return b""
        start, length = self.places[name]
        stated = struct.unpack_from(">I", self.data, start + length)[0]
        sound = zlib.crc32(self.data[start - 4 : start + length]) == stated
        return self.data[start : start + length] if sound else b""


def read_chunks(data: bytes) -> Chunks:
    """Walk over a PNG file's chunks up to its end.

    Raises:
        BadPicture: the file stops before its IEND chunk is complete.
    """
    places: dict[bytes, tuple[int, int]] = {}
    at = 8
    while b"IEND" not in places:
        if at + 12 > len(data):
            raise BadPicture(f"is cut short: it stops at byte {len(data)}, before its end chunk", SAVE_AGAIN)
        length, name = struct.unpack_from(">I4s", data, at)
        if at + 12 + length > len(data):
            raise BadPicture(
                f"is cut short or damaged: it stops at byte {len(data)}, inside the chunk from byte {at} on",
                SAVE_AGAIN,
            )
        places.setdefault(name, (at + 8, length))
        at += 12 + length
    return Chunks(data, places)


def color_notes(chunks: Chunks) -> tuple[str, ...]:
    """Return a note for each statement about color that is not sRGB and is not followed."""
    code_points = chunks.content(b"cICP")
    if code_points and code_points != _SRGB_CODE_POINTS:
        return ("The file states a video color space other than sRGB (cICP); its colors were taken as sRGB.",)
    if b"iCCP" in chunks.places or b"sRGB" in chunks.places:
        return ()
    return _gamma_notes(chunks.content(b"gAMA")) + _primaries_notes(chunks.content(b"cHRM"))


def _gamma_notes(content: bytes) -> tuple[str, ...]:
    gamma = struct.unpack(">I", content)[0] / 100_000 if len(content) == 4 else _SRGB_GAMMA
    if gamma > 0 and abs(math.log(gamma / _SRGB_GAMMA)) < math.log(_GAMMA_SLACK):
        return ()
    return (f"The file states a gamma of {gamma:g} where sRGB has 0.45455; its colors were taken as sRGB.",)


def _primaries_notes(content: bytes) -> tuple[str, ...]:
    if len(content) != 32:
        return ()
    stated = np.array(struct.unpack(">8I", content)) / 100_000
    if np.abs(stated - _SRGB_CHROMATICITIES).max() < _CHROMATICITY_SLACK:
        return ()
    return ("The file states primaries or a white other than sRGB's (cHRM); its colors were taken as sRGB.",)


def decode_png(data: bytes, chunks: Chunks) -> Raster:
    """Return a PNG file's exact pixels.

    Raises:
        BadPicture: its pixels are damaged, or an indexed picture uses a color that its palette does not hold.
    """
    samples = _room_for(chunks)
    usual = _decode_usual(data, chunks, samples)
    if usual is not None:
        return Raster(usual)
    try:
        imagecodecs.png_decode(data, out=samples)
    except (imagecodecs.PngError, ValueError) as error:
        # imagecodecs never lets go of its output after a failure (of None, where it makes the output itself).
        samples.resize((0,), refcheck=False)
        raise damaged(Kind.PNG, error) from error
    if b"PLTE" in chunks.places:
        _expect_colors_in_palette(data, chunks)
    return Raster(samples if samples.ndim == 3 else samples[:, :, np.newaxis])


def _decode_usual(data: bytes, chunks: Chunks, room: Samples) -> Samples | None:
    """Return the pixels of the two usual kinds, RGB and RGBA by rows, in less than half the time.

    None for all others, and where anything is wrong: then the decoder that says what is wrong has its turn.
    The room is only asked for: a decoder that found none would end the program.
    """
    color_type, interlaced = struct.unpack_from(">9xBxxB", chunks.content(b"IHDR"))
    if color_type not in _USUAL or interlaced or b"tRNS" in chunks.places:
        return None
    decode = _png_8_bits if room.dtype == np.uint8 else _png_16_bits
    try:
        return np.asarray(decode(data, room.shape[:2], _USUAL[color_type]))
    except Exception:  # each kind of damage has its own, and all are met again by the other decoder
        return None


def _room_for(chunks: Chunks) -> Samples:
    """Return an array for the pixels, as imagecodecs shapes it: `(height, width)` for gray without alpha."""
    width, height, depth, color_type = struct.unpack_from(">IIBB", chunks.content(b"IHDR"))
    channels = _CHANNELS[color_type] + (b"tRNS" in chunks.places and color_type in _TAKE_TRNS)
    shape = (height, width, channels) if channels > 1 else (height, width)
    return np.empty(shape, np.uint16 if depth == 16 else np.uint8)


def _expect_colors_in_palette(data: bytes, chunks: Chunks) -> None:
    """Refuse an index beyond the palette: decoders show some color for it, each its own."""
    start, _ = chunks.places[b"IHDR"]
    depth, color_type = data[start + 8], data[start + 9]
    colors = chunks.places[b"PLTE"][1] // 3
    if color_type != 3 or colors >= 1 << depth:
        return
    with PngImageFile(io.BytesIO(data)) as image:
        image.load()
        highest = int(np.asarray(image).max())
    if highest >= colors:
        raise BadPicture(
            f"is damaged: it uses color {highest} of a palette that holds {colors} (numbered from 0)",
            SAVE_AGAIN,
        )
