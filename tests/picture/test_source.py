"""Only the whole bytes of a regular file are handed on; a drive that drops out is asked again."""

import errno
import os
import stat
import time

import pytest

from cel_check.errors import BadPicture, Refused
from cel_check.picture.source import read_source
from cel_check.settings import DEFAULTS, Settings


def reason_for(path):
    with pytest.raises(BadPicture) as caught:
        read_source(path, DEFAULTS)
    return caught.value.reason


def test_what_is_no_file_is_named_and_not_opened(tmp_path, monkeypatch):
    folder, pipe, device = (tmp_path / name for name in ("folder.png", "pipe.png", "device.png"))
    folder.mkdir()
    os.mkfifo(pipe)
    device.symlink_to("/dev/zero")

    def opened(*_):
        raise AssertionError("opened")

    monkeypatch.setattr(os, "open", opened)
    assert reason_for(folder) == "is a folder, not a picture"
    assert reason_for(pipe) == "is a pipe, not a picture"
    assert reason_for(device) == "is a device, not a picture"


def test_a_pipe_put_in_the_files_place_does_not_hang(tmp_path, monkeypatch):
    path = tmp_path / "cel.png"
    os.mkfifo(path)
    regular = tmp_path / "other"
    regular.write_bytes(b"x")
    looks = iter([regular.stat()])
    monkeypatch.setattr(type(path), "stat", lambda self: next(looks))
    assert reason_for(path) == "is a pipe, not a picture"


def test_an_empty_file_is_called_empty(tmp_path):
    (tmp_path / "cel.png").touch()
    assert reason_for(tmp_path / "cel.png") == "is empty (0 bytes)"


def test_links_that_lead_nowhere_or_in_a_circle_are_told_of(tmp_path):
    dangling, circle = tmp_path / "a.png", tmp_path / "b.png"
    dangling.symlink_to(tmp_path / "gone.png")
    circle.symlink_to(circle)
    assert "a link that leads nowhere" in reason_for(dangling)
    assert reason_for(circle) == "is a link that leads back to itself"


def test_a_link_to_a_file_is_read(tmp_path):
    (tmp_path / "a").write_bytes(b"bytes")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    assert read_source(tmp_path / "b", DEFAULTS).data == b"bytes"


def test_a_file_that_may_not_be_read_is_told_of(tmp_path, monkeypatch):
    path = tmp_path / "cel.png"
    path.write_bytes(b"x")

    def forbidden(*_):
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(os, "open", forbidden)
    assert reason_for(path) == "may not be read by you"


def test_a_name_with_a_zero_byte_is_told_of(tmp_path):
    assert reason_for(tmp_path / "a\0b.png") == "has a name that no file can have"


def test_a_file_larger_than_any_picture_within_the_limits_is_refused_unread(tmp_path, monkeypatch):
    path = tmp_path / "cel.png"
    with path.open("wb") as file:
        file.truncate(100 << 20)
    monkeypatch.setattr(os, "open", None)
    with pytest.raises(Refused, match="105 MB are more than a picture of 1 megapixels can take"):
        read_source(path, Settings(max_megapixels=1))


@pytest.fixture
def drive(tmp_path, monkeypatch):
    """A drive whose first answers are errors."""
    path = tmp_path / "cel.png"
    path.write_bytes(b"whole")
    waits = []
    monkeypatch.setattr(time, "sleep", waits.append)
    really_open = os.open

    def drops_out(number, times):
        left = iter(range(times))

        def answer(*given):
            if next(left, None) is not None:
                raise OSError(number, os.strerror(number))
            return really_open(*given)

        monkeypatch.setattr(os, "open", answer)
        return path, waits

    return drops_out


@pytest.mark.parametrize("number", [errno.EIO, errno.ESTALE, errno.ETIMEDOUT])
def test_a_drive_that_drops_out_is_asked_three_times_more(drive, number):
    path, waits = drive(number, 3)
    assert read_source(path, DEFAULTS).data == b"whole"
    assert len(waits) == 3
    assert waits == sorted(waits)


def test_a_drive_that_stays_away_is_told_of(drive):
    path, waits = drive(errno.EIO, 4)
    assert reason_for(path) == "cannot be read from its drive (Input/output error)"
    assert len(waits) == 3


def test_other_errors_are_not_tried_again(drive):
    path, waits = drive(errno.EISDIR, 1)
    assert "cannot be read" in reason_for(path)
    assert waits == []


def test_the_file_and_its_times_stay_as_they_are(tmp_path):
    path = tmp_path / "cel.png"
    path.write_bytes(b"whole")
    path.chmod(stat.S_IRUSR)
    before = path.stat()
    read_source(path, DEFAULTS)
    assert (path.stat().st_mtime_ns, path.stat().st_mode) == (before.st_mtime_ns, before.st_mode)
