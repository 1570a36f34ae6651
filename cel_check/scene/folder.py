"""Loads a scene folder: `scene.toml`, the sheet, the levels and their color models; no picture is opened.

The order of the levels comes from the sheet's columns; levels without a column follow in the order of
scene.toml, then by name. Everything wrong with any of the files is told at once.
"""

import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cel_check.errors import BadInput, Problem
from cel_check.model.colormodel import Palette
from cel_check.scene.levels import FoundFolder, FoundLevel, find_levels
from cel_check.scene.names import listed, near_name, relative_to, shown
from cel_check.scene.palettes import LevelModels, Models, Resolved, read_models, resolve
from cel_check.scene.scan_terms import ScanTerms, scan_notes, scan_terms, widened
from cel_check.scene.scene import Level, Scene
from cel_check.scene.sheet import FILE_NAME as SHEET_NAME
from cel_check.scene.sheet import Sheet, read_sheet
from cel_check.scene.toml import FILE_NAME as TOML_NAME
from cel_check.scene.toml import WITHOUT_FILE, SceneTable, SceneToml, over, read_scene_toml

NO_SHEET = (
    "There is no exposure sheet: every drawing was checked once, in number order, and no frame was looked at "
    "for flashes."
)


@dataclass(frozen=True)
class _Parts:
    """What was read from a scene folder, before the models are resolved."""

    keys: SceneToml
    found: FoundFolder
    sheet: Sheet | None
    models: Models
    scan: ScanTerms | None


def load_scene(folder: Path, models: Sequence[Path], defaults: SceneToml = WITHOUT_FILE) -> Scene:
    """Load a scene folder.

    Args:
        folder: the scene folder, as the user wrote it.
        models: color models that replace those of scene.toml for every level; empty to use scene.toml's.
        defaults: an episode's keys, for those that scene.toml does not name; paths relative to the scene.

    Raises:
        BadInput: with every problem of scene.toml, the sheet and the models.
    """
    parts = _read(folder, models, defaults)
    keys = parts.keys.scene
    resolved = resolve(parts.models, keys.condition, str(folder / TOML_NAME))
    drawings = {level.name: level.drawings for level in parts.found.levels}
    return Scene(
        folder=folder,
        name=folder_name(folder),
        number=keys.number or folder_name(folder),
        source=keys.source,
        condition=keys.condition,
        fps=keys.fps,
        field=keys.field,
        background=_background(folder, keys),
        levels=tuple(
            Level(wanted.level, drawings[wanted.level], _palette(palette, parts.scan), references, base)
            for wanted, palette, references, base in zip(
                parts.models.levels, resolved.palettes, resolved.references, resolved.bases, strict=True
            )
        ),
        sheet=parts.sheet,
        models=tuple((character, relative_to(file, folder)) for character, file in resolved.used),
        notes=_notes(folder, parts) + resolved.notes,
        scan=parts.scan,
        sources=_sources(folder, parts, resolved),
    )


def _read(folder: Path, models: Sequence[Path], defaults: SceneToml) -> _Parts:
    """Read everything but the pictures, and tell everything wrong with it at once."""
    _require_folder(folder)
    problems: list[Problem] = []
    keys = _scene_keys(folder, defaults, problems)
    found = find_levels(folder, keys.scene.background)
    if not found.levels:
        problems.append(_no_drawings(folder))
    sheet = _sheet(folder, found.levels, problems)
    problems += _level_problems(folder, keys, found.levels)
    order = level_order(tuple(level.name for level in found.levels), sheet, tuple(keys.level))
    read = _models(folder, keys, order, models, problems)
    scan = _scan(folder, keys, problems)
    if problems:
        raise BadInput(*problems)
    return _Parts(keys, found, sheet, read, scan)


def _scan(folder: Path, keys: SceneToml, problems: list[Problem]) -> ScanTerms | None:
    if keys.scene.source != "scan":
        return None
    try:
        return scan_terms(folder, keys.scan)
    except BadInput as error:
        problems += error.problems
        return None


def _palette(palette: Palette, scan: ScanTerms | None) -> Palette:
    return palette if scan is None else widened(palette, scan)


def folder_name(folder: Path) -> str:
    """Return the folder's own name, also where it was written as `.` or with a trailing `..`."""
    return folder.resolve().name or "scene"


def level_order(found: tuple[str, ...], sheet: Sheet | None, named: tuple[str, ...]) -> tuple[str, ...]:
    """Return the level folders from bottom to top.

    The sheet's columns come first. The order of scene.toml counts where it names all the others: a table for
    one level alone, for its models, says nothing of the level's place. Else levels go by name.
    """
    called = tuple(level for level in sheet.levels if level in found) if sheet else ()
    rest = tuple(level for level in found if level not in called)
    in_toml = tuple(level for level in named if level in rest)
    return called + (in_toml if len(in_toml) == len(rest) else rest)


def _require_folder(folder: Path) -> None:
    if folder.is_dir():
        return
    if folder.exists():
        mend = "Give the scene's folder; for loose pictures use `cel-check cel`."
        raise BadInput(Problem(str(folder), "", "it is a file, not a scene folder", mend))
    raise BadInput(Problem(str(folder), "", "there is no such folder", "Check the path for a slip."))


def _scene_keys(folder: Path, defaults: SceneToml, problems: list[Problem]) -> SceneToml:
    path = folder / TOML_NAME
    keys = WITHOUT_FILE
    if os.path.lexists(path):
        try:
            keys = read_scene_toml(path)
        except BadInput as error:
            problems += error.problems
    return over(keys, defaults)


def _no_drawings(folder: Path) -> Problem:
    mend = "Put each level's pictures into a sub-folder that bears the level's name, as in A/A-0001.png."
    return Problem(str(folder), "", "there are no drawings in it", mend)


def _sheet(folder: Path, levels: Sequence[FoundLevel], problems: list[Problem]) -> Sheet | None:
    path = folder / SHEET_NAME
    if not os.path.lexists(path):
        return None
    try:
        return read_sheet(path, tuple(level.name for level in levels))
    except BadInput as error:
        problems += error.problems
        return None


def _level_problems(folder: Path, keys: SceneToml, found: Sequence[FoundLevel]) -> list[Problem]:
    names = tuple(level.name for level in found)
    problems = []
    for level in keys.level:
        if level not in names:
            wrong = f"there is no folder {shown(level)} with drawings"
            mend = f"{near_name(level, names)}Levels found: {listed(names) or 'none'}."
            problems.append(Problem(str(folder / TOML_NAME), f"key level.{shown(level)}", wrong, mend))
    return problems


def _models(
    folder: Path, keys: SceneToml, order: Sequence[str], given: Sequence[Path], problems: list[Problem]
) -> Models:
    toml_file = str(folder / TOML_NAME)
    wanted = tuple(_level_models(folder, keys, level, given) for level in order)
    # A scene.toml that cannot be read names no model either: that need not be said.
    read = all(problem.file != toml_file for problem in problems)
    if read and (without := tuple(shown(level.level) for level in wanted if not level.paths)):
        verb = "levels {} have" if len(without) > 1 else "level {} has"
        mend = 'Name one under [scene], as in models = ["../../palettes/tilda.toml"], or give --model.'
        problems.append(Problem(toml_file, "", f"{verb.format(listed(without))} no color model", mend))
    return read_models(wanted, problems)


def _level_models(folder: Path, keys: SceneToml, level: str, given: Sequence[Path]) -> LevelModels:
    if given:
        return LevelModels(level, tuple(given), "--model")
    table = keys.level.get(level)
    key, names = ("scene.models", keys.scene.models)
    if table is not None and table.models:
        key, names = (f"level.{level}.models", table.models)
    return LevelModels(level, tuple(folder / name for name in names), f"{folder / TOML_NAME}, key {key}")


def _background(folder: Path, keys: SceneTable) -> str | None:
    if keys.background is None or not (folder / keys.background).is_file():
        return None
    return relative_to(folder / keys.background, folder)


def _sources(folder: Path, parts: _Parts, resolved: Resolved) -> tuple[str, ...]:
    keys = parts.keys
    paths = [file for _, file in resolved.used]
    paths += [path for references in resolved.references for path in references]
    paths += [folder / keys.scan.profile] if keys.scan is not None and keys.scan.profile is not None else []
    paths += [folder / keys.scene.background] if keys.scene.background is not None else []
    return tuple(dict.fromkeys(_from(folder, path) for path in paths))


def _from(folder: Path, path: Path) -> str:
    """Return a path as it goes on from the folder; an absolute one where an option names it."""
    return str(path.relative_to(folder) if path.is_relative_to(folder) else path.absolute())


def _notes(folder: Path, parts: _Parts) -> tuple[str, ...]:
    keys = parts.keys
    notes = [*parts.found.notes, *(parts.sheet.notes if parts.sheet else (NO_SHEET,))]
    if keys.scene.background is not None and _background(folder, keys.scene) is None:
        notes.append(f"The background {shown(keys.scene.background)} is not there.")
    if keys.scan is not None and keys.scene.source != "scan":
        notes.append("scene.toml has a [scan] table, which a digital scene does not use.")
    notes += () if parts.scan is None else scan_notes(parts.scan)
    return tuple(notes)
