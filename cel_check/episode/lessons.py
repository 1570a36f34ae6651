"""What a decision teaches a scene beyond its one cel: that a cause which a check takes for a fault is none.

A lesson is kept for good, as decisions are; to take it back is a decision, and with it fall the decisions
that were made by it.
"""

import json
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from cel_check.episode.schema import name_of, raw
from cel_check.faults import Box, FaultKind
from cel_check.scene.summary import FaultLine

BY_COLOR = frozenset({FaultKind.OFF_MODEL, FaultKind.INK_COLOR})
"""Kinds whose cause is a color, wherever it lies; of every other kind the place counts, too."""

NEAR = 1.0
"""How far the middles of two alike places lie apart at most, in widths and heights of the larger (a house
choice: a part moves from drawing to drawing, and seldom by more than its own size)."""

ALIKE_SIZE = 2.0
"""Times by which their widths and heights differ at most (a house choice)."""


@dataclass(frozen=True)
class Cause:
    """What faults of one cause share.

    Attributes:
        level: the level's name, or None.
        kind: the fault kind.
        color: `MODEL/COLOR` they are held against, or empty.
        found: the color found, or empty.
        boxes: where it was seen; empty where the place does not count.
    """

    level: str | None
    kind: FaultKind
    color: str
    found: str
    boxes: tuple[Box, ...]


@dataclass(frozen=True)
class Lesson:
    """One lesson: its number, when and by whom it was taught, its scene, and the cause."""

    id: int
    at: str
    who: str
    scene: str
    cause: Cause


def cause_of(lines: Sequence[FaultLine]) -> Cause:
    """Return the cause that faults share; the first one says which."""
    first = lines[0]
    by_place = first.kind not in BY_COLOR or not first.found
    boxes = tuple(line.box for line in lines if line.box is not None) if by_place else ()
    return Cause(first.level, first.kind, _color(first), first.found, boxes)


def shares(cause: Cause, line: FaultLine) -> bool:
    """Return whether a fault has a cause. One drawn by hand has none: a person saw it."""
    same = (line.level, line.kind, _color(line), line.found)
    if line.added_by or same != (cause.level, cause.kind, cause.color, cause.found):
        return False
    if cause.kind in BY_COLOR and cause.found:
        return True
    box = line.box
    return box is not None and any(_near(box, known) for known in cause.boxes)


def _color(line: FaultLine) -> str:
    return f"{line.model}/{line.color}" if line.color else ""


def _near(one: Box, other: Box) -> bool:
    for start, length in ((0, 2), (1, 3)):
        small, large = sorted((one[length], other[length]))
        apart = abs(one[start] + one[length] / 2 - other[start] - other[length] / 2)
        if large > ALIKE_SIZE * max(small, 1) or apart > NEAR * large:
            return False
    return True


def insert_lesson(db: sqlite3.Connection, lesson: Lesson) -> int:
    """Add a lesson. Call it inside a lasting transaction.

    Returns:
        Its number.
    """
    cause = lesson.cause
    teaches = json.dumps(
        {"level": cause.level, "color": cause.color, "found": cause.found, "boxes": cause.boxes}
    )
    cursor = db.execute(
        "INSERT INTO lesson (at, who, scene, kind, teaches) VALUES (?, ?, ?, ?, ?)",
        (lesson.at, lesson.who, raw(lesson.scene), cause.kind.value, teaches),
    )
    return int(cursor.lastrowid or 0)


def lessons_of(db: sqlite3.Connection, scene: str | None = None) -> tuple[Lesson, ...]:
    """Return the lessons of a scene, or of all, the first first, taken back or not."""
    where, values = ("WHERE scene = ?", (raw(scene),)) if scene is not None else ("", ())
    rows: Iterable[tuple[int, str, str, bytes, str, str]] = db.execute(
        f"SELECT id, at, who, scene, kind, teaches FROM lesson {where} ORDER BY id", values
    )
    return tuple(_lesson(row) for row in rows)


def _lesson(row: tuple[int, str, str, bytes, str, str]) -> Lesson:
    number, at, who, scene, kind, teaches = row
    told = json.loads(teaches)
    boxes = tuple((box[0], box[1], box[2], box[3]) for box in told["boxes"])
    cause = Cause(told["level"], FaultKind(kind), told["color"], told["found"], boxes)
    return Lesson(number, at, who, name_of(scene), cause)
