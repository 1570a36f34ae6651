"""The painted backgrounds: the harbor below Signal Hill, by day and by night."""

import io

import numpy as np
import resvg_py
from PIL import Image

from drawing_kit.cel import HEIGHT, WIDTH
from drawing_kit.curves import curve
from drawing_kit.paintshop import LAWS, encoded, linear

Points = list[tuple[float, float]]


def harbor(condition: str | None, perch: bool) -> Image.Image:
    """The background as RGB, with Rook's post (`perch`) or with the rail and the lamp's bracket."""
    night = condition == "night"
    body = "".join((_sky(night), _hills(), _town(night), _sea(night), _quay(), _post() if perch else _rail()))
    size = f'width="{WIDTH}" height="{HEIGHT}"'
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" {size}><defs>{_blends()}</defs>{body}</svg>'
    data = bytes(resvg_py.svg_to_bytes(svg_string=svg, skip_system_fonts=True))
    image = Image.open(io.BytesIO(data)).convert("RGB")
    return _lit(image, condition) if condition else image


def jpeg_bytes(image: Image.Image) -> bytes:
    store = io.BytesIO()
    image.save(store, format="JPEG", quality=82, optimize=True)
    return store.getvalue()


def _lit(image: Image.Image, condition: str) -> Image.Image:
    filters, air = LAWS[condition]
    light = linear(np.asarray(image) / 255.0)
    glow = (light > 0.8).all(axis=2, keepdims=True)  # lit windows and the moon keep their light
    dark = light * np.array(filters) * 0.7 + air
    out = np.where(glow, light * [0.9, 0.85, 0.62], dark)
    return Image.fromarray(np.round(encoded(out) * 255).clip(0, 255).astype(np.uint8))


def _blends() -> str:
    stops = {"sky": ("#7FB4C9", "#DDE6DA"), "sea": ("#5F9AA6", "#2F6472"), "grass": ("#8FA861", "#5D7A48")}
    return "".join(
        f'<linearGradient id="{key}" x1="0" y1="0" x2="0" y2="1"><stop offset="0" stop-color="{a}"/>'
        f'<stop offset="1" stop-color="{b}"/></linearGradient>'
        for key, (a, b) in stops.items()
    )


def _shape(points: Points, color: str, corners: tuple[int, ...] = (), opacity: float = 1.0) -> str:
    return f'<path d="{curve(points, corners).path()}" fill="{color}" opacity="{opacity}"/>'


def _box(x: float, y: float, w: float, h: float, color: str) -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{w:.1f}" height="{h:.1f}" fill="{color}"/>'


def _sky(night: bool) -> str:
    parts = [_box(0, 0, WIDTH, 640, "url(#sky)")]
    for x, y, size in ((260, 150, 1.2), (1010, 90, 0.9), (1520, 210, 1.4), (1840, 80, 0.8)):
        puff = [(x - 150 * size, y + 30), (x - 90 * size, y - 8), (x - 20 * size, y - 40 * size),
                (x + 60 * size, y - 16),
                (x + 150 * size, y + 24), (x + 60 * size, y + 40), (x - 70 * size, y + 42)]  # fmt: skip
        parts.append(_shape(puff, "#EDEFE6", opacity=0.75 if not night else 0.25))
    if night:
        parts.append('<circle cx="1180" cy="150" r="58" fill="#FFFFFF"/>')
    return "".join(parts)


def _hills() -> str:
    far: Points = [
        (0, 430),
        (260, 360),
        (560, 430),
        (900, 350),
        (1290, 440),
        (1640, 340),
        (1920, 400),
        (1920, 660),
        (0, 660),
    ]
    near: Points = [
        (0, 520),
        (330, 470),
        (700, 540),
        (1040, 520),
        (1420, 480),
        (1920, 540),
        (1920, 680),
        (0, 680),
    ]
    return _shape(far, "#86A3A2", (0, 6, 7, 8)) + _shape(near, "#6D8F79", (0, 5, 6, 7))


def _town(night: bool) -> str:
    parts = []
    walls = ("#D9C3A0", "#C98F6B", "#B8B7A8", "#D8D2BE", "#A9785A")
    for i in range(22):
        x, wide = 30 + i * 88 + (i * 37) % 31, 62 + (i * 53) % 34
        tall = 54 + (i * 71) % 66
        top = 620 - tall
        parts.append(_box(x, top, wide, tall, walls[i % 5]))
        parts.append(
            _shape([(x - 7, top), (x + wide / 2, top - 34), (x + wide + 7, top)], "#7A4B44", (0, 1, 2))
        )
        for k in range(2):
            pane = "#FFFFFF" if night and (i + k) % 3 else "#5D7480"
            parts.append(_box(x + 12 + k * (wide - 38), top + 16, 13, 17, pane))
    return "".join(parts)


def _sea(night: bool) -> str:
    parts = [_box(0, 616, WIDTH, 464, "url(#sea)")]
    for i in range(64):
        x, y = (i * 311) % 1920, 634 + (i * i * 7) % 210
        wide = 30 + (y - 620) * 0.35
        parts.append(_shape([(x, y), (x + wide / 2, y - 3), (x + wide, y),
                             (x + wide / 2, y + 3)], "#A9CBCB", (0, 2),
                            0.3 if night else 0.6))  # fmt: skip
    for x, y, size, color in (
        (230, 690, 1.0, "#8B4A3C"),
        (1130, 668, 0.8, "#3F5E78"),
        (1790, 720, 1.2, "#6F7F55"),
    ):
        hull = [
            (x - 90 * size, y),
            (x + 96 * size, y - 6),
            (x + 66 * size, y + 34 * size),
            (x - 66 * size, y + 34 * size),
        ]
        parts.append(_shape(hull, color, (0, 1)) + _box(x - 3, y - 120 * size, 6, 120 * size, "#5A4636"))
        sail = [(x + 6, y - 116 * size), (x + 74 * size, y - 22 * size), (x + 6, y - 16 * size)]
        parts.append(_shape(sail, "#E4DCC6", (0, 1, 2)))
    return "".join(parts)


def _quay() -> str:
    ground: Points = [(0, 930), (420, 886), (980, 900), (1500, 880), (1920, 920), (1920, 1080), (0, 1080)]
    blades = []
    for i in range(150):
        x, y = (i * 197) % 1920, 915 + (i * 89) % 160
        blades.append(_shape([(x, y), (x + 5, y - 26), (x + 9, y)], "#4E6B3E", (0, 1, 2), 0.6))
    return _shape(ground, "url(#grass)", (0, 4, 5, 6)) + "".join(blades)


def _post() -> str:
    return (
        _box(1478, 752, 76, 328, "#6B5646")
        + _box(1466, 742, 100, 24, "#836B57")
        + _box(1532, 766, 22, 314, "#584638")
    )


def _rail() -> str:
    rail = _box(1090, 838, 830, 22, "#836B57") + _box(1090, 856, 830, 8, "#584638")
    posts = "".join(_box(x, 838, 34, 242, "#6B5646") for x in (1130, 1420, 1710))
    bracket = (
        _box(1786, 120, 30, 760, "#3E4650")
        + _box(1690, 128, 110, 16, "#3E4650")
        + _box(1694, 140, 10, 40, "#3E4650")
    )
    return rail + posts + bracket
