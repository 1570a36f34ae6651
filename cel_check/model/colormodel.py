"""A color model as its file declares it, and as the checks use it: resolved for a condition and a level."""

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path


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
        notes: what a person should know about how the colors were resolved, one sentence each.
    """

    colors: tuple[ModelColor, ...]
    characters: tuple[str, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Swatch:
    """A color without a name.

    Attributes:
        srgb: 8-bit sRGB, clipped to the gamut.
        lab: CIE L*a*b*, D65 white, 2 degree observer; not clipped.
        in_gamut: False where no 8-bit sRGB color shows it.
    """

    srgb: tuple[int, int, int]
    lab: Lab
    in_gamut: bool = True


@dataclass(frozen=True)
class DeclaredColor:
    """One `[[color]]` of a model's file, as it holds without condition or level mix.

    Attributes:
        id: unique in its model.
        name: what the shop calls it.
        use: paint, ink or both.
        swatch: the base color.
        tolerance: the ΔE00 the color itself allows, or None where it names none.
        paint: the paint shop's number, or None.
    """

    id: str
    name: str
    use: Use
    swatch: Swatch
    tolerance: float | None
    paint: str | None


@dataclass(frozen=True)
class Variant:
    """The colors that a condition (`night`) or a level mix (`2`) changes.

    Attributes:
        name: the condition's name, or the level's number counted from the bottom.
        colors: pairs of a color's id and what it becomes, in file order.
    """

    name: str
    colors: tuple[tuple[str, Swatch], ...]


@dataclass(frozen=True)
class ColorModel:
    """A whole color model file.

    Attributes:
        key: the stem of the file's name.
        file: the path as the user wrote it, for messages.
        character: whom or what the model is for.
        show: the show's name, or None.
        tolerance: the ΔE00 for colors that name none, or None.
        references: absolute paths of painted model cels known to be right; some may be missing (see `notes`).
        colors: the base colors, in file order.
        conditions: what each condition changes.
        level_mixes: what each level changes.
        sha256: hex digest of the file's bytes.
        notes: what a person should know though nothing is wrong, one sentence each.
    """

    key: str
    file: str
    character: str
    show: str | None
    tolerance: float | None
    references: tuple[Path, ...]
    colors: tuple[DeclaredColor, ...]
    conditions: tuple[Variant, ...]
    level_mixes: tuple[Variant, ...]
    sha256: str
    notes: tuple[str, ...] = ()
