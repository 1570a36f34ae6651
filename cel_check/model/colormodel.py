"""A color model as the checks use it: resolved for one condition and one level."""

from dataclasses import dataclass
from enum import StrEnum


class Use(StrEnum):
    """What a color of a model is for."""

    PAINT = "paint"
    INK = "ink"
    BOTH = "both"


Lab = tuple[float, float, float]


@dataclass(frozen=True)
class ModelColor:
    """One color of a model as it holds for a condition and a level.

    Attributes:
        id: unique in its model.
        name: what the shop calls it.
        use: paint, ink or both.
        srgb: 8-bit sRGB (rounded, and clipped to the gamut where it was declared in Lab or XYZ).
        lab: CIE L*a*b*, D65 white, 2 degree observer: adapted (Bradford) where declared under D50.
        tolerance: the ΔE00 allowed.
        paint: the paint shop's number, or None.
        model: key of the model it belongs to (the stem of the model's file).
    """

    id: str
    name: str
    use: Use
    srgb: tuple[int, int, int]
    lab: Lab
    tolerance: float
    paint: str | None
    model: str

    @property
    def hex(self) -> str:
        """The color as `#RRGGBB`."""
        return "#{:02X}{:02X}{:02X}".format(*self.srgb)


@dataclass(frozen=True)
class Palette:
    """The colors that a level's cels are held against: those of all its models, in file order.

    Attributes:
        colors: every color, resolved.
        characters: the characters' names, for messages.
    """

    colors: tuple[ModelColor, ...]
    characters: tuple[str, ...]
