"""The ledger's runs. A run ends when every cel was looked at; one that was stopped is taken up again."""

import sqlite3
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache

from pydantic import TypeAdapter, ValidationError

from cel_check.episode.ledger import transaction
from cel_check.faults import FaultKind, Verdict
from cel_check.scene.summary import RunLine, SceneState, SceneSummary, Tally


@dataclass(frozen=True)
class Run:
    """A run that is under way: its number, when it began, and whether it was taken up again."""

    number: int
    started: str
    resumed: bool


def utc_now() -> str:
    """Return the time as ISO 8601, UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


def begin(db: sqlite3.Connection) -> Run:
    """Begin a run, or take up the last one where it has not ended."""
    row = db.execute("SELECT id, started, finished FROM run ORDER BY id DESC LIMIT 1").fetchone()
    if row is not None and row[2] is None:
        return Run(int(row[0]), str(row[1]), resumed=True)
    number, started = (int(row[0]) + 1 if row else 1), utc_now()
    with transaction(db):
        db.execute("INSERT INTO run (id, started) VALUES (?, ?)", (number, started))
    return Run(number, started, resumed=False)


def finish(db: sqlite3.Connection, run: Run, tally: Tally, ended: str) -> None:
    """End a run."""
    text = _adapter().dump_json(tally).decode("utf-8")
    with transaction(db):
        db.execute("UPDATE run SET finished = ?, tally = ? WHERE id = ?", (ended, text, run.number))


def finished_runs(db: sqlite3.Connection) -> tuple[RunLine, ...]:
    """Return every run that has ended, the first first."""
    rows = db.execute(
        "SELECT id, started, finished, tally FROM run WHERE finished IS NOT NULL ORDER BY id"
    ).fetchall()
    lines = []
    for number, started, ended, tally in rows:
        try:
            lines.append(RunLine(int(number), started, ended, _adapter().validate_json(tally)))
        except ValidationError:
            continue  # a damaged row costs one point of a plot
    return tuple(lines)


def tally_of(scenes: Sequence[SceneSummary]) -> Tally:
    """Return what stands now."""
    kinds = Counter(line.kind for scene in scenes for line in scene.faults)
    states = Counter(scene.state for scene in scenes)
    cels = {verdict: sum(scene.cels[place] for scene in scenes) for place, verdict in enumerate(Verdict)}
    return Tally(
        tuple((kind, kinds[kind]) for kind in FaultKind),
        tuple((state, states[state]) for state in SceneState),
        tuple(cels.items()),
    )


@cache
def _adapter() -> TypeAdapter[Tally]:
    return TypeAdapter(Tally)
