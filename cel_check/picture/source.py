"""A picture file's bytes: read once, whole and unchanged while they were read, or not at all."""

import errno
import hashlib
import os
import stat
import time
from dataclasses import dataclass
from pathlib import Path

from cel_check.errors import BadPicture, Refused
from cel_check.settings import Settings

_TRANSIENT = frozenset({errno.EIO, errno.ESTALE, errno.ETIMEDOUT, errno.EAGAIN, errno.EINTR})
"""What a network drive answers while it drops out for a moment."""

_WAITS = (0.05, 0.25, 1.0)
"""Seconds before each further try (a house choice: a hiccup lasts about a second, a dead drive longer)."""

_KINDS_OF_FILE = (
    (stat.S_ISDIR, "is a folder"),
    (stat.S_ISFIFO, "is a pipe"),
    (stat.S_ISSOCK, "is a socket"),
    (stat.S_ISCHR, "is a device"),
    (stat.S_ISBLK, "is a device"),
)

_SHA256_OF_NOTHING = hashlib.sha256(b"").hexdigest()

_BYTES_A_PIXEL = 8
"""The most that four channels of 16 bits take; packed pictures take less."""

_BYTES_BESIDE_PIXELS = 64 << 20
"""Room for profiles, previews and captions (a house choice)."""


@dataclass(frozen=True)
class Source:
    """A file's bytes and their sha256 as a hex digest."""

    data: bytes
    sha256: str


def read_source(path: Path, settings: Settings) -> Source:
    """Return the bytes of a regular file.

    The file is looked at before and after; where it changed meanwhile it is read once more. A network drive
    that drops out for a moment is asked again three times.

    Raises:
        BadPicture: it is no regular file, is empty or may not be read.
        Refused: it keeps changing, or is larger than any picture within the limits of `settings`.
    """
    for _ in range(2):
        data = _read_patiently(path, settings)
        if data is not None:
            return Source(data, hashlib.sha256(data).hexdigest())
    # No fault of the cel: somebody is at work on it, and nobody knows yet what it will be.
    raise Refused(
        "is not checked: it changed while it was read, twice. Wait until the program that saves it is done, "
        "then check it again"
    )


def _read_patiently(path: Path, settings: Settings) -> bytes | None:
    for wait in (*_WAITS, None):
        try:
            return _read_once(path, settings)
        except OSError as error:
            if wait is None or error.errno not in _TRANSIENT:
                raise _cannot_read(error) from error
            time.sleep(wait)
        except MemoryError as error:
            raise Refused("is not checked: there is not enough memory to read the file") from error
        except ValueError as error:
            raise BadPicture("has a name that no file can have", "Rename it.") from error
    raise AssertionError("the last try returns or raises")


def _read_once(path: Path, settings: Settings) -> bytes | None:
    """Return the file's bytes, or None where it changed while they were read."""
    _expect_readable(path.stat(), settings)
    # O_NONBLOCK: a pipe put in the file's place since must not hang the reader.
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags), "rb") as file:
        before = os.fstat(file.fileno())
        _expect_readable(before, settings)
        data = file.read()
    unchanged = _identity(path.stat()) == _identity(before) and len(data) == before.st_size
    return data if unchanged else None


def _identity(found: os.stat_result) -> tuple[int, int, int, int]:
    return found.st_dev, found.st_ino, found.st_size, found.st_mtime_ns


def _expect_readable(found: os.stat_result, settings: Settings) -> None:
    if not stat.S_ISREG(found.st_mode):
        what = next(
            (text for is_kind, text in _KINDS_OF_FILE if is_kind(found.st_mode)), "is no regular file"
        )
        raise BadPicture(f"{what}, not a picture", "Move it out of the level's folder.")
    if found.st_size == 0:
        raise BadPicture("is empty (0 bytes)", "Save or copy it again.", _SHA256_OF_NOTHING)
    most = int(settings.max_megapixels * 1e6) * _BYTES_A_PIXEL + _BYTES_BESIDE_PIXELS
    if found.st_size > most:
        raise Refused(
            f"is not checked: the file's {found.st_size / 1e6:.0f} MB are more than a picture of "
            f"{settings.max_megapixels:g} megapixels can take"
        )


def _cannot_read(error: OSError) -> BadPicture:
    if isinstance(error, FileNotFoundError):
        return BadPicture("is not there any more, or is a link that leads nowhere", "Save or copy it again.")
    if isinstance(error, PermissionError):
        return BadPicture("may not be read by you", "Ask its owner for permission to read it.")
    if error.errno == errno.ELOOP:
        return BadPicture("is a link that leads back to itself", "Put the picture itself in its place.")
    why = error.strerror or type(error).__name__
    return BadPicture(
        f"cannot be read from its drive ({why})", "See that the drive is connected, then check it again."
    )
