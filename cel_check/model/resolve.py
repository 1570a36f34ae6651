"""Turns color models into the palette that holds for one condition and one level.

What a color is, in order of precedence:

1. what the scene's condition says, where it names the color;
2. what the level's mix says, where it names the color: a mix is graded from the base color, so it does not
   hold for a color that the condition has repainted (a note says so);
3. the base color.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from cel_check.errors import BadInput, Problem
from cel_check.model.colormodel import ColorModel, DeclaredColor, ModelColor, Palette, Swatch, Variant
from cel_check.model.tomlfile import near, shown
from cel_check.settings import DEFAULTS


@dataclass(frozen=True)
class _Changes:
    """What a condition and a level's mix make of one model; a color that neither names is not in them."""

    condition: dict[str, Swatch]
    level_mix: dict[str, Swatch]


def palette_for(models: Sequence[ColorModel], condition: str | None, level_index: int) -> Palette:
    """Resolve the colors of all of a level's models for a condition and a level.

    Args:
        models: the level's models; a model that is named twice counts once.
        condition: the scene's condition, or None for the base colors.
        level_index: the level's place, 1 at the bottom.

    Returns:
        The colors, with the program's tolerance where neither color nor model names one. A model that lacks
        the condition keeps its base colors; the palette's notes say which.

    Raises:
        BadInput: where no model has the condition, or two different models have one key.
    """
    distinct = tuple(dict.fromkeys(models))
    _refuse_same_keys(distinct)
    _refuse_unknown_condition(distinct, condition)
    notes = (note for model in distinct for note in _notes(model, condition, level_index))
    colors = _colors(tuple(map(_Source, distinct)), condition, level_index)
    return Palette(colors, tuple(model.character for model in distinct), tuple(notes))


class _Source:
    """A model that is known again by holding the very same colors under the same key.

    The scenes of an episode share what was read once, and differ in the path that they name it by.
    """

    def __init__(self, model: ColorModel) -> None:
        self.model = model
        self._held = (model.colors, model.conditions, model.level_mixes)
        self._said = (model.key, model.tolerance)

    def __hash__(self) -> int:
        return hash((self._said, *map(id, self._held)))

    def __eq__(self, other: object) -> bool:
        return (
            isinstance(other, _Source)
            and self._said == other._said
            and all(one is two for one, two in zip(self._held, other._held, strict=True))
        )


@lru_cache(maxsize=256)
def _colors(sources: tuple[_Source, ...], condition: str | None, level_index: int) -> tuple[ModelColor, ...]:
    return tuple(
        _resolved(source.model, color, changes)
        for source in sources
        for changes in [_changes(source.model, condition, level_index)]
        for color in source.model.colors
    )


def _changes(model: ColorModel, condition: str | None, level_index: int) -> _Changes:
    return _Changes(_named(model.conditions, condition), _named(model.level_mixes, str(level_index)))


def _named(variants: Iterable[Variant], name: str | None) -> dict[str, Swatch]:
    return dict(next((variant.colors for variant in variants if variant.name == name), ()))


def _has(model: ColorModel, condition: str) -> bool:
    return any(variant.name == condition for variant in model.conditions)


def _refuse_same_keys(models: Iterable[ColorModel]) -> None:
    files: dict[str, str] = {}
    for model in models:
        if model.key in files:
            wrong = f"another model is called {shown(model.key)} too: {files[model.key]}"
            mend = "Rename one of the two files, since reports name a model by its file's name."
            raise BadInput(Problem(model.file, "", wrong, mend))
        files[model.key] = model.file


def _refuse_unknown_condition(models: Sequence[ColorModel], condition: str | None) -> None:
    if condition is None or not models or any(_has(model, condition) for model in models):
        return
    known = dict.fromkeys(variant.name for model in models for variant in model.conditions)
    listed = f"The conditions there are {', '.join(known)}." if known else "They have no conditions at all."
    files = ", ".join(model.file for model in models)
    wrong = f"no model has the condition {shown(condition)}"
    raise BadInput(Problem(files, "", wrong, f"{near(condition, known)}{listed}"))


def _resolved(model: ColorModel, color: DeclaredColor, changes: _Changes) -> ModelColor:
    swatch = changes.condition.get(color.id) or changes.level_mix.get(color.id) or color.swatch
    allowed = (color.tolerance, model.tolerance, DEFAULTS.tolerance)
    return ModelColor(
        id=color.id,
        name=color.name,
        use=color.use,
        srgb=swatch.srgb,
        lab=swatch.lab,
        tolerance=next(tolerance for tolerance in allowed if tolerance is not None),
        paint=color.paint,
        model=model.key,
    )


def _notes(model: ColorModel, condition: str | None, level_index: int) -> Iterator[str]:
    if condition is not None and not _has(model, condition):
        yield f"{model.file} has no condition {shown(condition)}: its base colors hold."
    changes = _changes(model, condition, level_index)
    both = [color for color in changes.level_mix if color in changes.condition]
    if both:
        listed = ", ".join(both)
        yield (
            f"{model.file}: level mix {level_index} and condition {shown(condition)} both name {listed}: "
            "the condition's colors hold."
        )
