"""Tells, without loading it, whether a scene is untouched since it was concluded.

A scene is loaded and gone through cel by cel only where something that it was made from may have changed: the
files of its folder, its models, reference cels, scanner profile and background, each told by size and both
times as a picture is (`memory.unchanged`); the episode's keys, the options, the thresholds, the program.
"""

import os
import sqlite3
import stat
from collections.abc import Iterator, Sequence
from pathlib import Path

from cel_check.episode.concluded import Concluded, Outlook, concluded, outlooks
from cel_check.episode.keys import checking_program, concluding_program, digest_of_all
from cel_check.episode.memory import now_ns, settled
from cel_check.episode.scene_task import files_of
from cel_check.episode.toml import EpisodeToml
from cel_check.settings import Settings

_State = tuple[str, int, int, int]
"""A file's path, size and both its times; a folder's path, and -1 for each of them."""
_NOTHING = (-1, -1, -1)


def held_against(settings: Settings, keys: EpisodeToml, models: Sequence[Path]) -> str:
    """Return a digest of what all scenes of an episode are held against, beside their own files.

    Args:
        settings: the thresholds.
        keys: of `episode.toml`.
        models: color models that replace those of every scene.
    """
    named = tuple(str(model) for model in models)
    return digest_of_all((checking_program(), concluding_program(), settings.fingerprint(), keys, named))


class Glance:
    """How the files in a scene's folder look before any of them is read."""

    def __init__(self, folder: Path, by: str) -> None:
        """Look at them.

        Args:
            folder: the scene's, as the user wrote it.
            by: `held_against` of the episode.
        """
        self._folder, self._by = folder, by
        self._seen = now_ns()
        try:
            self._inside = sorted(_inside(str(folder)))
        except OSError:  # it cannot be listed, or a file went meanwhile
            self._inside = []

    def outlook(self, sources: tuple[str, ...]) -> Outlook:
        """Look at the files outside the folder too; call it as soon as they are known.

        Args:
            sources: `Scene.sources`.
        """
        outside = [_state(source, os.path.join(self._folder, source)) for source in sources]  # noqa: PTH118
        states = [*self._inside, *outside]
        newest = max((max(changed, moved) for _, _, changed, moved in states), default=0)
        sure = bool(self._inside) and settled(newest, self._seen)
        return Outlook(digest_of_all((self._by, str(self._folder), states)) if sure else "", sources)


class Untouched:
    """Knows the scenes of a ledger again that nothing has touched since they were concluded."""

    def __init__(self, db: sqlite3.Connection, out: Path, by: str) -> None:
        """Look up how they looked.

        Args:
            db: the ledger's.
            out: folder of the episode's report.
            by: `held_against` of the episode.
        """
        self._db, self._out, self._by = db, out, by
        self._then = outlooks(db)

    def glance(self, folder: Path) -> Glance:
        """Look at a scene's folder before it is read."""
        return Glance(folder, self._by)

    def concluded(self, name: str, now: Glance) -> Concluded | None:
        """Return an untouched scene as it was concluded; None where it must be loaded.

        Args:
            name: of the scene's folder.
            now: how that folder looks.
        """
        then = self._then.get(name)
        if then is None or now.outlook(then.sources) != then:
            return None
        if not all(path.is_file() for path in files_of(self._out / name)):
            return None
        return concluded(self._db, name)


def _inside(folder: str, below: str = "") -> Iterator[_State]:
    """Yield all that lies in a folder and in its sub-folders: no scene is read any deeper."""
    with os.scandir(folder) as entries:
        for entry in entries:
            name = f"{below}{entry.name}"
            if entry.is_symlink():
                yield _state(f"{name} itself", entry.path, follow=False)
            if entry.is_dir():
                yield (name, *_NOTHING)
                if not below:
                    yield from _inside(entry.path, f"{name}/")
            else:
                yield _state(name, entry.path)


def _state(name: str, path: str, follow: bool = True) -> _State:
    try:
        found = os.stat(path, follow_symlinks=follow)  # noqa: PTH116 - ten thousand files are looked at
    except (OSError, ValueError):
        return (name, *_NOTHING)
    if stat.S_ISDIR(found.st_mode):
        return (name, *_NOTHING)
    return name, found.st_size, found.st_mtime_ns, found.st_ctime_ns
