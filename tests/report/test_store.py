"""A report is whole or the earlier one stays; what is not ours is never touched."""

import errno
import hashlib
import os
from pathlib import Path

import pytest

from cel_check.errors import BadInput
from cel_check.report.store import PICTURES, Store


def test_a_picture_is_named_after_its_bytes(tmp_path):
    address = Store(tmp_path).put_picture("cel", "png", b"pixels")
    assert address == f"{PICTURES}/cel-{hashlib.sha256(b'pixels').hexdigest()[:16]}.png"
    assert (tmp_path / address).read_bytes() == b"pixels"


def test_a_damaged_picture_of_the_same_name_is_mended(tmp_path):
    path = tmp_path / Store(tmp_path).put_picture("cel", "png", b"pixels")
    path.write_bytes(b"")
    Store(tmp_path).put_picture("cel", "png", b"pixels")
    assert path.read_bytes() == b"pixels"


def test_only_our_stale_pictures_are_swept(tmp_path):
    stale = tmp_path / Store(tmp_path).put_picture("cel", "png", b"old")
    theirs = [tmp_path / PICTURES / name for name in ("note.txt", "cel-0123456789abcdef.png")]
    for path in theirs:
        path.write_bytes(b"mine")
    store = Store(tmp_path)
    kept = tmp_path / store.put_picture("cel", "png", b"new")
    store.sweep()
    assert not stale.exists()
    assert kept.exists()
    assert all(path.exists() for path in theirs)


def test_a_part_left_by_a_killed_run_is_swept_and_a_fresh_one_is_not(tmp_path):
    old, fresh = (tmp_path / f".cel-check-{digit * 16}.part" for digit in "ab")
    for path in (old, fresh):
        path.write_bytes(b"half")
    os.utime(old, (1, 1))
    Store(tmp_path).sweep()
    assert not old.exists()
    assert fresh.exists()


def test_a_full_disk_leaves_the_earlier_report_whole(tmp_path, monkeypatch):
    store = Store(tmp_path)
    store.put_reports({"report.html": b"old page", "report.json": b"old data"})
    calls = []

    def full_disk(number):
        calls.append(number)
        if len(calls) == 2:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(BadInput, match="No space left"):
        store.put_reports({"report.html": b"new page", "report.json": b"new data"})
    assert (tmp_path / "report.html").read_bytes() == b"old page"
    assert (tmp_path / "report.json").read_bytes() == b"old data"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["report.html", "report.json"]


def test_a_folder_that_cannot_be_written_is_one_clear_line(tmp_path):
    (tmp_path / "out").write_text("a file")
    with pytest.raises(BadInput) as caught:
        Store(tmp_path / "out").put_picture("cel", "png", b"pixels")
    assert len(str(caught.value).splitlines()) == 1
    assert "--out" in str(caught.value)


def test_files_are_readable_as_the_user_wants_them(tmp_path):
    mask = os.umask(0o022)
    try:
        (path,) = Store(tmp_path).put_reports({"report.html": b"page"})
    finally:
        os.umask(mask)
    assert Path(path).stat().st_mode & 0o777 == 0o644
