"""What people decided, kept for good: rows are only ever added, and wait until the disk holds them.

A decision on a fault holds for the fault's identity and the picture's content together: a repainted cel asks
again, an untouched one never does. To take a decision back is a decision of its own.
"""

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from cel_check.episode.ledger import transaction
from cel_check.episode.runs import utc_now
from cel_check.episode.schema import name_of, raw
from cel_check.faults import SendTo
from cel_check.scene.summary import Deed


@dataclass(frozen=True)
class Decision:
    """One decision.

    Attributes:
        who: the person's name.
        deed: what was decided; on a whole cel or scene it is `retake` or `pass`.
        scene: the scene's folder.
        level: the level's name; None for the whole scene.
        drawing: the drawing number; None for the whole scene.
        fault: identity of the fault; None for a whole cel or scene.
        sha256: of the picture that was decided on; None where there is none.
        send_to: the department, for a retake.
        reason: why.
        lesson: the lesson that the decision taught or followed, or None.
        revokes: the decision that it takes back, or None.
        id: its number; 0 before it is recorded.
        at: when (UTC, ISO 8601); empty before it is recorded.
    """

    who: str
    deed: Deed
    scene: str
    level: str | None = None
    drawing: str | None = None
    fault: str | None = None
    sha256: str | None = None
    send_to: SendTo | None = None
    reason: str = ""
    lesson: int | None = None
    revokes: int | None = None
    id: int = 0
    at: str = ""


_COLUMNS = "at, who, deed, scene, level, drawing, fault, sha256, send_to, reason, lesson, revokes"


def record(db: sqlite3.Connection, decision: Decision) -> int:
    """Record a decision; when this returns, the disk holds it.

    Returns:
        Its number.
    """
    with transaction(db, lasting=True):
        return insert(db, decision)


def insert(db: sqlite3.Connection, decision: Decision) -> int:
    """Add a decision. Call it inside a lasting transaction.

    Returns:
        Its number.
    """
    values = (
        utc_now(), decision.who, decision.deed.value, raw(decision.scene), _raw(decision.level),
        _raw(decision.drawing), decision.fault, decision.sha256,
        decision.send_to.value if decision.send_to else None, decision.reason, decision.lesson,
        decision.revokes,
    )  # fmt: skip
    marks = ", ".join("?" * len(values))
    cursor = db.execute(f"INSERT INTO decision ({_COLUMNS}) VALUES ({marks})", values)
    return int(cursor.lastrowid or 0)


def history(db: sqlite3.Connection, scene: str) -> tuple[Decision, ...]:
    """Return every decision on a scene, the first first."""
    rows = db.execute(f"SELECT id, {_COLUMNS} FROM decision WHERE scene = ? ORDER BY id", (raw(scene),))
    return tuple(_decision(row) for row in rows)


def standing(db: sqlite3.Connection, scene: str) -> Mapping[tuple[str, str | None], Decision]:
    """Return the last decision on each fault and picture of a scene that was not taken back.

    Returns:
        By fault identity and the picture's sha256: look a fault up with the content that its picture has now.
    """
    on_faults = {
        (one.fault, one.sha256): one for one in in_force(history(db, scene)) if one.fault is not None
    }
    return MappingProxyType(on_faults)


def in_force(made: Sequence[Decision]) -> tuple[Decision, ...]:
    """Return the decisions that stand: not taken back themselves, and not by way of their lesson."""
    revoked = {one.revokes for one in made if one.revokes is not None}
    unlearned = revoked_lessons(made)
    return tuple(
        one
        for one in made
        if one.deed is not Deed.REVOKE and one.id not in revoked and one.lesson not in unlearned
    )


def revoked_lessons(made: Sequence[Decision]) -> frozenset[int]:
    """Return the numbers of lessons that were taken back."""
    return frozenset(
        one.lesson
        for one in made
        if one.deed is Deed.REVOKE and one.revokes is None and one.lesson is not None
    )


def _decision(row: tuple[int | str | bytes | None, ...]) -> Decision:
    number, at, who, deed, scene, level, drawing, fault, sha256, send_to, reason, lesson, revokes = row
    return Decision(
        who=str(who),
        deed=Deed(str(deed)),
        scene=_name(scene) or "",
        level=_name(level),
        drawing=_name(drawing),
        fault=None if fault is None else str(fault),
        sha256=None if sha256 is None else str(sha256),
        send_to=None if send_to is None else SendTo(str(send_to)),
        reason=str(reason),
        lesson=lesson if isinstance(lesson, int) else None,
        revokes=revokes if isinstance(revokes, int) else None,
        id=number if isinstance(number, int) else 0,
        at=str(at),
    )


def _raw(name: str | None) -> bytes | None:
    return None if name is None else raw(name)


def _name(stored: object) -> str | None:
    return name_of(stored) if isinstance(stored, bytes) else None
