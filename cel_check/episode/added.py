"""Faults that a person drew by hand, because no check had found them; kept for good, as decisions are.

One holds for the content of the picture that it was drawn on. Once the cel is repainted, whether it was
mended is for a person to say.
"""

import json
import sqlite3
from dataclasses import dataclass

from cel_check.episode.decisions import Decision, insert
from cel_check.episode.ledger import transaction
from cel_check.episode.runs import utc_now
from cel_check.episode.schema import name_of, raw
from cel_check.faults import Box, FaultKind, SendTo, Verdict
from cel_check.scene.summary import CelLine, Deed, FaultLine

_COLUMNS = "at, who, scene, level, drawing, sha256, kind, send_to, box, text"
PREFIX = "by-hand-"
"""Begins the identity of a fault drawn by hand."""


@dataclass(frozen=True)
class Added:
    """A fault drawn by hand.

    Attributes:
        who: the person's name.
        scene: the scene's folder.
        level: the level's name.
        drawing: the drawing number.
        sha256: of the picture on which it was drawn.
        kind: the fault kind.
        send_to: the department that mends it.
        box: where on the picture.
        text: what is wrong.
        id: its number; 0 before it is recorded.
        at: when (UTC, ISO 8601); empty before it is recorded.
    """

    who: str
    scene: str
    level: str
    drawing: str
    sha256: str
    kind: FaultKind
    send_to: SendTo
    box: Box
    text: str
    id: int = 0
    at: str = ""

    @property
    def identity(self) -> str:
        """The same from run to run."""
        return f"{PREFIX}{self.id}"


def add(db: sqlite3.Connection, one: Added) -> int:
    """Record a fault drawn by hand, and that it is a retake; when this returns, the disk holds both.

    Returns:
        Its number.
    """
    with transaction(db, lasting=True):
        return add_within(db, one)


def add_within(db: sqlite3.Connection, one: Added) -> int:
    """Add a fault drawn by hand, and that it is a retake. Call it inside a lasting transaction.

    To take back that decision, the first on the fault, is to withdraw the fault.

    Returns:
        Its number.
    """
    values = (
        utc_now(), one.who, raw(one.scene), raw(one.level), raw(one.drawing), one.sha256, one.kind.value,
        one.send_to.value, json.dumps(one.box), one.text,
    )  # fmt: skip
    marks = ", ".join("?" * len(values))
    cursor = db.execute(f"INSERT INTO added ({_COLUMNS}) VALUES ({marks})", values)
    number = int(cursor.lastrowid or 0)
    identity = f"{PREFIX}{number}"
    decision = Decision(
        one.who, Deed.RETAKE, one.scene, one.level, one.drawing, identity, one.sha256, one.send_to
    )
    insert(db, decision)
    return number


def added_to(db: sqlite3.Connection, scene: str) -> tuple[Added, ...]:
    """Return every fault drawn by hand in a scene, the first first."""
    rows = db.execute(f"SELECT id, {_COLUMNS} FROM added WHERE scene = ? ORDER BY id", (raw(scene),))
    return tuple(_added(row) for row in rows)


def _added(row: tuple[int, str, str, bytes, bytes, bytes, str, str, str, str, str]) -> Added:
    number, at, who, scene, level, drawing, sha256, kind, send_to, box, text = row
    x, y, width, height = json.loads(box)
    return Added(
        who, name_of(scene), name_of(level), name_of(drawing), sha256, FaultKind(kind), SendTo(send_to),
        (x, y, width, height), text, number, at,
    )  # fmt: skip


def line_of(one: Added, cel: CelLine) -> FaultLine:
    """Return a fault drawn by hand as reports tell it; a query where its cel was repainted since."""
    same = cel.sha256 == one.sha256
    repainted = "" if same else " The cel was repainted since: look whether it is mended."
    return FaultLine(
        identity=one.identity,
        id=f"{one.scene}/{one.level}/{one.drawing}/{one.identity}",
        kind=one.kind,
        verdict=Verdict.RETAKE if same else Verdict.QUERY,
        send_to=one.send_to,
        level=one.level,
        drawing=one.drawing,
        file=cel.file,
        sha256=cel.sha256,
        frames=cel.frames,
        text=one.text + repainted,
        box=one.box,
        visibility=1.0,  # a person saw it
        added_by=one.who,
    )
