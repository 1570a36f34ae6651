"""Looks at a cel's file: whether it is the one the ledger knows, mostly without reading it."""

import hashlib
import stat
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from cel_check.episode.memory import Look, now_ns, unchanged
from cel_check.scene.scene import Scene
from cel_check.scene.tasks import CelTask


def look_at(path: Path) -> Look | None:
    """Return how a file looks now; None where it is no plain file or cannot be looked at."""
    seen = now_ns()
    try:
        found = path.stat()
    except (OSError, ValueError, RuntimeError):
        return None
    if not stat.S_ISREG(found.st_mode):
        return None
    return Look(found.st_size, found.st_mtime_ns, found.st_ctime_ns, seen)


def hash_of(path: Path, look: Look) -> str | None:
    """Return a file's sha256 as a hex digest; None where it cannot be read or changes meanwhile."""
    try:
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None
    after = look_at(path)
    same = after is not None and (after.size, after.mtime_ns) == (look.size, look.mtime_ns)
    return digest if same else None


class Contents:
    """Tells the content of files, reading only those that could be a picture seen before.

    A file of a size that no other picture of the episode has, in the ledger or on disk, is surely new:
    whoever checks it reads it anyway.
    """

    def __init__(self, scenes: Iterable[Scene], known_sizes: set[int]) -> None:
        """Count the sizes of an episode's files."""
        sizes = Counter(drawing.bytes for s in scenes for level in s.levels for drawing in level.drawings)
        self._often = {size for size, count in sizes.items() if count > 1} | known_sizes

    def sha256_of(self, task: CelTask, look: Look | None, known: tuple[Look, str] | None, read: bool) -> str:
        """Return a file's sha256 where it is known or worth knowing before the check; else an empty text.

        Args:
            task: the cel.
            look: how its file looks now.
            known: how it looked when its sha256 was noted, and that.
            read: whether the file may be read for it.
        """
        if look is None or task.outside:
            return ""
        if known is not None and unchanged(known[0], look):
            return known[1]
        if read and look.size in self._often:
            return hash_of(task.path, look) or ""
        return ""
