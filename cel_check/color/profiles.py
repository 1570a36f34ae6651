"""ICC profiles embedded in pictures: what they are called, whether they matter, and pixels brought to sRGB.

Little CMS does the conversion, with the media-relative colorimetric intent, since a check compares colors and
wants none rendered to please. Its fast ways are not exact and are switched off: held against the formulas of
two profiles with known primaries and gamma (Adobe RGB (1998), and one of our own), its optimized 16-bit
conversion was up to 4630 codes of 65535 wrong, and its optimized 8-bit one 0.70 codes of 255 where rounding
alone makes 0.50. Without optimization the figures are 1.0 and 0.50.
"""

import io
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, TypeVar

import numpy as np
from imagecodecs import CmsError, cms_transform
from numpy.typing import NDArray
from PIL import ImageCms

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import srgb16_to_lab
from cel_check.errors import BadPicture

Pixels = TypeVar("Pixels", NDArray[np.uint8], NDArray[np.uint16])

_RELATIVE_COLORIMETRIC = 1  # ICC.1: rendering intents
_NO_OPTIMIZATION = 0x100  # cmsFLAGS_NOOPTIMIZE

_SAME_AS_SRGB = 0.25
"""The largest ΔE00 by which a profile may move a color and still count as sRGB.

Of the profiles in Pillow's test pictures, the eight for sRGB move none by more than 0.03, and the six others
move some by 6.5 or more.
"""

_FEW_PIXELS = 1 << 16  # below this, a table of all 8-bit colors costs more than it saves

_SPACES = {"RGB": "rgb", "GRAY": "gray"}
_DEVICES = frozenset({"scnr", "mntr", "prtr", "spac"})  # ICC.1: not device links, abstract or named colors


@dataclass(frozen=True)
class _Facts:
    name: str
    space: str
    device: str


class BadProfile(BadPicture):
    """An embedded profile that is broken or not meant for the picture's pixels."""


def profile_name(icc: bytes) -> str:
    """Return what a profile calls itself, on one line, at most 80 characters.

    Raises:
        BadProfile: where the bytes are no ICC profile.
    """
    return _facts(icc).name


@lru_cache(maxsize=32)
def is_srgb(icc: bytes) -> bool:
    """Tell whether a profile leaves every color where it is to within a ΔE00 of 0.25, whatever it is called.

    Raises:
        BadProfile: where the profile is broken, or is for neither RGB nor gray pictures.
    """
    grid = _gray_ramp() if _space(icc) == "gray" else _color_grid()
    moved = ciede2000(srgb16_to_lab(_converted(grid, icc)), srgb16_to_lab(grid))
    return bool(moved.max() <= _SAME_AS_SRGB)


def to_srgb(pixels: Pixels, icc: bytes) -> Pixels:
    """Convert pixels from the colors of a profile to sRGB.

    Args:
        pixels: `(height, width, 3)`, uint8 or uint16; R, G and B alike where the profile is for gray.
        icc: the profile's bytes.

    Returns:
        sRGB pixels of the same shape and dtype; colors outside sRGB are clipped channel by channel.

    Raises:
        BadProfile: where the profile is broken, or not meant for such pixels.
    """
    if pixels.size == 0:
        return pixels.copy()
    if pixels.dtype == np.uint8 and pixels.size > 3 * _FEW_PIXELS:
        colors, index = _colors_of(pixels)
        return np.take(_converted(colors, icc)[0], index, axis=0)
    return _converted(pixels, icc)


def _colors_of(pixels: NDArray[Any]) -> tuple[NDArray[Any], NDArray[np.uint32]]:
    """Return the colors of 8-bit pixels, `(1, n, 3)`, and which of them each pixel has.

    A picture of millions of pixels has thousands of colors, and an exact conversion is slow.
    """
    packed = pixels[..., 0].astype(np.uint32) << 16 | pixels[..., 1].astype(np.uint32) << 8 | pixels[..., 2]
    seen = np.zeros(1 << 24, dtype=np.bool_)
    seen[packed] = True
    codes = np.flatnonzero(seen)
    colors = np.stack([codes >> 16, codes >> 8 & 255, codes & 255], axis=-1).astype(pixels.dtype)
    index = np.empty(1 << 24, dtype=np.uint32)
    index[codes] = np.arange(len(codes), dtype=np.uint32)
    return colors[None], index[packed]


def _converted(pixels: Pixels, icc: bytes) -> Pixels:
    space = _space(icc)
    source = _only_gray(pixels) if space == "gray" else np.ascontiguousarray(pixels)
    try:
        converted: Pixels = cms_transform(
            source,
            icc,
            _srgb_profile(),
            colorspace=space,
            outcolorspace="rgb",
            intent=_RELATIVE_COLORIMETRIC,
            flags=_NO_OPTIMIZATION,
        )
    except (CmsError, ValueError) as error:
        raise _broken() from error
    return converted


def _only_gray(pixels: Pixels) -> Pixels:
    gray = pixels[..., 0]
    if not (np.array_equal(gray, pixels[..., 1]) and np.array_equal(gray, pixels[..., 2])):
        raise BadProfile(
            "the embedded color profile is for gray pictures, and this one has colors",
            "Save the picture again with the profile that it was painted under.",
        )
    return np.ascontiguousarray(gray)


def _space(icc: bytes) -> str:
    facts = _facts(icc)
    if facts.space not in _SPACES or facts.device not in _DEVICES:
        raise BadProfile(
            f"the embedded color profile ({facts.name}) is not one for RGB or gray pictures",
            "Save the picture again as sRGB.",
        )
    return _SPACES[facts.space]


@lru_cache(maxsize=32)
def _facts(icc: bytes) -> _Facts:
    try:
        profile = ImageCms.ImageCmsProfile(io.BytesIO(icc)).profile
        description = profile.profile_description or ""
        space, device = profile.xcolor_space.strip(), profile.device_class.strip()
    except (ImageCms.PyCMSError, OSError, ValueError) as error:  # ValueError: letters beyond Unicode or ASCII
        raise _broken() from error
    printable = "".join(character if character.isprintable() else " " for character in description)
    name = " ".join(printable.split())[:80]
    return _Facts(name or "a profile without a name", space, device)


def _broken() -> BadProfile:
    return BadProfile("the embedded color profile is broken", "Save the picture again as sRGB.")


@cache
def _srgb_profile() -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def _gray_ramp() -> NDArray[np.uint16]:
    ramp = np.arange(0, 65536, 257, dtype=np.uint16)
    return np.repeat(ramp[None, :, None], 3, axis=-1)


def _color_grid() -> NDArray[np.uint16]:
    """Return a grid of 9 steps a channel and every 8-bit gray, `(1, n, 3)`."""
    steps = np.linspace(0, 65535, 9).round().astype(np.uint16)
    grid = np.stack(np.meshgrid(steps, steps, steps), axis=-1).reshape(1, -1, 3)
    return np.concatenate([grid, _gray_ramp()], axis=1)
