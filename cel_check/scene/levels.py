"""Looks through a scene folder for its levels and their drawings, without opening a picture.

Links are followed only where they stay inside the scene folder; folders are read one deep, so a loop of links
has nothing to loop through; fifos and devices are listed and never opened.
"""

import stat
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cel_check.errors import BadInput, Problem
from cel_check.scene.names import (
    PICTURE_ENDINGS,
    after_number,
    listed,
    number_in_stem,
    number_order,
    same_name,
    shown,
)
from cel_check.scene.scene import DrawingFile

NEVER_LEVELS = frozenset({"check", "bg", "background", "backgrounds"})
"""Sub-folders that hold the report or the background, by `same_name`."""
# Files that stand beside drawings and are no art, whatever number is in their name.
_NO_ART = frozenset(
    {
        ".bak",
        ".csv",
        ".db",
        ".html",
        ".ini",
        ".json",
        ".log",
        ".md",
        ".pdf",
        ".tmp",
        ".toml",
        ".txt",
        ".xml",
        ".zip",
        "",
    }
)
_REPORT = "report.json"


@dataclass(frozen=True)
class FoundLevel:
    """A sub-folder that holds drawings, and the endings of files that look like art but are not read."""

    name: str
    drawings: tuple[DrawingFile, ...]
    unread: tuple[str, ...] = ()


@dataclass(frozen=True)
class FoundFolder:
    """The levels of a scene folder in name order, and notes for the report."""

    levels: tuple[FoundLevel, ...]
    notes: tuple[str, ...]


def find_levels(folder: Path, background: str | None) -> FoundFolder:
    """Find the levels of a scene folder.

    Args:
        folder: the scene folder.
        background: the background's path as in scene.toml: a folder that holds nothing else is not a level.

    Raises:
        BadInput: where a folder cannot be listed.
    """
    root = folder.resolve()
    levels, notes = [], []
    loose = 0
    behind = _resolved(folder / background) if background else None
    for name in _names(folder):
        path = folder / name
        if not path.is_dir():
            loose += Path(name).suffix.lower() in PICTURE_ENDINGS
        elif not _inside(path, root):
            notes.append(f"{shown(name)} is a link to outside the scene folder and was not followed.")
        elif same_name(name) not in NEVER_LEVELS:
            levels.append(_level(path, name, root))
    found = tuple(level for level in levels if level.unread or _holds_cels(level, behind))
    notes += [_unread_note(level) for level in found if level.unread]
    if loose and found:
        count = f"{loose} pictures that lie" if loose > 1 else "A picture that lies"
        notes.append(f"{count} beside the level folders {'were' if loose > 1 else 'was'} not checked.")
    return FoundFolder(tuple(level for level in found if level.drawings), tuple(notes))


def _names(folder: Path) -> list[str]:
    try:
        return sorted(path.name for path in folder.iterdir() if not path.name.startswith("."))
    except OSError as error:
        reason = error.strerror or type(error).__name__
        mend = "Give yourself the right to read it."
        raise BadInput(Problem(str(folder), "", f"the folder cannot be read ({reason})", mend)) from None


def _inside(path: Path, root: Path) -> bool:
    if not path.is_symlink():
        return True
    try:
        return path.resolve(strict=True).is_relative_to(root)
    except (OSError, RuntimeError):  # RuntimeError: a loop of links, before Python 3.13
        return False


def _resolved(path: Path) -> Path | None:
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError):
        return None


def _holds_cels(level: FoundLevel, background: Path | None) -> bool:
    return any(_resolved(drawing.path) != background for drawing in level.drawings)


def _level(path: Path, name: str, root: Path) -> FoundLevel:
    names = _names(path)
    if _REPORT in names:  # an earlier report, written to a folder inside the scene
        return FoundLevel(name, ())
    files = [
        _drawing_file(path / entry, f"{name}/{entry}", root)
        for entry in names
        if Path(entry).suffix.lower() in PICTURE_ENDINGS
    ]
    return FoundLevel(name, in_number_order(files), _unread_endings(names))


def _drawing_file(path: Path, file: str, root: Path) -> DrawingFile:
    drawing = number_in_stem(path.stem) or path.name
    try:
        found = path.lstat()  # one question for what is no link, where an episode has ten thousand files
    except OSError:
        return DrawingFile(drawing, file, path, 0)
    if not stat.S_ISLNK(found.st_mode):
        return DrawingFile(drawing, file, path, found.st_size)
    return DrawingFile(drawing, file, path, size_of(path), outside=not _stays(path, root))


def size_of(path: Path) -> int:
    """Return a file's size in bytes, 0 where it cannot be told."""
    try:
        return path.stat().st_size
    except (OSError, RuntimeError):
        return 0


def _stays(path: Path, root: Path) -> bool:
    """Return whether a file lies inside `root`; a link that leads nowhere does, since nothing is opened."""
    return not path.exists() or _inside(path, root)


def in_number_order(files: Sequence[DrawingFile]) -> tuple[DrawingFile, ...]:
    """Sort drawings by number; of files with one number the one with the plainest name keeps it.

    `A-0012.png` goes before `A-0012 copy.png`; else the first by name.
    """
    first: dict[str, str] = {}
    sorted_files = sorted(files, key=_order)
    result = []
    for file in sorted_files:
        owner = first.setdefault(file.drawing, file.path.name)
        twin = owner if file.numbered and owner != file.path.name else ""
        result.append(replace(file, drawing=file.path.name, twin=twin) if twin else file)
    return tuple(result)


def _order(file: DrawingFile) -> tuple[tuple[int, int, str, str], int, str]:
    return number_order(file.drawing), len(after_number(file.path.stem)), file.file


def _unread_endings(names: Sequence[str]) -> tuple[str, ...]:
    endings = []
    for name in names:
        ending = Path(name).suffix.lower()
        if ending not in PICTURE_ENDINGS and ending not in _NO_ART and number_in_stem(Path(name).stem):
            endings.append(ending)
    return tuple(endings)


def _unread_note(level: FoundLevel) -> str:
    count = len(level.unread)
    endings = listed(tuple(shown(ending) for ending in sorted(set(level.unread))))
    files = (
        "file looks like a drawing but has an ending"
        if count == 1
        else "files look like drawings but have endings"
    )
    return f"Level {shown(level.name)}: {count} {files} that cel-check does not read ({endings})."
