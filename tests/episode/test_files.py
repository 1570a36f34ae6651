"""A file is read again only where it could be another one; the clock and coarse times fool nobody."""

import hashlib
import os
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cel_check.episode.files import Contents, hash_of, look_at
from cel_check.episode.memory import Look, unchanged
from cel_check.model.colormodel import Palette
from cel_check.scene.tasks import CelTask
from cel_check.settings import DEFAULTS

OLD = Look(size=10, mtime_ns=1_000 * 10**9, ctime_ns=1_000 * 10**9, seen_ns=2_000 * 10**9)


def task(path, **more):
    return CelTask("A", "1", f"A/{path.name}", path, Palette((), ()), DEFAULTS, 60.0, **more)


def test_a_file_that_looks_the_same_is_the_same():
    assert unchanged(OLD, replace(OLD, seen_ns=OLD.seen_ns + 10**9))
    assert not unchanged(OLD, replace(OLD, size=11))
    assert not unchanged(OLD, replace(OLD, mtime_ns=OLD.mtime_ns + 1))
    assert not unchanged(OLD, replace(OLD, ctime_ns=OLD.ctime_ns + 1))


@given(st.integers(-(10**18), 4 * 10**18), st.integers(-3 * 10**9, 3 * 10**9), st.integers(0, 10**18))
def test_a_file_seen_within_two_seconds_of_its_change_is_read_again_whatever_the_clock_says(
    time, after, later
):
    look = Look(10, time, time, time + after)
    now = replace(look, seen_ns=look.seen_ns + later)
    assert unchanged(look, now) == (after > 2 * 10**9)


def test_a_file_from_the_future_is_read_every_time():
    future = 4 * 10**18  # in 2096
    assert not unchanged(replace(OLD, mtime_ns=future), replace(OLD, mtime_ns=future))


def test_only_a_size_that_is_there_twice_or_known_is_worth_reading_before_the_check(tmp_path):
    path = tmp_path / "a.png"
    path.write_bytes(b"0123456789")
    digest = hashlib.sha256(b"0123456789").hexdigest()
    look = look_at(path)
    assert Contents((), set()).sha256_of(task(path), look, None, read=True) == ""
    assert Contents((), {10}).sha256_of(task(path), look, None, read=True) == digest
    assert Contents((), {10}).sha256_of(task(path), look, None, read=False) == ""
    assert Contents((), {10}).sha256_of(task(path, outside=True), look, None, read=True) == ""


def test_a_known_file_is_not_read_at_all(tmp_path):
    path = tmp_path / "gone.png"
    assert Contents((), {10}).sha256_of(task(path), OLD, (OLD, "known"), read=True) == "known"
    changed = replace(OLD, size=11)
    assert Contents((), {11}).sha256_of(task(path), changed, (OLD, "known"), read=True) == ""


@pytest.mark.skipif(os.name != "posix", reason="pipes and links are POSIX's")
def test_what_is_no_file_is_never_opened(tmp_path):
    os.mkfifo(tmp_path / "pipe.png")
    (tmp_path / "loop.png").symlink_to("loop.png")
    for name in ("pipe.png", "loop.png", "absent.png", ".", "nul\0.png"):
        assert look_at(tmp_path / name) is None


def test_a_file_that_changes_while_it_is_read_has_no_hash(tmp_path):
    path = tmp_path / "a.png"
    path.write_bytes(b"0123456789")
    look = look_at(path)
    path.write_bytes(b"01234567890")
    assert hash_of(path, look) is None
    path.unlink()
    assert hash_of(path, look) is None
