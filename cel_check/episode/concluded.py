"""What the ledger keeps of concluded scenes."""

import json
import sqlite3
from dataclasses import dataclass
from functools import cache

from pydantic import TypeAdapter, ValidationError

from cel_check.episode.schema import name_of, raw
from cel_check.scene.summary import SceneSummary


@dataclass(frozen=True)
class Concluded:
    """A concluded scene: the run in which it was, and its summary."""

    run: int
    summary: SceneSummary


@dataclass(frozen=True)
class Outlook:
    """How everything looked that a scene was made from.

    Attributes:
        digest: of those looks and of what the scene was held against; empty where that cannot tell for sure.
        sources: the files outside its folder, as `Scene.sources`.
    """

    digest: str
    sources: tuple[str, ...]


NO_OUTLOOK = Outlook("", ())
"""That of a scene which must be gone through each time."""


@dataclass(frozen=True)
class Grounds:
    """What a concluded scene rests on.

    Attributes:
        digest: of everything that its results were made from.
        shown: digest of the results that its report shows.
        outlook: how that everything looked, where this tells that the scene stands.
    """

    digest: str
    shown: str
    outlook: Outlook


NO_GROUNDS = Grounds("", "", NO_OUTLOOK)
"""Those of a scene which the next run concludes anew."""


def concluded(db: sqlite3.Connection, name: str) -> Concluded | None:
    """Return a scene as it was concluded; None where there is nothing to read."""
    row = db.execute("SELECT run, summary FROM scene WHERE name = ?", (raw(name),)).fetchone()
    try:
        return Concluded(int(row[0]), _adapter().validate_json(row[1])) if row is not None else None
    except ValidationError:
        return None


def outlooks(db: sqlite3.Connection) -> dict[str, Outlook]:
    """Return the outlook of every scene that has one, by the name of its folder."""
    rows = db.execute("SELECT name, outlook, sources FROM scene WHERE outlook != ''")
    return {name_of(name): Outlook(digest, tuple(json.loads(sources))) for name, digest, sources in rows}


def grounds_of(db: sqlite3.Connection, name: str) -> Grounds | None:
    """Return what a concluded scene rests on; None where there is none."""
    row = db.execute(
        "SELECT digest, shown, outlook, sources FROM scene WHERE name = ?", (raw(name),)
    ).fetchone()
    if row is None:
        return None
    return Grounds(str(row[0]), str(row[1]), Outlook(str(row[2]), tuple(json.loads(row[3]))))


def keep(db: sqlite3.Connection, name: str, scene: Concluded, grounds: Grounds) -> None:
    """Keep a concluded scene in place of what was there. Call it inside a transaction."""
    text = _adapter().dump_json(scene.summary, warnings="error").decode("utf-8")
    outlook = grounds.outlook
    values = (grounds.digest, grounds.shown, scene.run, text, outlook.digest, json.dumps(outlook.sources))
    db.execute("INSERT OR REPLACE INTO scene VALUES (?, ?, ?, ?, ?, ?, ?)", (raw(name), *values))


def keep_outlook(db: sqlite3.Connection, name: str, outlook: Outlook) -> None:
    """Keep how everything looks now that a scene is made from."""
    values = (outlook.digest, json.dumps(outlook.sources), raw(name))
    db.execute("UPDATE scene SET outlook = ?, sources = ? WHERE name = ?", values)


@cache
def _adapter() -> TypeAdapter[SceneSummary]:
    return TypeAdapter(SceneSummary)
