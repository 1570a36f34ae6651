"""Every look of several color models at once, as arrays: base colors, each condition, each level's mix."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb_to_linear
from cel_check.model.colormodel import ColorModel, ModelColor, Variant
from cel_check.model.resolve import palette_for

Floats = NDArray[np.float64]

BASE = ""
"""Name of the look in which every color has its base value."""

_NO_LEVEL = 0  # levels count from 1: no mix is graded for this one


@dataclass(frozen=True, eq=False)
class Looks:
    """The colors of several models in every look.

    Attributes:
        models: the models, each once.
        names: of the looks: `BASE`, `night`, `level mix 2` ...; the base colors come first.
        conditions: how many of the looks after the first are conditions; the rest are level mixes.
        colors: every color of every model, with its base values, in file order.
        owner: `(colors,)` index of each color's model.
        lab: `(looks, colors, 3)` CIE L*a*b*, D65; a color that a look does not name keeps its base value.
        rgb: `(looks, colors, 3)` uint8 sRGB.
        named: `(looks, colors)` whether the look itself names the color; all True for the base colors.
        has: `(looks, colors)` whether the color's model has the look; all True for the base colors.
    """

    models: tuple[ColorModel, ...]
    names: tuple[str, ...]
    conditions: int
    colors: tuple[ModelColor, ...]
    owner: NDArray[np.int64]
    lab: Floats
    rgb: NDArray[np.uint8]
    named: NDArray[np.bool_]
    has: NDArray[np.bool_]

    @cached_property
    def linear(self) -> Floats:
        """`(looks, colors, 3)` linear sRGB, 0 to 1."""
        return srgb_to_linear(self.rgb / 255.0)

    @cached_property
    def tolerance(self) -> Floats:
        """`(colors,)` ΔE00 allowed."""
        return np.array([color.tolerance for color in self.colors])

    def name(self, color: int) -> str:
        """Return a color's name, with its paint number where it has one: `Coat (R-31)`."""
        one = self.colors[color]
        return f"{one.name} ({one.paint})" if one.paint else one.name

    def character(self, color: int) -> str:
        """Return the character whose model a color is of."""
        return self.models[int(self.owner[color])].character

    def key(self, color: int) -> tuple[str, str]:
        """Return the model's key and the color's id."""
        return self.colors[color].model, self.colors[color].id

    def hex(self, look: int, color: int) -> str:
        """Return the color in a look as `#RRGGBB`."""
        return "#{:02X}{:02X}{:02X}".format(*self.rgb[look, color].tolist())


def looks_of(models: Sequence[ColorModel]) -> Looks:
    """Return the colors of models in every look that any of them has.

    Raises:
        BadInput: where two different models have one key.
    """
    models = tuple(dict.fromkeys(models))
    base = palette_for(models, None, _NO_LEVEL).colors
    conditions = _names([model.conditions for model in models])
    mixes = _names([model.level_mixes for model in models])
    palettes = [base]
    palettes += [palette_for(models, condition, _NO_LEVEL).colors for condition in conditions]
    palettes += [palette_for(models, None, int(level)).colors for level in mixes]
    changed = [{}, *(_changed(models, "conditions", name) for name in conditions)]
    changed += [_changed(models, "level_mixes", name) for name in mixes]
    named = np.array([[(c.model, c.id) in per.get(c.model, ()) for c in base] for per in changed], bool)
    has = np.array([[c.model in per for c in base] for per in changed], bool)
    named[0], has[0] = True, True
    return Looks(
        models=models,
        names=(BASE, *conditions, *(f"level mix {level}" for level in mixes)),
        conditions=len(conditions),
        colors=base,
        owner=np.repeat(np.arange(len(models)), [len(model.colors) for model in models]),
        lab=np.array([[c.lab for c in colors] for colors in palettes], np.float64).reshape(
            len(palettes), len(base), 3
        ),
        rgb=np.array([[c.srgb for c in colors] for colors in palettes], np.uint8).reshape(
            len(palettes), len(base), 3
        ),
        named=named,
        has=has,
    )


def _names(variants: Sequence[Sequence[Variant]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(variant.name for own in variants for variant in own))


def _changed(models: Sequence[ColorModel], kind: str, name: str) -> dict[str, frozenset[tuple[str, str]]]:
    """Return by model the colors that a look names; a model that lacks the look is not in it."""
    found: dict[str, frozenset[tuple[str, str]]] = {}
    for model in models:
        for variant in getattr(model, kind):
            if variant.name == name:
                found[model.key] = frozenset((model.key, color) for color, _ in variant.colors)
    return found


def in_look(name: str) -> str:
    """Return ` in night`, or nothing for the base colors."""
    return f" in {name}" if name else ""
