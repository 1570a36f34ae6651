"""Knows a fault again from run to run, whatever its number in a report.

Two faults are one where level, drawing, kind and the model color they are held against agree and they lie in
one place, give or take a few pixels. An identity is made from the fault's first appearance, so that two
ledgers of the same history hold the same identities.
"""

import hashlib
import json
import sqlite3
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from cel_check.episode.schema import name_of, raw
from cel_check.faults import Box
from cel_check.scene.summary import Change, FaultLine, SceneSummary

SLACK = 3
"""Pixels by which a box may have moved on each side: a repainted spot keeps its place, not its edge."""

SAME_PLACE = 0.25
"""Share of their common area that two boxes overlap at least, each widened by the slack (a house choice)."""

_COLUMNS = "id, level, drawing, kind, color, box, first, opened, mended"
Kin = tuple[str | None, str | None, str, str]
"""Level, drawing, kind and color."""


@dataclass(frozen=True)
class Known:
    """A fault that an earlier run, or an earlier part of this one, has seen."""

    identity: str
    kin: Kin
    box: Box | None
    first: int
    opened: int
    mended: int | None


@dataclass(frozen=True)
class Recognized:
    """A scene's faults with their identities, and what became of the earlier ones.

    Attributes:
        summary: the scene with each fault's identity and change.
        gone: identities of open faults that are not there any more.
        known: the earlier faults, by identity.
    """

    summary: SceneSummary
    gone: tuple[str, ...]
    known: dict[str, Known]


def recognized(
    summary: SceneSummary, known: Sequence[Known], unchecked: set[tuple[str | None, str | None]], run: int
) -> Recognized:
    """Give each fault of a scene its identity.

    Args:
        summary: the scene as concluded.
        known: every fault that the scene ever had.
        unchecked: `(level, drawing)` of the cels that were not checked this time: nobody knows what became of
            their faults.
        run: number of this run.
    """
    by_kin: dict[Kin, list[Known]] = defaultdict(list)
    for one in known:
        by_kin[one.kin].append(one)
    matched = _matched(summary.faults, by_kin)
    taken = {one.identity for one in matched.values()}
    used = {one.identity for one in known}
    lines = []
    for number, line in enumerate(summary.faults):
        seen = matched.get(number)
        identity = seen.identity if seen else _new_identity(summary.name, line, used)
        still = seen is not None and seen.opened < run and _was_open(seen, run)
        lines.append(replace(line, identity=identity, change=Change.STILL if still else Change.NEW))
    left = [one for one in known if one.identity not in taken and _was_open(one, run)]
    unsure = [one for one in left if (one.kin[0], one.kin[1]) in unchecked]
    gone = tuple(one.identity for one in left if one not in unsure)
    mended = sum(one.opened < run for one in left if one not in unsure)
    done = replace(summary, faults=tuple(lines), mended=mended, unsure=len(unsure))
    return Recognized(done, gone, {one.identity: one for one in known})


def _was_open(one: Known, run: int) -> bool:
    """Return whether a fault was open at the end of the last finished run, or has come up since."""
    return one.mended is None or one.mended == run


def kin_of(line: FaultLine) -> Kin:
    """Return what two appearances of one fault must share."""
    color = f"{line.model}/{line.color}" if line.color else ""
    return (line.level, line.drawing, line.kind.value, color)


def _matched(lines: Sequence[FaultLine], by_kin: dict[Kin, list[Known]]) -> dict[int, Known]:
    """Pair faults with earlier ones: the nearest places first, open faults before mended ones."""
    pairs = [
        (one.mended is not None, -closeness, number, place, one)
        for number, line in enumerate(lines)
        for place, one in enumerate(by_kin.get(kin_of(line), ()))
        if (closeness := _closeness(line.box, one.box)) >= SAME_PLACE
    ]
    matched: dict[int, Known] = {}
    taken: set[str] = set()
    for *_, number, _place, one in sorted(pairs, key=lambda pair: pair[:4]):
        if number not in matched and one.identity not in taken:
            matched[number] = one
            taken.add(one.identity)
    return matched


def _closeness(one: Box | None, other: Box | None) -> float:
    """Return the share of their common area that two boxes overlap, once widened; 1 for two without."""
    if one is None or other is None:
        return 1.0 if one is other else 0.0
    (x0, y0, w0, h0), (x1, y1, w1, h1) = _widened(one), _widened(other)
    across = min(x0 + w0, x1 + w1) - max(x0, x1)
    down = min(y0 + h0, y1 + h1) - max(y0, y1)
    shared = max(0, across) * max(0, down)
    return shared / (w0 * h0 + w1 * h1 - shared)


def _widened(box: Box) -> Box:
    return box[0] - SLACK, box[1] - SLACK, box[2] + 2 * SLACK, box[3] + 2 * SLACK


def _new_identity(scene: str, line: FaultLine, used: set[str]) -> str:
    """Return an identity made from where the fault was first seen; `used` is added to."""
    number = 1
    while True:
        text = json.dumps([scene, *kin_of(line), line.box, number])
        identity = hashlib.sha256(text.encode()).hexdigest()[:16]
        if identity not in used:
            used.add(identity)
            return identity
        number += 1


def known_faults(db: sqlite3.Connection, scene: str) -> tuple[Known, ...]:
    """Return every fault that a scene ever had, in the order in which they came up."""
    rows = db.execute(
        f"SELECT {_COLUMNS} FROM fault WHERE scene = ? ORDER BY first, id", (raw(scene),)
    ).fetchall()
    return tuple(_known(row) for row in rows)


def _known(row: tuple[str, bytes | None, bytes | None, str, str, str, int, int, int | None]) -> Known:
    identity, level, drawing, kind, color, box, first, opened, mended = row
    kin = (None if level is None else name_of(level), None if drawing is None else name_of(drawing))
    place = json.loads(box)
    return Known(identity, (*kin, kind, color), tuple(place) if place else None, first, opened, mended)


def keep(db: sqlite3.Connection, scene: str, found: Recognized, run: int) -> None:
    """Remember a scene's faults. Call it inside a transaction."""
    db.executemany(
        "INSERT OR REPLACE INTO fault VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, NULL)",
        (_row(scene, line, found.known.get(line.identity), run) for line in found.summary.faults),
    )
    db.executemany("UPDATE fault SET mended = ? WHERE id = ?", ((run, identity) for identity in found.gone))


def _row(scene: str, line: FaultLine, known: Known | None, run: int) -> tuple[object, ...]:
    level, drawing, kind, color = kin_of(line)
    opened = known.opened if known and line.change is Change.STILL else run
    return (
        line.identity,
        raw(scene),
        None if level is None else raw(level),
        None if drawing is None else raw(drawing),
        kind,
        color,
        json.dumps(line.box),
        line.sha256,
        known.first if known else run,
        opened,
    )
