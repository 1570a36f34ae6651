"""Loose pictures as a scene without a sheet, so that they take the same way as any other cel."""

import os
from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from cel_check.errors import BadInput, Problem
from cel_check.scene.levels import in_number_order, size_of
from cel_check.scene.names import number_in_stem, relative_to, shown
from cel_check.scene.palettes import LevelModels, read_models, resolve
from cel_check.scene.scene import DrawingFile, Level, Scene
from cel_check.scene.toml import WITHOUT_FILE


def loose_scene(pictures: Sequence[Path], models: Sequence[Path]) -> Scene:
    """Make a scene of pictures that may lie anywhere; each folder they lie in is a level.

    Args:
        pictures: files, as the user wrote them; links are followed, since the user named them.
        models: color models of all of them.

    Raises:
        BadInput: for pictures that are not there and models that are broken, all at once.
    """
    problems = [problem for picture in pictures for problem in _problems(picture)]
    paths = sorted({picture.absolute() for picture in pictures})
    folder = Path(os.path.commonpath([path.parent for path in paths]))
    by_level = _by_level(paths, folder)
    wanted = tuple(LevelModels(name, tuple(models), "--model") for name in by_level)
    read = read_models(wanted, problems)
    if problems:
        raise BadInput(*dict.fromkeys(problems))
    resolved = resolve(read, None, "")
    levels = tuple(
        Level(name, in_number_order(files), palette)
        for (name, files), palette in zip(by_level.items(), resolved.palettes, strict=True)
    )
    keys = WITHOUT_FILE.scene
    return Scene(
        folder=folder,
        name=folder.name or "pictures",
        number=folder.name or "pictures",
        source=keys.source,
        condition=None,
        fps=keys.fps,
        field=keys.field,
        background=None,
        levels=levels,
        sheet=None,
        models=tuple((character, relative_to(file, folder)) for character, file in resolved.used),
        loose=True,
        notes=resolved.notes,
    )


def _problems(picture: Path) -> list[Problem]:
    if picture.is_dir():
        mend = "Give pictures; for a scene's folder use `cel-check scene`."
        return [Problem(shown(str(picture)), "", "it is a folder, not a picture", mend)]
    if not os.path.lexists(picture):
        return [Problem(shown(str(picture)), "", "there is no such file", "Check the path for a slip.")]
    return []


def _by_level(paths: Sequence[Path], folder: Path) -> dict[str, list[DrawingFile]]:
    by_level: dict[str, list[DrawingFile]] = defaultdict(list)
    for path in paths:
        inside = path.parent.relative_to(folder).as_posix()
        name = inside if inside != "." else folder.name or "pictures"
        by_level[name].append(_drawing_file(path, folder))
    return by_level


def _drawing_file(path: Path, folder: Path) -> DrawingFile:
    drawing = number_in_stem(path.stem) or path.name
    return DrawingFile(drawing, path.relative_to(folder).as_posix(), path, size_of(path))
