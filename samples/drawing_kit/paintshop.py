"""The color models of Signal Hill: base colors by hand, conditions by one law, written as palette files."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from drawing_kit.cel import rgb
from drawing_kit.curves import Array

SHOW = "Signal Hill"

# A condition is one law for every color: linear light through a filter, plus a little of the air's own light.
LAWS: dict[str, tuple[tuple[float, float, float], tuple[float, float, float]]] = {
    "night": ((0.36, 0.44, 0.66), (0.004, 0.008, 0.026)),
    "rain": ((0.66, 0.71, 0.75), (0.030, 0.036, 0.042)),
}


@dataclass(frozen=True)
class Color:
    id: str
    name: str
    use: str
    srgb: str
    paint: str
    tolerance: float | None = None


@dataclass(frozen=True)
class Model:
    """One palette file. `mix` maps a level's number to its own mixes."""

    stem: str
    character: str
    tolerance: float
    colors: tuple[Color, ...]
    mix: Mapping[int, Mapping[str, str]] = field(default_factory=dict)

    def mixed(self, condition: str | None = None, level: int = 1) -> dict[str, str]:
        """Color by id, as it holds for a condition and a level (1 is the bottom level)."""
        colors = {c.id: c.srgb for c in self.colors} | dict(self.mix.get(level, {}))
        return {key: under(condition, value) for key, value in colors.items()} if condition else colors

    @property
    def inks(self) -> frozenset[str]:
        return frozenset(c.id for c in self.colors if c.use == "ink")


def under(condition: str, color: str) -> str:
    """A color under a condition's law (sRGB transfer of IEC 61966-2-1)."""
    filters, air = LAWS[condition]
    lit = linear(np.array(rgb(color)) / 255.0) * filters + air
    return "#{:02X}{:02X}{:02X}".format(*np.round(encoded(lit) * 255.0).astype(int))


def linear(value: Array) -> Array:
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def encoded(value: Array) -> Array:
    return np.where(value <= 0.0031308, value * 12.92, 1.055 * value ** (1 / 2.4) - 0.055)


def _paints(*rows: tuple[str, str, str, str]) -> tuple[Color, ...]:
    return tuple(Color(key, name, "paint", srgb, number) for key, name, srgb, number in rows)


TILDA = Model(
    "tilda",
    "Tilda Brake",
    1.5,
    (
        Color("coat", "Coat", "paint", "#C8553D", "R-31", 1.2),
        *_paints(
            ("coat-shade", "Coat, shade", "#9E3B36", "R-32"),
            ("skin", "Skin", "#F2C9A4", "S-12"),
            ("skin-shade", "Skin, shade", "#DCA27C", "S-14"),
            ("cheek", "Cheek", "#EFA68C", "S-17"),
            ("hair", "Hair", "#7C4526", "H-05"),
            ("hair-shine", "Hair, shine", "#A9693A", "H-06"),
            ("cap", "Cap", "#2F6E78", "T-20"),
            ("cap-band", "Cap, band", "#529A9C", "T-22"),
            ("scarf", "Scarf", "#E6B63A", "Y-08"),
            ("scarf-shade", "Scarf, shade", "#BE8A28", "Y-09"),
            ("button", "Buttons and buckle", "#F6DC8C", "Y-15"),
            ("belt", "Belt", "#5B3A4A", "V-11"),
            ("trousers", "Trousers", "#42577C", "B-27"),
            ("boot", "Boots", "#4A4038", "K-04"),
            ("eye-white", "Eye white and teeth", "#FBF8EF", "W-01"),
            ("iris", "Iris", "#4E8F62", "G-10"),
            ("mouth", "Mouth, inside", "#7D1C33", "R-40"),
            ("tongue", "Tongue", "#DB6F7C", "R-44"),
        ),
        Color("outline", "Outline", "ink", "#1B1722", "I-01"),
        Color("face-line", "Face and hand line", "ink", "#6A2A1C", "I-07"),
    ),
    {2: {"skin": "#F3CBA7", "skin-shade": "#DDA47F", "hair": "#7E4729"}},
)

ROOK = Model(
    "rook",
    "Rook",
    1.5,
    (
        *_paints(
            ("body", "Body", "#F4F2EC", "W-03"),
            ("body-shade", "Body, shade", "#CBD3DE", "W-06"),
            ("wing", "Wing", "#8DA0B4", "B-12"),
            ("wing-tip", "Wing tip", "#434B60", "B-18"),
            ("beak", "Beak", "#F2A93C", "Y-21"),
            ("beak-spot", "Beak spot", "#D9503A", "R-28"),
            ("leg", "Legs", "#E8937A", "R-52"),
            ("rook-cap", "Cap", "#2B4A86", "B-33"),
            ("rook-peak", "Cap, peak and straps", "#5A3B2E", "K-09"),
            ("badge", "Badge and buckle", "#EFD277", "Y-18"),
            ("rook-eye", "Eye", "#FFF0B0", "Y-02"),
            ("satchel", "Satchel", "#9C6238", "N-14"),
            ("satchel-flap", "Satchel, flap", "#BC8350", "N-15"),
            ("rook-mouth", "Mouth, inside", "#A2303F", "R-41"),
        ),
        Color("rook-line", "Outline", "ink", "#191C28", "I-02"),
        Color("body-line", "Body line", "ink", "#65748B", "I-11"),
        Color("beak-line", "Beak and leg line", "ink", "#8A4A17", "I-12"),
        Color("cap-line", "Cap line", "ink", "#12244C", "I-13"),
        Color("satchel-line", "Satchel line", "ink", "#4C2414", "I-14"),
    ),
)

LAMP = Model(
    "lamp",
    "Signal lamp and flag",
    1.5,
    (
        *_paints(
            ("lamp-brass", "Lamp, brass", "#D79A3A", "M-02"),
            ("lamp-brass-shade", "Lamp, brass, shade", "#A06A24", "M-03"),
            ("lamp-glass", "Lamp, glass", "#F4EFC0", "Y-01"),
            ("lamp-flame", "Lamp, flame", "#FF9E2C", "Y-30"),
            ("lamp-base", "Lamp, base", "#6F7F86", "M-10"),
            ("flag-field", "Flag, field", "#F0D24A", "F-01"),
            ("flag-bar", "Flag, bar", "#3568A8", "F-02"),
            ("flag-pole", "Flag, pole", "#8C6B48", "F-05"),
        ),
        Color("lamp-line", "Lamp line", "ink", "#3E2410", "I-21"),
        Color("flag-line", "Flag line", "ink", "#15243F", "I-22"),
    ),
)

MODELS: Sequence[Model] = (TILDA, ROOK, LAMP)


def palette_text(model: Model) -> str:
    """The palette file of a model."""
    lines = ["schema = 1", "", "[model]", f'character = "{model.character}"', f'show      = "{SHOW}"',
             f"tolerance = {model.tolerance}",
             f'reference = ["../samples/{model.stem}-model.png"]']  # fmt: skip
    for c in model.colors:
        lines += ["", "[[color]]", f'id    = "{c.id}"', f'name  = "{c.name}"', f'use   = "{c.use}"']
        lines += [f'srgb  = "{c.srgb}"', f'paint = "{c.paint}"']
        lines += [f"tolerance = {c.tolerance}"] if c.tolerance else []
    for condition in LAWS:
        lines += ["", f"[condition.{condition}]"]
        lines += [f'{key} = "{value}"' for key, value in model.mixed(condition).items()]
    for level, mix in model.mix.items():
        lines += ["", f"[level-mix.{level}]", *(f'{key} = "{value}"' for key, value in mix.items())]
    return "\n".join(lines) + "\n"


def write_palettes(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for model in MODELS:
        (folder / f"{model.stem}.toml").write_text(palette_text(model), encoding="utf-8")
