"""Where models are used: which of them meet in scenes, and which scenes a new version makes stale."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from pathlib import Path

from cel_check.model.colormodel import ColorModel, ModelColor
from cel_check.model.resolve import palette_for
from cel_check.model.together import Pair, Together
from cel_check.scene.scene import Scene


@dataclass(frozen=True)
class Stale:
    """A scene whose cels a new version of a model judges otherwise.

    Attributes:
        scene: its name.
        condition: under which it is painted, or None.
        levels: the levels that use the model and are touched.
        colors: names of the colors that changed for it.
    """

    scene: str
    condition: str | None
    levels: tuple[str, ...]
    colors: tuple[str, ...]


def model_files(scenes: Iterable[Scene]) -> tuple[Path, ...]:
    """Return every model file that scenes use, once, in the order of first use."""
    found: dict[Path, Path] = {}
    for scene in scenes:
        for _, file in scene.models:
            path = scene.folder / file
            found.setdefault(path.resolve(), path)
    return tuple(found.values())


def together_in(
    scenes: Iterable[Scene],
    keys: Mapping[Path, str],
    borders: Mapping[str, frozenset[tuple[str, str]]],
) -> Together:
    """Return how near models come to each other in scenes.

    Args:
        scenes: all scenes of the episode.
        keys: the models' keys by resolved path; files that are not in it are left out.
        borders: by key, the inks and paints that border on each other.
    """
    levels: dict[Pair, dict[str, None]] = {}
    shared: dict[Pair, dict[str, None]] = {}
    for scene in scenes:
        named = _named(scene, keys)
        for pair in combinations(sorted(set(named.values())), 2):
            shared.setdefault(frozenset(pair), {})[scene.name] = None
        for level in scene.levels:
            own = {named[color.model] for color in level.palette.colors if color.model in named}
            for pair in combinations(sorted(own), 2):
                levels.setdefault(frozenset(pair), {})[scene.name] = None
    return Together(
        known=True,
        levels={pair: tuple(names) for pair, names in levels.items()},
        scenes={pair: tuple(names) for pair, names in shared.items()},
        borders=borders,
    )


def _named(scene: Scene, keys: Mapping[Path, str]) -> dict[str, str]:
    """Return by the key that a scene knows a model under, the key among the models that are validated."""
    named = {}
    for _, file in scene.models:
        path = (scene.folder / file).resolve()
        if path in keys:
            named[path.stem] = keys[path]
    return named


def stale_scenes(
    scenes: Iterable[Scene], old: ColorModel, new: ColorModel, files: Sequence[Path]
) -> tuple[Stale, ...]:
    """Return the scenes in which some cel is held against another color than before.

    Args:
        scenes: all scenes of the episode.
        old: the version that the cels were checked with.
        new: the version that holds now.
        files: where the two lie; a scene uses the model where it names either.
    """
    wanted = {path.resolve() for path in files}
    found = []
    for scene in scenes:
        keys = {
            (scene.folder / file).stem
            for _, file in scene.models
            if (scene.folder / file).resolve() in wanted
        }
        touched: list[str] = []
        colors: dict[str, None] = {}
        for place, level in enumerate(scene.levels, start=1):
            if not keys & {color.model for color in level.palette.colors}:
                continue
            changed = _changed(old, new, scene.condition, place)
            if changed:
                touched.append(level.name)
                colors.update(dict.fromkeys(changed))
        if touched:
            found.append(Stale(scene.name, scene.condition, tuple(touched), tuple(colors)))
    return tuple(found)


def _changed(old: ColorModel, new: ColorModel, condition: str | None, place: int) -> tuple[str, ...]:
    """Return the names of the colors that differ on a level, by value, tolerance or use."""
    before, after = (_by_id(model, condition, place) for model in (old, new))
    names = [color.name for key, color in after.items() if key not in before or _differ(before[key], color)]
    return (*names, *(color.name for key, color in before.items() if key not in after))


def _by_id(model: ColorModel, condition: str | None, place: int) -> dict[str, ModelColor]:
    has = any(variant.name == condition for variant in model.conditions)
    return {color.id: color for color in palette_for((model,), condition if has else None, place).colors}


def _differ(one: ModelColor, other: ModelColor) -> bool:
    return (one.lab, one.tolerance, one.use) != (other.lab, other.tolerance, other.use)
