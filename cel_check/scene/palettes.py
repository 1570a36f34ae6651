"""The color models of a scene's levels: each file is read once, then resolved for each level."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cel_check.errors import BadInput, Problem
from cel_check.model.colormodel import Palette
from cel_check.model.load import ColorModel, load_model
from cel_check.model.resolve import resolve_palette
from cel_check.scene.names import shown
from cel_check.settings import Settings


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
    """

    palettes: tuple[Palette, ...]
    used: tuple[tuple[str, str], ...]
    notes: tuple[str, ...] = ()


def read_models(wanted: Sequence[LevelModels], problems: list[Problem]) -> Models:
    """Read every model file once; what is wrong with them is added to `problems`."""
    by_path: dict[Path, ColorModel] = {}
    seen: set[Path] = set()
    for level in wanted:
        for path in level.paths:
            if path in seen:
                continue
            seen.add(path)
            if not path.exists():
                place = level.named_in
                wrong = f"it names the color model {shown(str(path))}, which is not there"
                problems.append(Problem(place, "", wrong, "Check the path for a slip."))
                continue
            try:
                by_path[path] = load_model(path)
            except BadInput as error:
                problems += error.problems
    return Models(tuple(wanted), by_path)
