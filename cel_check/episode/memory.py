"""What the ledger knows of pictures and of the results of their checks."""

import sqlite3
import time
from collections.abc import Iterable
from dataclasses import dataclass, replace

from cel_check.episode.codec import CelAnswer, DamagedRowError, decode
from cel_check.episode.keys import CelKey, Terms, terms_of, within_limits
from cel_check.episode.ledger import transaction
from cel_check.episode.rejudge import still_holds
from cel_check.episode.schema import name_of, raw
from cel_check.model.colormodel import Palette
from cel_check.settings import Settings

_COARSE_NS = 2_000_000_000
"""Some drives keep times to two seconds: a file seen so soon after its change may have changed again."""
_PUT = """
INSERT INTO result (sha256, ending, colors, settings, program, terms, width, height, payload, thumbnail)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
"""
_FIND = """
SELECT result.id, width, height FROM result JOIN judgement ON judgement.result = result.id
WHERE sha256 = ? AND ending = ? AND colors = ? AND settings = ? AND program = ? AND judgement.terms = ?
"""
_ALIKE = """
SELECT id, terms, width, height, payload FROM result
WHERE sha256 = ? AND ending = ? AND colors = ? AND settings = ? AND program = ? ORDER BY id DESC
"""


@dataclass(frozen=True)
class Look:
    """A file as it was on disk at a moment: `seen_ns` is the clock's time of that moment."""

    size: int
    mtime_ns: int
    ctime_ns: int
    seen_ns: int


@dataclass(frozen=True)
class Row:
    """A result in the ledger; `whole` is False where its file is no whole picture."""

    number: int
    whole: bool


def pictures_of(db: sqlite3.Connection, scene: str) -> dict[str, tuple[Look, str]]:
    """Return what is known of a scene's files by their path in it: how they looked, and their sha256."""
    rows = db.execute(
        "SELECT file, size, mtime_ns, ctime_ns, seen_ns, sha256 FROM picture WHERE scene = ?", (raw(scene),)
    )
    return {name_of(file): (Look(*look), sha256) for file, *look, sha256 in rows}


def sizes(db: sqlite3.Connection) -> set[int]:
    """Return the sizes in bytes of all known pictures."""
    return {int(row[0]) for row in db.execute("SELECT DISTINCT size FROM picture")}


def unchanged(then: Look, now: Look) -> bool:
    """Return whether a file that looks so has surely the content that it had then."""
    same = (then.size, then.mtime_ns, then.ctime_ns) == (now.size, now.mtime_ns, now.ctime_ns)
    return same and settled(max(then.mtime_ns, then.ctime_ns), then.seen_ns)


def settled(changed_ns: int, seen_ns: int) -> bool:
    """Return whether a file that last changed at one time and was seen at another shows any later change."""
    return changed_ns + _COARSE_NS < seen_ns


def unsure(look: Look) -> Look:
    """Return a look after which a file is read again, however it looks then."""
    return replace(look, seen_ns=0)


def now_ns() -> int:
    """Return the clock's time; it only ever decides whether a file is hashed again."""
    return time.time_ns()


def note_picture(db: sqlite3.Connection, scene: str, file: str, look: Look, sha256: str) -> None:
    """Remember which content a file had when it looked so."""
    values = (raw(scene), raw(file), look.size, look.mtime_ns, look.ctime_ns, look.seen_ns, sha256)
    db.execute("INSERT OR REPLACE INTO picture VALUES (?, ?, ?, ?, ?, ?, ?)", values)


def find(db: sqlite3.Connection, key: CelKey, palette: Palette, settings: Settings) -> Row | None:
    """Return the result that holds for a cel, or None where it must be checked.

    A result that was judged by other tolerances is judged again from what was measured.
    """
    terms = terms_of(palette)
    for row, width, height in db.execute(_FIND, (*_values(key), terms.digest)):
        return Row(int(row), width is not None) if within_limits((width, height), settings) else None
    for row, by, width, height, payload in db.execute(_ALIKE, _values(key)).fetchall():
        if within_limits((width, height), settings) and _holds(payload, by, palette):
            with transaction(db):
                db.execute("INSERT OR IGNORE INTO judgement VALUES (?, ?)", (row, terms.digest))
            return Row(int(row), width is not None)
    return None


def _values(key: CelKey) -> tuple[str, ...]:
    return (key.sha256, key.ending, key.colors, key.settings, key.program)


def _holds(payload: bytes, by: str, palette: Palette) -> bool:
    try:
        return still_holds(decode(payload), by, palette)
    except DamagedRowError:
        return False


def put(db: sqlite3.Connection, key: CelKey, terms: Terms, answer: CelAnswer) -> int:
    """Remember a result and return its row. Call it inside a transaction."""
    known = db.execute(_FIND, (*_values(key), terms.digest)).fetchone()
    if known is not None:
        return int(known[0])
    cursor = db.execute(_PUT, (*_values(key), terms.text, *answer.size, answer.payload, answer.thumbnail))
    row = int(cursor.lastrowid or 0)
    db.execute("INSERT INTO judgement VALUES (?, ?)", (row, terms.digest))
    return row


def load(db: sqlite3.Connection, row: int) -> tuple[bytes, bytes]:
    """Return the payload and the thumbnail of a result.

    Raises:
        DamagedRowError: where the row is gone.
    """
    found = db.execute("SELECT payload, thumbnail FROM result WHERE id = ?", (row,)).fetchone()
    if found is None:
        raise DamagedRowError("the row is gone")
    return bytes(found[0]), bytes(found[1])


def forget(db: sqlite3.Connection, rows: Iterable[int]) -> None:
    """Drop results that cannot be read back."""
    with transaction(db):
        db.executemany("DELETE FROM result WHERE id = ?", [(row,) for row in rows])


def forget_other_programs(db: sqlite3.Connection, program: str) -> None:
    """Drop the results of other versions of the program, which no run will use again."""
    with transaction(db):
        db.execute("DELETE FROM result WHERE program != ?", (program,))
