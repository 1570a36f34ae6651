"""The ledger is whole after anything, is never overwritten, and keeps what people decided."""

import os
import signal
import sqlite3
import subprocess
import sys

import pytest
from episodes import environment

from cel_check.episode.decisions import Decision, Deed, history, record, standing
from cel_check.episode.ledger import open_ledger, reading, telling, transaction
from cel_check.episode.schema import APPLICATION_ID, SCHEMA, name_of, raw
from cel_check.errors import BadInput
from cel_check.faults import SendTo


@pytest.fixture
def path(tmp_path):
    return tmp_path / "ledger.sqlite"


def close(ledger):
    ledger.close()
    return ledger


def begun(path, runs=1):
    """A ledger with some runs in it."""
    ledger = open_ledger(path)
    with transaction(ledger.db):
        ledger.db.executemany(
            "INSERT INTO run (id, started) VALUES (?, ?)", [(n + 1, "x" * 500) for n in range(runs)]
        )
    ledger.close()


def runs_in(path):
    with reading(path) as db:
        return db.execute("SELECT count(*) FROM run").fetchone()[0]


def test_a_new_ledger_says_what_it_is_and_writes_ahead(path):
    ledger = open_ledger(path)
    pragma = {name: ledger.db.execute(f"PRAGMA {name}").fetchone()[0] for name in PRAGMAS}
    ledger.close()
    assert pragma == PRAGMAS
    assert ledger.notes == ()


PRAGMAS = {"application_id": APPLICATION_ID, "user_version": SCHEMA, "journal_mode": "wal", "foreign_keys": 1}


def test_it_is_opened_again_as_it_was(path):
    begun(path, runs=3)
    assert close(open_ledger(path)).notes == ()
    assert runs_in(path) == 3


def test_an_empty_file_is_taken_for_none(path):
    path.touch()
    assert close(open_ledger(path)).notes == ()


@pytest.mark.parametrize("content", [b"my own notes\n", b"SQLite format 3\0" + b"x" * 5000, b"\0"])
def test_a_file_that_is_no_ledger_is_set_aside_and_never_overwritten(path, content):
    path.write_bytes(content)
    (note,) = close(open_ledger(path)).notes
    (aside,) = path.parent.glob("ledger-set-aside-*.sqlite")
    assert aside.read_bytes() == content
    assert aside.name in note
    assert runs_in(path) == 0


def test_a_database_of_another_program_is_set_aside_whole(path):
    db = sqlite3.connect(path)
    db.execute("CREATE TABLE theirs (x)")
    db.execute("INSERT INTO theirs VALUES (42)")
    db.commit()
    db.close()
    (note,) = close(open_ledger(path)).notes
    assert "no ledger of cel-check" in note
    (aside,) = path.parent.glob("ledger-set-aside-*.sqlite")
    with reading(aside) as old:
        assert old.execute("SELECT x FROM theirs").fetchone() == (42,)


def test_two_set_aside_in_one_second_do_not_overwrite_each_other(path):
    for text in (b"one", b"two"):
        path.write_bytes(text)
        open_ledger(path).close()
        path.unlink()
    assert {aside.read_bytes() for aside in path.parent.glob("ledger-set-aside-*.sqlite")} == {b"one", b"two"}


@pytest.mark.parametrize("page", [0, 1, 2])
def test_a_page_of_zeros_is_found_and_the_file_set_aside(path, page):
    begun(path, runs=40)
    data = bytearray(path.read_bytes())
    data[4096 * page : 4096 * (page + 1)] = bytes(4096)
    path.write_bytes(data)
    ledger = close(open_ledger(path))
    assert "set aside" in ledger.notes[0]
    assert runs_in(path) == 0


def test_a_truncated_file_is_set_aside(path):
    begun(path, runs=40)
    path.write_bytes(path.read_bytes()[: 3 * 4096])
    assert "set aside" in close(open_ledger(path)).notes[0]


def test_what_people_decided_is_taken_over_from_a_damaged_ledger(path):
    begun(path, runs=40)
    ledger = open_ledger(path)
    record(ledger.db, Decision("Mara", Deed.PASS, "sc012", "A", "7", "f" * 16, "0" * 64, reason="meant"))
    root = ledger.db.execute("SELECT rootpage FROM sqlite_schema WHERE name = 'run'").fetchone()[0]
    ledger.close()
    data = bytearray(path.read_bytes())
    data[4096 * (root - 1) : 4096 * root] = bytes(4096)
    path.write_bytes(data)
    ledger = open_ledger(path)
    assert "1 decisions of people were taken over" in ledger.notes[0]
    assert [one.reason for one in history(ledger.db, "sc012")] == ["meant"]
    ledger.close()


def test_a_newer_ledger_is_refused_and_left_alone(path):
    begun(path)
    db = sqlite3.connect(path)
    db.execute(f"PRAGMA user_version = {SCHEMA + 1}")
    db.close()
    before = path.read_bytes()
    with pytest.raises(BadInput, match="newer version of cel-check wrote this ledger"):
        open_ledger(path)
    assert path.read_bytes() == before


def test_a_folder_in_its_place_and_a_folder_that_cannot_be_written(path, tmp_path):
    path.mkdir()
    with pytest.raises(BadInput, match="no plain file"):
        open_ledger(path)
    with pytest.raises(BadInput, match="ledger cannot be written"):
        open_ledger(tmp_path / "nowhere" / "ledger.sqlite")


def test_a_full_disk_is_one_clear_line_and_keeps_what_was_there(path):
    begun(path, runs=5)
    ledger = open_ledger(path)
    ledger.db.execute("PRAGMA max_page_count = 1")  # SQLite's own word for a disk that is full
    with pytest.raises(BadInput, match=r"is full\)\. Make room there"):
        fill(ledger)
    assert ledger.db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    ledger.close()
    assert runs_in(path) >= 5


def fill(ledger):
    with telling(ledger.path):
        for _ in range(50):
            with transaction(ledger.db):
                ledger.db.execute("INSERT INTO run (started) VALUES (?)", ("x" * 5000,))


WRITER = """
import sys
from pathlib import Path
from cel_check.episode.decisions import Decision, Deed, record
from cel_check.episode.ledger import open_ledger
ledger = open_ledger(Path(sys.argv[1]))
while True:
    print(record(ledger.db, Decision("Mara", Deed.PASS, "sc012")), flush=True)
"""


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX's")
def test_every_acknowledged_decision_survives_kill_9(path):
    acknowledged = 0
    for lines in (3, 9, 21):
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True, env=environment()
        ) as process:
            for _ in range(lines):
                acknowledged = int(process.stdout.readline())
            process.send_signal(signal.SIGKILL)
            # What it still said before the signal came counts as acknowledged too.
            acknowledged = max([acknowledged, *map(int, process.stdout.read().split())])
        ledger = open_ledger(path)
        assert ledger.notes == ()
        assert ledger.db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert ledger.db.execute("SELECT count(*) FROM decision").fetchone()[0] >= acknowledged
        ledger.close()


def test_decisions_wait_for_the_disk_and_results_do_not(path):
    ledger = open_ledger(path)
    with transaction(ledger.db, lasting=True):
        assert ledger.db.execute("PRAGMA synchronous").fetchone() == (2,)  # FULL
    with transaction(ledger.db):
        assert ledger.db.execute("PRAGMA synchronous").fetchone() == (1,)  # NORMAL
    ledger.close()


def test_a_decision_is_never_changed_or_removed(path):
    ledger = open_ledger(path)
    record(ledger.db, Decision("Mara", Deed.PASS, "sc012"))
    for statement in ("UPDATE decision SET who = 'x'", "DELETE FROM decision"):
        with pytest.raises(sqlite3.IntegrityError, match="a decision is never"):
            ledger.db.execute(statement)
    ledger.close()


def test_a_decision_binds_to_the_fault_and_the_picture_and_can_be_taken_back(path):
    ledger = open_ledger(path)
    db, fault = ledger.db, "f" * 16
    first = record(db, Decision("Mara", Deed.NO_FAULT, "sc012", "A", "7", fault, "0" * 64, reason="meant"))
    retake = Decision("Ida", Deed.RETAKE, "sc012", "A", "7", fault, "0" * 64, SendTo.PAINT)
    second = record(db, retake)
    assert standing(db, "sc012")[fault, "0" * 64].who == "Ida"
    assert (fault, "1" * 64) not in standing(db, "sc012"), "a repainted cel asks again"
    record(db, Decision("Mara", Deed.REVOKE, "sc012", revokes=second))
    assert standing(db, "sc012")[fault, "0" * 64].id == first
    assert [one.deed for one in history(db, "sc012")] == [Deed.NO_FAULT, Deed.RETAKE, Deed.REVOKE]
    assert history(db, "sc013") == ()
    ledger.close()


@pytest.mark.parametrize("name", ["sc012", "城", "a\udce9b", "\ud800", "e\u0301", "x" * 5000, ""])
def test_every_name_comes_back_as_it_was(name):
    assert name_of(raw(name)) == name
