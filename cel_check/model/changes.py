"""What changed between two versions of a color model: which colors, by how much, in which looks."""

from collections.abc import Iterator
from dataclasses import dataclass

from cel_check.color.difference import ciede2000
from cel_check.model.colormodel import ColorModel, DeclaredColor, ModelColor
from cel_check.model.looks import BASE, looks_of


@dataclass(frozen=True)
class Change:
    """One difference between two versions of a model.

    Attributes:
        color: id of the color; empty where the model as a whole is meant.
        name: what the shop calls it.
        what: `added`, `removed`, `color`, `tolerance`, `paint`, `use` or `name`.
        look: the look in which the color differs; empty for the base colors.
        old: the old value as text; empty where there is none.
        new: the new value as text.
        delta_e: CIEDE2000 between two colors, or None where no color is meant.
    """

    color: str
    name: str
    what: str
    look: str
    old: str
    new: str
    delta_e: float | None = None

    def line(self) -> str:
        """Return the change as one line for a person."""
        place = f"{self.name} in {self.look}" if self.look else self.name
        if self.what in ("added", "removed"):
            return f"{place}: {self.what} ({self.old or self.new})"
        by = f", {self.delta_e:.2f} ΔE00" if self.delta_e is not None else ""
        what = "" if self.what == "color" else f"{self.what} "
        return f"{place}: {what}{self.old or 'none'} → {self.new or 'none'}{by}"


def changes_between(old: ColorModel, new: ColorModel) -> tuple[Change, ...]:
    """Return what changed from one version of a model to another, in the new one's order.

    Colors are matched by id. A color that a condition or a level's mix does not name has its base value
    there, and is told of where that makes a difference of its own.
    """
    before = {color.id: color for color in old.colors}
    after = {color.id: color for color in new.colors}
    changes: list[Change] = []
    for color in new.colors:
        if color.id not in before:
            changes.append(Change(color.id, color.name, "added", "", "", _hex(color)))
    changes += [
        Change(color.id, color.name, "removed", "", _hex(color), "")
        for color in old.colors
        if color.id not in after
    ]
    changes += _words(old, new)
    changes += _colors(old, new)
    return tuple(changes)


def _hex(color: DeclaredColor) -> str:
    return "#{:02X}{:02X}{:02X}".format(*color.swatch.srgb)


def _words(old: ColorModel, new: ColorModel) -> Iterator[Change]:
    """Yield changes of what is no color: tolerances as they hold, paint numbers, uses, names."""
    before = {color.id: color for color in looks_of((old,)).colors}
    for color in looks_of((new,)).colors:
        if color.id not in before:
            continue
        was = before[color.id]
        values = (
            ("name", was.name, color.name),
            ("use", was.use.value, color.use.value),
            ("paint", was.paint or "", color.paint or ""),
            ("tolerance", f"{was.tolerance:g}", f"{color.tolerance:g}"),
        )
        yield from (
            Change(color.id, color.name, what, "", one, other) for what, one, other in values if one != other
        )


def _colors(old: ColorModel, new: ColorModel) -> Iterator[Change]:
    """Yield the colors that differ in each look; where one follows its base, that is told once."""
    before, after = (_values(model) for model in (old, new))
    for look in dict.fromkeys((*after, *before)):
        for color, is_now in after.get(look, after[BASE]).items():
            was = before.get(look, before[BASE]).get(color)
            if was is None or (was.srgb == is_now.srgb and was.lab == is_now.lab):
                continue
            base = (before[BASE][color].lab, after[BASE][color].lab)
            if look != BASE and base == (was.lab, is_now.lab):
                continue
            yield Change(
                color, is_now.name, "color", look, was.hex, is_now.hex, float(ciede2000(was.lab, is_now.lab))
            )


def _values(model: ColorModel) -> dict[str, dict[str, ModelColor]]:
    """Return every look's colors by id."""
    looks = looks_of((model,))
    return {
        name: {
            color.id: _at(color, looks.rgb[look, number].tolist(), looks.lab[look, number].tolist())
            for number, color in enumerate(looks.colors)
        }
        for look, name in enumerate(looks.names)
    }


def _at(color: ModelColor, rgb: list[int], lab: list[float]) -> ModelColor:
    return ModelColor(
        color.id, color.name, color.use, (rgb[0], rgb[1], rgb[2]), (lab[0], lab[1], lab[2]),
        color.tolerance, color.paint, color.model,
    )  # fmt: skip
