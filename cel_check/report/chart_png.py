"""Draws a chart's sheets as PNG at 150 dots an inch, marked as sRGB."""

import io

from PIL import Image, ImageDraw, PngImagePlugin

from cel_check.report.chart import HEIGHT, WIDTH, Badge, Block, Sheet, Text
from cel_check.report.lettering import font

DPI = 150
_MM = DPI / 25.4
_PAPER, _INK, _SOFT = (255, 255, 255), (20, 20, 20), (86, 86, 86)


def sheet_png(sheet: Sheet, reference: Image.Image | None) -> bytes:
    """Return one sheet as a PNG of A4 at 150 dpi.

    Args:
        sheet: what to draw.
        reference: the reference cel, RGBA; None where there is none.
    """
    image = Image.new("RGB", (round(WIDTH * _MM), round(HEIGHT * _MM)), _PAPER)
    draw = ImageDraw.Draw(image)
    for block in sheet.blocks:
        draw.rectangle(_box(block), fill=block.color)
    for text in sheet.texts:
        _text(draw, text)
    for badge in sheet.badges:
        _badge(draw, badge)
    if reference is not None:
        place = sheet.picture
        fitted = fit(reference, place.width * _MM, place.height * _MM)
        corner = (round((place.x + place.width) * _MM) - fitted.width, round(place.y * _MM))
        image.paste(fitted.convert("RGB"), corner, fitted.getchannel("A"))
    info = PngImagePlugin.PngInfo()
    info.add(b"sRGB", b"\x00")  # perceptual: the PNG specification's mark for plain sRGB
    buffer = io.BytesIO()
    image.save(buffer, "PNG", dpi=(DPI, DPI), pnginfo=info)
    return buffer.getvalue()


def fit(image: Image.Image, width: float, height: float) -> Image.Image:
    """Return an image at the largest size that a place of that many pixels takes."""
    scale = min(width / image.width, height / image.height)
    size = (max(1, round(image.width * scale)), max(1, round(image.height * scale)))
    return image.resize(size, Image.Resampling.LANCZOS)


def _box(block: Block) -> tuple[int, int, int, int]:
    """Return whole pixels, so that neighbors join without a gap or a blended column."""
    left, top = round(block.x * _MM), round(block.y * _MM)
    return left, top, round((block.x + block.width) * _MM) - 1, round((block.y + block.height) * _MM) - 1


def _text(draw: ImageDraw.ImageDraw, text: Text) -> None:
    if not text.text:
        return
    fill = _SOFT if text.soft else _INK
    place = (text.x * _MM, text.y * _MM)
    draw.text(place, text.text, fill=fill, font=font(text.size * _MM, text.bold), anchor="ls")


def _badge(draw: ImageDraw.ImageDraw, badge: Badge) -> None:
    x, y, radius = badge.x * _MM, badge.y * _MM, 1.7 * _MM
    draw.ellipse((x - radius, y - radius, x + radius, y + radius), fill=_PAPER, outline=_INK, width=2)
    draw.text((x, y), badge.letter, fill=_INK, font=font(2.4 * _MM, bold=True), anchor="mm")
