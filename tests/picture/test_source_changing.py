"""A file that changes while it is read is read once more, and is never judged on half of its bytes."""

import hashlib
import os

import pytest

from cel_check.errors import Refused
from cel_check.picture.source import read_source
from cel_check.settings import DEFAULTS


@pytest.fixture
def saved_while_read(tmp_path, monkeypatch):
    """A file to which somebody adds a byte while it is read, the first so many times."""
    path = tmp_path / "A-0001.png"
    path.write_bytes(b"half")
    look = os.fstat

    def save_so_often(times):
        left = iter(range(times))

        def look_then_save(number):
            found = look(number)
            if next(left, None) is not None:
                with path.open("ab") as file:
                    file.write(b"+")
            return found

        monkeypatch.setattr(os, "fstat", look_then_save)
        return path

    return save_so_often


def test_one_change_is_read_again(saved_while_read):
    source = read_source(saved_while_read(1), DEFAULTS)
    assert source.data == b"half+"
    assert source.sha256 == hashlib.sha256(b"half+").hexdigest()


def test_two_changes_leave_the_cel_unchecked(saved_while_read):
    with pytest.raises(Refused, match="it changed while it was read, twice"):
        read_source(saved_while_read(2), DEFAULTS)
