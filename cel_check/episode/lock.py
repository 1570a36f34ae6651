"""One run at a time on an episode: the second is told who holds it, and a killed run holds nothing.

The system's own lock on an open file is the truth on one machine: it ends with its process, however that
ends. Not every shared drive hands it on to other machines, so the holder also writes who it is and shows by
the file's time that it lives.
"""

import json
import os
import socket
import sys
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Self

from cel_check.errors import BadInput, Problem
from cel_check.scene.names import shown

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

FILE_NAME = "ledger.lock"
_BEAT_SECONDS = 30.0
_STALE_SECONDS = 600.0
"""After this long without a sign of life a run on another machine is taken for dead (a house choice)."""
_WAIT_SECONDS = 1.0
_FAR_BYTE = 1 << 30
"""Windows locks bytes, and a locked byte cannot be read: one far behind the text is taken."""


@dataclass(frozen=True)
class Holder:
    """Who holds an episode."""

    pid: int
    host: str
    since: str


class RunLock:
    """Holds an episode while the context lasts."""

    def __init__(self, path: Path, wait: Callable[[str], object] | None = None) -> None:
        """Take nothing yet; with `wait` another run is waited for, and `wait` is told who it is."""
        self._path = path
        self._wait = wait
        self._handle = -1
        self._beaten = time.monotonic()

    def __enter__(self) -> Self:
        """Take the episode.

        Raises:
            BadInput: where another run holds it.
        """
        try:
            self._handle = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o644)
        except OSError as error:
            wrong = f"the episode cannot be locked ({error.strerror or type(error).__name__})"
            mend = "See that its folder can be written."
            raise BadInput(Problem(str(self._path), "", wrong, mend)) from None
        told = False
        while (holder := self._other_holder()) is not None:
            if self._wait is None:
                os.close(self._handle)
                raise _held(self._path, holder)
            if not told:
                self._wait(_words(holder))
                told = True
            time.sleep(_WAIT_SECONDS)
        now = datetime.now(UTC).isoformat(timespec="seconds")
        self._write(Holder(os.getpid(), socket.gethostname(), now))
        return self

    def __exit__(self, *exc: object) -> None:
        """Give the episode back."""
        self._write(None)
        os.close(self._handle)

    def beat(self) -> None:
        """Show other machines that this run lives; cheap enough to be called for every cel."""
        if time.monotonic() - self._beaten > _BEAT_SECONDS:
            self._beaten = time.monotonic()
            os.utime(self._path)

    def _other_holder(self) -> Holder | None:
        """Return who else holds the episode; None where this process holds it now."""
        if not _locked(self._handle):
            return self._read() or Holder(0, "this machine", "a moment ago")
        there = self._read()
        if there is None or there.host == socket.gethostname():
            return None  # nobody, or a run of this machine that was killed
        age = time.time() - os.fstat(self._handle).st_mtime
        if age > _STALE_SECONDS:
            return None
        _unlock(self._handle)
        return there

    def _read(self) -> Holder | None:
        os.lseek(self._handle, 0, os.SEEK_SET)
        try:
            return Holder(**json.loads(os.read(self._handle, 4096)))
        except (ValueError, TypeError):
            return None

    def _write(self, holder: Holder | None) -> None:
        os.ftruncate(self._handle, 0)
        os.lseek(self._handle, 0, os.SEEK_SET)
        if holder is not None:
            os.write(self._handle, json.dumps(asdict(holder)).encode())


def _words(holder: Holder) -> str:
    who = f"process {holder.pid} on {shown(str(holder.host))}" if holder.pid else "another process"
    return f"another run holds this episode: {who}, since {shown(str(holder.since))}"


def _held(path: Path, holder: Holder) -> BadInput:
    return BadInput(Problem(str(path.parent), "", _words(holder), "Let it end, or wait for it with --wait."))


def _locked(handle: int) -> bool:
    """Take the system's lock on an open file; False where another process has it."""
    try:
        if sys.platform == "win32":
            os.lseek(handle, _FAR_BYTE, os.SEEK_SET)
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        # The drive knows no locks: only what the holder wrote can tell.
        return sys.platform != "win32"
    return True


def _unlock(handle: int) -> None:
    if sys.platform == "win32":
        os.lseek(handle, _FAR_BYTE, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)
    else:
        fcntl.flock(handle, fcntl.LOCK_UN)
