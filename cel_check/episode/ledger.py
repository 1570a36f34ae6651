"""Opens the ledger, one SQLite file beside an episode's report.

A file that is no ledger, or is damaged, is set aside under another name and never overwritten. One process
writes what was found (`lock.py` sees to that), the desk only adds what people decide; workers read.
"""

import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

from cel_check.episode.schema import APPLICATION_ID, PEOPLES, SCHEMA, STEPS
from cel_check.errors import BadInput, Problem

FILE_NAME = "ledger.sqlite"
_MAGIC = b"SQLite format 3\0"
_BUSY_SECONDS = 30.0
_SIDE_FILES = ("", "-wal", "-shm", "-journal")


@dataclass(frozen=True)
class Ledger:
    """An open ledger.

    Attributes:
        db: the one connection that writes; transactions are begun and ended by `transaction`.
        path: the file.
        notes: what a person should know of how it was opened.
    """

    db: sqlite3.Connection
    path: Path
    notes: tuple[str, ...] = ()

    def close(self) -> None:
        """Close the file; what was committed is there already."""
        self.db.close()


def open_ledger(path: Path) -> Ledger:
    """Open a ledger for writing; make it where there is none.

    Raises:
        BadInput: where the file cannot be opened, or was written by a newer version.
    """
    try:
        with telling(path):
            return _open(path)
    except OSError as error:
        wrong = f"the ledger cannot be opened ({error.strerror or type(error).__name__})"
        raise BadInput(Problem(str(path), "", wrong, "See that its folder can be written.")) from error


def _open(path: Path) -> Ledger:
    trouble = _trouble(path)
    if not trouble:
        return Ledger(_opened(path), path)
    aside = _set_aside(path)
    db = _opened(path)
    kept = _rescue(aside, db)
    rescued = f" {kept} decisions of people were taken over from it." if kept else ""
    note = f"{path}: {trouble}; it was set aside as {aside.name}, and every cel is checked again.{rescued}"
    return Ledger(db, path, (note,))


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a ledger for reading only, from whatever process."""
    db = sqlite3.connect(f"file:{quote(os.fsencode(path))}?mode=ro", uri=True, timeout=_BUSY_SECONDS)
    try:
        yield db
    finally:
        db.close()


@contextmanager
def joined(path: Path) -> Iterator[sqlite3.Connection]:
    """Open a ledger that `open_ledger` has looked over, once more, for a thread of its own that writes."""
    db = _opened(path)
    try:
        yield db
    finally:
        db.close()


@contextmanager
def transaction(db: sqlite3.Connection, lasting: bool = False) -> Iterator[None]:
    """Write all or nothing; `lasting` waits until the disk holds it, for what people decided."""
    db.execute(f"PRAGMA synchronous = {'FULL' if lasting else 'NORMAL'}")
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
        db.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):  # a full disk has rolled back already
            db.execute("ROLLBACK")
        raise


@contextmanager
def telling(path: Path) -> Iterator[None]:
    """Turn what SQLite refuses into one clear line.

    Raises:
        BadInput: in place of the error.
    """
    try:
        yield
    except sqlite3.Error as error:
        full = "full" in str(error)
        mend = "Make room there" if full else "See that the folder can be written"
        wrong = f"the ledger cannot be written ({error})"
        again = "then run again: the finished cels are kept."
        raise BadInput(Problem(str(path), "", wrong, f"{mend}, {again}")) from error


def _opened(path: Path) -> sqlite3.Connection:
    db = sqlite3.connect(path, isolation_level=None, timeout=_BUSY_SECONDS)
    try:
        db.execute("PRAGMA journal_mode = WAL")  # where the drive cannot, SQLite keeps its other journal
        db.execute("PRAGMA synchronous = NORMAL")
        db.execute("PRAGMA foreign_keys = ON")
        _migrate(db)
    except BaseException:
        db.close()
        raise
    return db


def _migrate(db: sqlite3.Connection) -> None:
    version = int(db.execute("PRAGMA user_version").fetchone()[0])
    if version == SCHEMA:
        return
    steps = "\n".join(STEPS[version:])
    head = f"PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {SCHEMA};"
    try:
        db.executescript(f"BEGIN IMMEDIATE; {steps} {head} COMMIT;")
    except sqlite3.Error:
        with suppress(sqlite3.Error):
            db.execute("ROLLBACK")
        raise


def _trouble(path: Path) -> str:
    """Return what is wrong with a file as a ledger; empty where it is one, or where a new one can begin."""
    if not path.exists() or (path.is_file() and path.stat().st_size == 0):
        return ""
    if not path.is_file():
        raise BadInput(Problem(str(path), "", "it is no plain file, but the ledger goes there", "Move it."))
    with path.open("rb") as file:
        if file.read(len(_MAGIC)) != _MAGIC:
            return "it is no ledger of cel-check"
    try:
        return _inside(path)
    except sqlite3.DatabaseError as error:
        if isinstance(error, sqlite3.OperationalError) and "malformed" not in str(error):
            raise  # locked, full or unreadable: the file itself may well be whole
        return f"it is damaged ({error})"


def _inside(path: Path) -> str:
    db = sqlite3.connect(path, timeout=_BUSY_SECONDS)
    try:
        application = int(db.execute("PRAGMA application_id").fetchone()[0])
        version = int(db.execute("PRAGMA user_version").fetchone()[0])
        tables = int(db.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0])
        found = str(db.execute("PRAGMA quick_check(1)").fetchone()[0])
    finally:
        db.close()
    if application != APPLICATION_ID:
        return "it is no ledger of cel-check" if tables or application else ""
    if version > SCHEMA:
        wrong = f"a newer version of cel-check wrote this ledger (schema {version}, known {SCHEMA})"
        raise BadInput(Problem(str(path), "", wrong, "Use that version, or give another folder with --out."))
    return "" if found == "ok" else f"it is damaged ({found})"


def _set_aside(path: Path) -> Path:
    """Rename a file and what SQLite keeps beside it; no earlier one is overwritten."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    number = 1
    aside = path.with_name(f"{path.stem}-set-aside-{stamp}{path.suffix}")
    while aside.exists():
        number += 1
        aside = path.with_name(f"{path.stem}-set-aside-{stamp}-{number}{path.suffix}")
    for ending in _SIDE_FILES:
        with suppress(FileNotFoundError):
            Path(f"{path}{ending}").rename(f"{aside}{ending}")
    return aside


def _rescue(aside: Path, db: sqlite3.Connection) -> int:
    """Copy what people decided out of a damaged ledger, as far as it can be read."""
    kept = 0
    with suppress(sqlite3.Error, json.JSONDecodeError), reading(aside) as old:
        if int(old.execute("PRAGMA application_id").fetchone()[0]) != APPLICATION_ID:
            return 0
        with transaction(db, lasting=True):
            for table in PEOPLES:
                kept += _copy(table, old, db)
    return kept


def _copy(table: str, old: sqlite3.Connection, db: sqlite3.Connection) -> int:
    kept = 0
    columns = [str(row[1]) for row in db.execute(f"PRAGMA table_info({table})")]
    names = ", ".join(columns)
    with suppress(sqlite3.Error):
        for row in old.execute(f"SELECT {names} FROM {table} ORDER BY id"):
            with suppress(sqlite3.Error):
                db.execute(f"INSERT INTO {table} ({names}) VALUES ({', '.join('?' * len(row))})", row)
                kept += table == "decision"
    return kept
