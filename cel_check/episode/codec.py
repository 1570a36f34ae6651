"""A cel's result as bytes for the ledger, and back: JSON with a number for its shape, compressed.

Level, drawing and frames are left out: they belong to the place in the scene, not to the picture. The file
is kept only to put another in its place where a sentence names it. The checksum of the compression tells a
damaged row, which is then checked again.
"""

import zlib
from dataclasses import dataclass, replace
from functools import cache

from pydantic import TypeAdapter, ValidationError

from cel_check.drawing.place import Place
from cel_check.faults import Fault, FaultKind, Verdict
from cel_check.scene.names import shown
from cel_check.scene.results import CelResult, Measured
from cel_check.scene.tasks import CelTask

SHAPE = 3
_LEVEL = 1
"""Of zlib: places compress to four tenths at once, and hardly further at ten times the cost."""


class DamagedRowError(Exception):
    """A row of the ledger cannot be read back; its cel must be checked again."""


@dataclass(frozen=True)
class Stored:
    """What the ledger keeps of a checked cel, or of a file that is no whole picture.

    `file` is its path in the scene as sentences show it; `measured` is None where there was no picture.
    """

    shape: int
    file: str
    sha256: str
    verdict: Verdict
    faults: tuple[Fault, ...]
    width: int | None
    height: int | None
    notes: tuple[str, ...]
    dpi: float | None
    places: tuple[Place, ...]
    measured: Measured | None


@dataclass(frozen=True)
class CelAnswer:
    """What a worker hands back of a cel, ready to be stored.

    Attributes:
        payload: of the ledger; empty where the result must not be remembered.
        thumbnail: QOI bytes.
        sha256: of the picture.
        size: width and height in pixels; None for a file that is no whole picture.
        result: the whole result where it must not be remembered; else None.
    """

    payload: bytes = b""
    thumbnail: bytes = b""
    sha256: str = ""
    size: tuple[int | None, int | None] = (None, None)
    result: CelResult | None = None


def answer_of(result: CelResult) -> CelAnswer:
    """Return a result as a worker sends it.

    A cel that was not checked is tried again in the next run, and so is a file of which nothing could be
    read: a drive that fails for a moment must not be remembered. Bytes that are no whole picture are.
    """
    if result.verdict is Verdict.NOT_CHECKED or result.sha256 is None:
        return CelAnswer(result=replace(result, thumbnail=b"", places=(), measured=None))
    return CelAnswer(encode(result), result.thumbnail, result.sha256, (result.width, result.height))


def encode(result: CelResult) -> bytes:
    """Return a checked cel's result as the ledger's bytes; the same bytes for the same result."""
    stored = Stored(
        shape=SHAPE,
        file=shown(result.file),
        sha256=result.sha256 or "",
        verdict=result.verdict,
        faults=result.faults,
        width=result.width,
        height=result.height,
        notes=result.notes,
        dpi=result.dpi,
        places=result.places,
        measured=result.measured,
    )
    return zlib.compress(_adapter().dump_json(stored, warnings="error"), _LEVEL)


def decode(payload: bytes) -> Stored:
    """Return what the ledger's bytes say.

    Raises:
        DamagedRowError: where they cannot be read back whole.
    """
    try:
        stored = _adapter().validate_json(zlib.decompress(payload))
    except (zlib.error, ValidationError, ValueError) as error:
        raise DamagedRowError(type(error).__name__) from error
    if stored.shape != SHAPE:
        raise DamagedRowError(f"shape {stored.shape}")
    return stored


def restored(stored: Stored, thumbnail: bytes, task: CelTask) -> CelResult:
    """Return a stored result as that of a task."""
    return CelResult(
        level=task.level,
        drawing=task.drawing,
        file=task.file,
        verdict=stored.verdict,
        faults=tuple(_of_file(fault, stored.file, task.file) for fault in stored.faults),
        sha256=stored.sha256,
        width=stored.width,
        height=stored.height,
        notes=stored.notes,
        thumbnail=thumbnail,
        dpi=stored.dpi,
        places=stored.places,
        measured=stored.measured,
    )


def _of_file(fault: Fault, before: str, now: str) -> Fault:
    """Return a fault as said of another file of its content: its text begins with an unreadable one."""
    if fault.kind is not FaultKind.UNREADABLE or not fault.text.startswith(before):
        return fault
    return replace(fault, text=shown(now) + fault.text.removeprefix(before))


@cache
def _adapter() -> TypeAdapter[Stored]:
    return TypeAdapter(Stored)
