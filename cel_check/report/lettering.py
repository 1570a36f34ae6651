"""Type for the charts: which font there is, how wide a text runs, and a text cut to fit."""

from functools import cache

from PIL import ImageFont

_FACES = {
    False: ("DejaVuSans.ttf", "LiberationSans-Regular.ttf", "Arial.ttf", "arial.ttf", "Helvetica.ttc"),
    True: (
        "DejaVuSans-Bold.ttf",
        "LiberationSans-Bold.ttf",
        "Arial Bold.ttf",
        "arialbd.ttf",
        "Helvetica.ttc",
    ),
}
"""Fonts that systems carry, those with the most signs first. Where none is there, Pillow's own (Latin only)
serves."""

_MEASURED_AT = 100.0

Font = ImageFont.FreeTypeFont | ImageFont.ImageFont


@cache
def font(size: float, bold: bool = False) -> Font:
    """Return a font of a size in pixels."""
    for face in _FACES[bold]:
        try:
            return ImageFont.truetype(face, size)
        except OSError:
            continue
    return ImageFont.load_default(size)


def width_of(text: str, size: float, bold: bool = False) -> float:
    """Return how wide a text runs, in the unit of `size` (the font's height)."""
    return font(_MEASURED_AT, bold).getlength(text) * size / _MEASURED_AT


def fitted(text: str, size: float, width: float, bold: bool = False) -> str:
    """Return a text that is no wider than `width`, with an ellipsis where something was cut off."""
    if width_of(text, size, bold) <= width:
        return text
    for length in range(len(text) - 1, 0, -1):
        cut = text[:length].rstrip() + "…"
        if width_of(cut, size, bold) <= width:
            return cut
    return ""
