"""Loads an episode: which of its sub-folders are scenes, and each scene; no picture is opened.

A scene whose own files are broken stops nothing: it stands in the report as not checked, with what to mend. A
scene that nothing has touched since it was concluded is not loaded.
"""

import os
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from cel_check.episode.concluded import NO_OUTLOOK, Concluded, Outlook
from cel_check.episode.toml import EpisodeToml, defaults_for, read_episode_toml
from cel_check.episode.untouched import Untouched
from cel_check.errors import BadInput, Problem
from cel_check.scene.folder import folder_name, load_scene
from cel_check.scene.levels import NEVER_LEVELS, find_levels
from cel_check.scene.names import near_name, same_name, shown
from cel_check.scene.scene import Scene
from cel_check.scene.sheet import FILE_NAME as SHEET_NAME
from cel_check.scene.toml import FILE_NAME as SCENE_TOML


@dataclass(frozen=True)
class EpisodeScene:
    """One scene of an episode.

    Attributes:
        name: of its folder.
        scene: as loaded; None where nothing is painted yet, where its files are broken, or where it is
            untouched.
        problems: what is broken.
        unread: how many drawings lie in it, where its files are broken.
        untouched: as it was concluded, where nothing has touched it since; else None.
        outlook: how its files looked before it was loaded.
    """

    name: str
    scene: Scene | None
    problems: tuple[Problem, ...] = ()
    unread: int = 0
    untouched: Concluded | None = None
    outlook: Outlook = NO_OUTLOOK

    @property
    def cels(self) -> int:
        """How many drawings can be checked, or are checked already."""
        if self.untouched is not None:
            return len(self.untouched.summary.lines)
        return sum(len(level.drawings) for level in self.scene.levels) if self.scene else 0


@dataclass(frozen=True)
class Episode:
    """An episode as it was found on disk.

    Attributes:
        folder: as the user wrote it.
        name: the folder's own name.
        number: the episode's number (episode.toml, else the folder's name).
        title: its title, or None.
        camera_date: the day by which it must be at camera, or None.
        sequences: names of sequences, each with the folders of its scenes in order.
        scenes: in number order.
        notes: what was found that is no fault.
    """

    folder: Path
    name: str
    number: str
    title: str | None
    camera_date: date | None
    sequences: tuple[tuple[str, tuple[str, ...]], ...]
    scenes: tuple[EpisodeScene, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class FoundEpisode:
    """An episode's folder before any of its scenes is read.

    Attributes:
        folder: as the user wrote it.
        keys: of `episode.toml`.
        paths: the scenes' folders in number order.
        linked: names of links, which are not followed.
    """

    folder: Path
    keys: EpisodeToml
    paths: tuple[Path, ...]
    linked: tuple[str, ...]


def find_episode(folder: Path) -> FoundEpisode:
    """Find an episode's scenes.

    Args:
        folder: any folder whose sub-folders are scenes.

    Raises:
        BadInput: where it is no folder, holds no scene, or episode.toml is broken.
    """
    _require_folder(folder)
    keys = read_episode_toml(folder)
    found, linked = _scene_folders(folder)
    if not found:
        mend = "Put each scene's folder into it; for one scene use `cel-check scene`."
        raise BadInput(Problem(str(folder), "", "there are no scenes in it", mend))
    return FoundEpisode(folder, keys, tuple(found), tuple(linked))


def load_found(found: FoundEpisode, models: Sequence[Path] = (), known: Untouched | None = None) -> Episode:
    """Load an episode's scenes.

    Args:
        found: where they are.
        models: color models that replace those of every scene; empty to use the scenes' own.
        known: knows the scenes that need not be loaded; None to load them all.
    """
    scenes = tuple(_entry(path, found, models, known) for path in found.paths)
    names = tuple(scene.name for scene in scenes)
    table = found.keys.episode
    return Episode(
        folder=found.folder,
        name=folder_name(found.folder),
        number=table.number or folder_name(found.folder),
        title=table.title,
        camera_date=table.camera_date,
        sequences=tuple(found.keys.sequences.items()),
        scenes=scenes,
        notes=(*_link_notes(found.linked), *_sequence_notes(found.keys, names)),
    )


def load_episode(folder: Path) -> Episode:
    """Load an episode's folder with all its scenes; as `find_episode` and `load_found`."""
    return load_found(find_episode(folder))


def natural_order(name: str) -> tuple[tuple[int, int, str], ...]:
    """Return the key by which scenes are sorted: `sc9` goes before `sc10`."""
    pieces = re.findall(r"[0-9]+|[^0-9]+", name)
    return tuple((0, int(p[:300]), p) if p[0] in "0123456789" else (1, 0, p) for p in pieces)


def _require_folder(folder: Path) -> None:
    if folder.is_dir():
        return
    wrong = "it is a file, not an episode's folder" if folder.exists() else "there is no such folder"
    raise BadInput(Problem(str(folder), "", wrong, "Give the folder that holds the scenes."))


def _scene_folders(folder: Path) -> tuple[list[Path], list[str]]:
    """Return the scenes' folders in number order, and the names of links, which are not followed."""
    try:
        entries = list(os.scandir(folder))
        names = [entry.name for entry in entries if entry.is_dir(follow_symlinks=False)]
        linked = sorted(entry.name for entry in entries if entry.is_symlink() and Path(entry.path).is_dir())
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise BadInput(
            Problem(str(folder), "", f"the folder cannot be read ({reason})", "Make it readable.")
        ) from None
    wanted = [name for name in names if not name.startswith(".") and same_name(name) not in NEVER_LEVELS]
    ordered = sorted(wanted, key=natural_order)
    return [folder / name for name in ordered if _is_scene(folder / name)], linked


def _is_scene(path: Path) -> bool:
    if (path / SCENE_TOML).is_file() or (path / SHEET_NAME).is_file():
        return True
    return _painted(path) > 0


def _painted(path: Path) -> int:
    """Return how many drawings lie in a scene's folder."""
    try:
        return sum(len(level.drawings) for level in find_levels(path, None).levels)
    except BadInput:
        return 1  # it cannot be listed: the scene itself will say so


def _entry(path: Path, found: FoundEpisode, models: Sequence[Path], known: Untouched | None) -> EpisodeScene:
    if known is None:
        return _loaded(path, found, models)
    glance = known.glance(path)
    concluded = known.concluded(path.name, glance)
    if concluded is not None:
        return EpisodeScene(path.name, None, untouched=concluded)
    entry = _loaded(path, found, models)
    return replace(entry, outlook=glance.outlook(entry.scene.sources)) if entry.scene is not None else entry


def _loaded(path: Path, found: FoundEpisode, models: Sequence[Path]) -> EpisodeScene:
    try:
        defaults = defaults_for(found.keys, found.folder, path)
        return EpisodeScene(path.name, load_scene(path, models, defaults))
    except BadInput as error:
        painted = _painted(path)
        return EpisodeScene(path.name, None, tuple(error.problems) if painted else (), painted)


def _link_notes(linked: Sequence[str]) -> list[str]:
    return [
        f"{shown(name)} is a link and was not followed: put the scene itself into the episode."
        for name in linked
    ]


def _sequence_notes(keys: EpisodeToml, names: tuple[str, ...]) -> list[str]:
    return [
        f"Sequence {shown(sequence)} names {shown(scene)}, and there is no such scene. "
        f"{near_name(scene, names)}".rstrip()
        for sequence, scenes in keys.sequences.items()
        for scene in scenes
        if scene not in names
    ]
