"""Where the report's files go: written whole or not at all, under names of our own making."""

import contextlib
import hashlib
import os
import re
import secrets
import time
from dataclasses import dataclass, field
from pathlib import Path

from cel_check.errors import BadInput, Problem

PICTURES = "pictures"
_OURS = re.compile(r"(?:cel|fault|frame)-([0-9a-f]{16})\.(?:png|jpg|webp)")
_LEFT_BEHIND = 3600.0
"""Seconds after which a part is what a run that was killed left behind, not one that is being written."""
_PART = re.compile(r"\.cel-check-[0-9a-f]{16}\.part")


@dataclass
class Store:
    """A report's folder.

    A picture is named after the digest of its own bytes: no name comes from the user, an unchanged picture is
    not written again, and a picture of ours is told from any other file for certain.

    Attributes:
        out: the folder; made where it does not exist.
        kept: names of the pictures that this report uses.
    """

    out: Path
    kept: set[str] = field(default_factory=set)

    def put_picture(self, prefix: str, ending: str, data: bytes) -> str:
        """Write a picture and return its address relative to `out`; the picture is whole or absent."""
        name = f"{prefix}-{hashlib.sha256(data).hexdigest()[:16]}.{ending}"
        path = self.out / PICTURES / name
        if not _holds(path, data):
            write_whole(path, data, lasting=False)
        self.kept.add(name)
        return f"{PICTURES}/{name}"

    def put_reports(self, files: dict[str, bytes]) -> tuple[Path, ...]:
        """Write all files beside their places first and only then move them there, one after the other."""
        parts: list[tuple[Path, Path]] = []
        try:
            for name, data in files.items():
                parts.append((_write_part(self.out, data, lasting=True), self.out / name))
            for part, path in parts:
                part.replace(path)
        except OSError as error:
            raise _cannot_write(self.out, error) from error
        finally:
            for part, _ in parts:
                _remove(part)
        return tuple(path for _, path in parts)

    def sweep(self) -> None:
        """Remove pictures of earlier reports that this one does not use; anything not ours stays."""
        for folder in (self.out, self.out / PICTURES):
            for path in sorted(folder.glob(".cel-check-*.part")):
                if _PART.fullmatch(path.name) and _age_seconds(path) > _LEFT_BEHIND:
                    _remove(path)
        for path in sorted((self.out / PICTURES).glob("*")):
            if path.name not in self.kept and _is_ours(path):
                _remove(path)


def write_whole(path: Path, data: bytes, *, lasting: bool) -> None:
    """Write a file so that it is never seen in part; `lasting` waits until the disk holds it.

    Raises:
        BadInput: where the folder cannot be written.
    """
    try:
        part = _write_part(path.parent, data, lasting=lasting)
        try:
            part.replace(path)
        except BaseException:
            _remove(part)
            raise
    except OSError as error:
        raise _cannot_write(path.parent, error) from error


def _write_part(folder: Path, data: bytes, *, lasting: bool) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    part = folder / f".cel-check-{secrets.token_hex(8)}.part"
    try:
        with part.open("xb") as file:
            file.write(data)
            if lasting:
                file.flush()
                os.fsync(file.fileno())
    except BaseException:
        _remove(part)
        raise
    return part


def _remove(path: Path) -> None:
    with contextlib.suppress(OSError):
        path.unlink(missing_ok=True)


def _holds(path: Path, data: bytes) -> bool:
    try:
        return path.read_bytes() == data
    except OSError:
        return False


def _age_seconds(path: Path) -> float:
    try:
        return time.time() - path.stat().st_mtime
    except OSError:
        return 0.0


def _is_ours(path: Path) -> bool:
    """Tell a picture that an earlier report wrote: its name states the digest of its bytes."""
    match = _OURS.fullmatch(path.name)
    if match is None or path.is_symlink() or not path.is_file():
        return False
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest().startswith(match[1])
    except OSError:
        return False


def _cannot_write(folder: Path, error: OSError) -> BadInput:
    wrong = f"the report cannot be written ({error.strerror or type(error).__name__})"
    return BadInput(Problem(str(folder), "", wrong, "Free the place, or name another folder with --out"))
