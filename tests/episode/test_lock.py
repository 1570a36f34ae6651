"""One run at a time: the second is told who holds the episode, and a killed run holds nothing."""

import json
import os
import signal
import socket
import subprocess
import sys
import threading
import time

import pytest
from episodes import environment

from cel_check.episode.lock import RunLock
from cel_check.errors import BadInput

HOLD = """
import sys, time
from pathlib import Path
from cel_check.episode.lock import RunLock
with RunLock(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(600)
"""


@pytest.fixture
def path(tmp_path):
    return tmp_path / "ledger.lock"


@pytest.fixture
def holder(path):
    """A process that holds the episode."""
    command = [sys.executable, "-c", HOLD, str(path)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment()) as process:
        assert process.stdout.readline() == "held\n"
        yield process
        process.kill()


def test_the_second_run_is_told_who_holds_it(path, holder):
    with pytest.raises(BadInput) as told, RunLock(path):
        pass
    line = told.value.problems[0].line()
    assert f"process {holder.pid} on {socket.gethostname()}, since 20" in line
    assert "--wait" in line


@pytest.mark.skipif(os.name != "posix", reason="SIGKILL is POSIX's")
def test_a_killed_run_holds_nothing(path, holder):
    holder.send_signal(signal.SIGKILL)
    holder.wait()
    assert json.loads(path.read_text())["pid"] == holder.pid
    with RunLock(path):
        assert json.loads(path.read_text())["pid"] == os.getpid()
    assert path.read_text() == ""


def test_who_waits_gets_it_when_it_is_free(path, holder):
    threading.Timer(0.3, holder.kill).start()
    told = []
    with RunLock(path, wait=told.append):
        assert json.loads(path.read_text())["pid"] == os.getpid()
    assert [f"process {holder.pid} on" in line for line in told] == [True]


def elsewhere(path, age):
    path.write_text(json.dumps({"pid": 7, "host": "the-other-desk", "since": "2026-11-25T01:02:03+00:00"}))
    os.utime(path, (time.time() - age,) * 2)


def test_a_run_on_another_machine_holds_it_as_long_as_it_shows_life(path):
    elsewhere(path, age=60)
    with pytest.raises(BadInput, match="process 7 on the-other-desk, since 2026-11-25"), RunLock(path):
        pass
    elsewhere(path, age=3600)
    with RunLock(path):
        pass


def test_a_beat_shows_life(path, monkeypatch):
    with RunLock(path) as lock:
        os.utime(path, (0, 0))
        lock.beat()
        assert path.stat().st_mtime == 0, "not for every cel"
        monkeypatch.setattr("cel_check.episode.lock._BEAT_SECONDS", -1.0)
        lock.beat()
        assert time.time() - path.stat().st_mtime < 60


@pytest.mark.parametrize("text", ["", "{", "[]", '{"pid": 1}', "\x00" * 10])
def test_a_lock_file_of_nonsense_holds_nothing(path, text):
    path.write_text(text)
    with RunLock(path):
        pass


def test_a_folder_that_cannot_be_written_is_one_line(tmp_path):
    with pytest.raises(BadInput, match="the episode cannot be locked"), RunLock(tmp_path / "no" / "x.lock"):
        pass
