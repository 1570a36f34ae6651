"""The color models of a scene's levels: each file is read once, then resolved for each level."""

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from cel_check.errors import BadInput, Problem
from cel_check.model.colormodel import ColorModel, Palette
from cel_check.model.load import load_model
from cel_check.model.resolve import palette_for
from cel_check.scene.names import listed, near_name, shown

_NO_LEVEL = 0
"""Levels count from 1: this one has no mix."""


@dataclass(frozen=True)
class LevelModels:
    """The model files of one level, and where they are named (a key of scene.toml, or an option)."""

    level: str
    paths: tuple[Path, ...]
    named_in: str


@dataclass(frozen=True)
class Models:
    """The models that could be read: those of each level from the bottom to the top, by path."""

    levels: tuple[LevelModels, ...]
    by_path: dict[Path, ColorModel]


@dataclass(frozen=True)
class Resolved:
    """What the checks hold cels against.

    Attributes:
        palettes: one a level, from the bottom level to the top.
        used: `(character, file)` of every model, in the order of first use.
        notes: what a person should know of the models.
        bases: as `palettes`, without condition and level mix.
        references: the models' reference cels, by level as `palettes`.
    """

    palettes: tuple[Palette, ...]
    used: tuple[tuple[str, Path], ...]
    notes: tuple[str, ...]
    bases: tuple[Palette, ...] = ()
    references: tuple[tuple[Path, ...], ...] = ()


def read_models(wanted: Sequence[LevelModels], problems: list[Problem]) -> Models:
    """Read every model file once; what is wrong with them is added to `problems`."""
    by_path: dict[Path, ColorModel] = {}
    named: dict[Path, str] = {}
    for level in wanted:
        for path in level.paths:
            named.setdefault(path, level.named_in)
    for path, named_in in named.items():
        try:
            if os.path.lexists(path) and not (path.is_file() or path.is_dir()):
                raise BadInput(Problem(str(path), "", "it is no plain file", "Name the color model's file."))
            by_path[path] = _model(path)
        except BadInput as error:
            problems += [_with_place(problem, path, named_in) for problem in error.problems]
    return Models(tuple(wanted), by_path)


def _model(path: Path) -> ColorModel:
    """Read a model's file, or return what was read of it for another scene and has not changed since."""
    try:
        there = path.resolve()
        found = there.stat()
        model = _parsed(there, (found.st_size, found.st_mtime_ns, found.st_ctime_ns))
    except (OSError, RuntimeError, BadInput):
        return load_model(path)  # which says what is wrong, and names the file as it was written
    notes = tuple(note.replace(str(there), str(path)) for note in model.notes)
    return replace(model, key=path.stem, file=str(path), notes=notes)


@lru_cache(maxsize=64)
def _parsed(path: Path, _state: tuple[int, int, int]) -> ColorModel:
    return load_model(path)


def _with_place(problem: Problem, path: Path, named_in: str) -> Problem:
    """Say also where a model is named that is not there, since that line is what must be mended."""
    if os.path.lexists(path):
        return problem
    return replace(problem, mend=f"{problem.mend} It is named in {named_in}.")


def resolve(models: Models, condition: str | None, named_in: str) -> Resolved:
    """Resolve the models of each level for the scene's condition.

    A level whose models lack the condition keeps its base colors, with a note, as long as another level's
    models have it.

    Args:
        models: all of them read.
        condition: the scene's condition, or None for the base colors.
        named_in: where the condition is named, for messages.

    Raises:
        BadInput: where no model has the condition, or two models of one level have one key.
    """
    _require_condition(models, condition, named_in)
    palettes: list[Palette] = []
    notes: list[str] = [note for model in models.by_path.values() for note in model.notes]
    for place, level in enumerate(models.levels, start=1):
        own = [models.by_path[path] for path in level.paths]
        has = condition in _conditions(own)
        if condition is not None and not has:
            notes.append(
                f"Level {shown(level.level)} has no color for {shown(condition)}: its base colors hold."
            )
        palettes.append(palette_for(own, condition if has else None, place))
        notes += palettes[-1].notes
    used = tuple((model.character, path) for path, model in models.by_path.items())
    owned = [[models.by_path[path] for path in level.paths] for level in models.levels]
    bases = tuple(palette_for(own, None, _NO_LEVEL) for own in owned)
    references = tuple(
        tuple(dict.fromkeys(path for model in own for path in model.references)) for own in owned
    )
    return Resolved(tuple(palettes), used, tuple(dict.fromkeys(notes)), bases, references)


def _conditions(models: Iterable[ColorModel]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(variant.name for model in models for variant in model.conditions))


def _require_condition(models: Models, condition: str | None, named_in: str) -> None:
    known = _conditions(models.by_path.values())
    if condition is None or condition in known:
        return
    wrong = f"no color model of the scene has the condition {shown(condition)}"
    there = f"The conditions there are {listed(known)}." if known else "They have no conditions."
    raise BadInput(Problem(named_in, "key scene.condition", wrong, f"{near_name(condition, known)}{there}"))
