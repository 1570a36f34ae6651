"""A cel's result as bytes for the ledger, and back: JSON with a number for its shape, compressed.

Level, drawing, file and frames are left out: they belong to the place in the scene, not to the picture. The
checksum of the compression tells a damaged row, which is then checked again.
"""

import zlib
from dataclasses import dataclass, replace
from functools import cache

from pydantic import TypeAdapter, ValidationError

from cel_check.drawing.place import Place
from cel_check.faults import Fault, FaultKind, Verdict
from cel_check.scene.results import CelResult, Measured
from cel_check.scene.tasks import CelTask

SHAPE = 2
_LEVEL = 1
"""Of zlib: places compress to four tenths at once, and hardly further at ten times the cost."""


class DamagedRowError(Exception):
    """A row of the ledger cannot be read back; its cel must be checked again."""


@dataclass(frozen=True)
class Stored:
    """What the ledger keeps of a checked cel."""

    shape: int
    sha256: str
    verdict: Verdict
    faults: tuple[Fault, ...]
    width: int | None
    height: int | None
    notes: tuple[str, ...]
    dpi: float | None
    places: tuple[Place, ...]
    measured: Measured


@dataclass(frozen=True)
class CelAnswer:
    """What a worker hands back of a cel, ready to be stored.

    Attributes:
        payload: of the ledger; empty where the result must not be remembered.
        thumbnail: QOI bytes.
        sha256: of the picture.
        size: width and height in pixels.
        result: the whole result where it must not be remembered (not checked, or not readable); else None.
    """

    payload: bytes = b""
    thumbnail: bytes = b""
    sha256: str = ""
    size: tuple[int | None, int | None] = (None, None)
    result: CelResult | None = None


def answer_of(result: CelResult) -> CelAnswer:
    """Return a result as a worker sends it.

    A cel that was not checked is tried again in the next run, and so is a file that could not be read: a
    drive that fails for a moment must not be remembered.
    """
    unread = any(fault.kind is FaultKind.UNREADABLE for fault in result.faults)
    kept = result.verdict is not Verdict.NOT_CHECKED and not unread and result.measured is not None
    if not kept or result.sha256 is None:
        return CelAnswer(result=replace(result, thumbnail=b"", places=(), measured=None))
    return CelAnswer(encode(result), result.thumbnail, result.sha256, (result.width, result.height))


def encode(result: CelResult) -> bytes:
    """Return a checked cel's result as the ledger's bytes; the same bytes for the same result."""
    stored = Stored(
        shape=SHAPE,
        sha256=result.sha256 or "",
        verdict=result.verdict,
        faults=result.faults,
        width=result.width,
        height=result.height,
        notes=result.notes,
        dpi=result.dpi,
        places=result.places,
        measured=result.measured or Measured(),
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
        faults=stored.faults,
        sha256=stored.sha256,
        width=stored.width,
        height=stored.height,
        notes=stored.notes,
        thumbnail=thumbnail,
        dpi=stored.dpi,
        places=stored.places,
        measured=stored.measured,
    )


@cache
def _adapter() -> TypeAdapter[Stored]:
    return TypeAdapter(Stored)
