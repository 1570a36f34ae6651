"""CMYK to sRGB: by the picture's own profile, or roughly where it has none."""

import io

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

_COLOR_SPACE = slice(16, 20)
"""Where an ICC profile's header names its color space (ICC.1:2022, section 7.2)."""


def cmyk_to_rgb(inks: NDArray[np.uint8], icc: bytes) -> tuple[NDArray[np.uint8], tuple[str, ...], bool]:
    """Return sRGB for CMYK, a note on how it was made, and True (no profile is left to be followed).

    Args:
        inks: `(height, width, 4)` uint8, 0 for no ink.
        icc: the picture's profile; empty or not a CMYK profile for none.

    Returns:
        `(height, width, 3)` uint8, the notes, and True.
    """
    image = Image.fromarray(np.ascontiguousarray(inks), "CMYK")
    if icc[_COLOR_SPACE] == b"CMYK":
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(icc))
            shown = ImageCms.profileToProfile(
                image,
                source,
                ImageCms.createProfile("sRGB"),
                renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
                outputMode="RGB",
                flags=ImageCms.Flags.NOOPTIMIZE,  # the fast way is up to 7 codes off (a 2-step table)
            )
        except (ImageCms.PyCMSError, OSError):
            shown = None
        if shown is not None:
            return np.asarray(shown), ("CMYK was converted to sRGB by the profile in the file.",), True
    note = "CMYK was converted to sRGB without a profile that can be used: its colors are only rough."
    return np.asarray(image.convert("RGB")), (note,), True
