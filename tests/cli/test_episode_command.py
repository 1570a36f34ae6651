"""`cel-check episode` survives whatever ends it, says what stands, and answers with the right status."""

import json
import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import jsonschema
import pytest

ROOT = Path(__file__).resolve().parents[2]
sys.path.append(str(ROOT / "tests" / "episode"))

from episodes import (  # noqa: E402
    PAINTED_WRONG,
    environment,
    everything_in,
    make_episode,
    paint_cel,
    run,
    start,
)

POSIX = pytest.mark.skipif(os.name != "posix", reason="signals and limits are POSIX's")
KILLS = 20
SCHEMA = json.loads((ROOT / "cel_check/report/episode_schema.json").read_text(encoding="utf-8"))


@pytest.fixture
def episode(tmp_path):
    return make_episode(tmp_path / "ep01", scenes=2, drawings=3)


@pytest.fixture(scope="module")
def undisturbed(tmp_path_factory):
    """An episode with faults, and the report of a run that nobody disturbed."""
    folder = make_episode(tmp_path_factory.mktemp("night") / "ep01", scenes=3, drawings=8)
    paint_cel(folder / "sc001/A/A-0002.png", PAINTED_WRONG, 2)
    paint_cel(folder / "sc003/A/A-0005.png", PAINTED_WRONG, 21)
    (folder / "sc002/A/A-0004.png").write_bytes((folder / "sc002/A/A-0004.png").read_bytes()[:200])
    shutil.copy(folder / "sc001/A/A-0001.png", folder / "sc003/A/A-0001.png")
    out = folder.parent / "undisturbed"
    assert run("episode", folder, "--out", out, "--jobs", "2").returncode == 1
    return folder, everything_in(out)


def report(out):
    found = json.loads((out / "episode.json").read_text(encoding="utf-8"))
    jsonschema.validate(found, SCHEMA, jsonschema.Draft202012Validator)
    return found


def sound(out):
    db = sqlite3.connect(out / "ledger.sqlite")
    try:
        return db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    finally:
        db.close()


def done_with(out):
    """Whether the last run on this ledger came to its end: then the next one is a second look."""
    if not (out / "ledger.sqlite").exists():
        return False
    db = sqlite3.connect(out / "ledger.sqlite")
    try:
        return db.execute("SELECT finished FROM run ORDER BY id DESC LIMIT 1").fetchone() not in (
            None,
            (None,),
        )
    except sqlite3.OperationalError:
        return False
    finally:
        db.close()


def children(pid):
    return [int(one) for one in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def test_an_episode_that_passes(episode):
    done = run("episode", episode, "--jobs", "1")
    assert (done.returncode, done.stderr) == (0, "")
    lines = done.stdout.splitlines()
    assert lines[0] == "Episode ep01: 2 scenes, 6 cels: 2 passed"
    assert lines[-1] == f"Report: {episode / 'check' / 'episode.html'}"
    found = report(episode / "check")
    assert found["finished"]
    assert found["counts"]["scenes"]["passed"] == 2
    for scene in found["scenes"]:
        assert (episode / "check" / scene["report"]).is_file()


def test_faults_and_broken_scenes_decide_the_status(episode):
    paint_cel(episode / "sc001/A/A-0002.png", PAINTED_WRONG, 2)
    done = run("episode", episode, "--jobs", "1", "--quiet")
    assert done.returncode == 1
    assert "001 A 2" in done.stdout
    assert run("episode", episode, "--exit-zero", "--quiet").returncode == 0
    (episode / "sc002/scene.toml").write_text("schema = 9\n", encoding="utf-8")
    done = run("episode", episode, "--exit-zero", "--quiet")
    assert done.returncode == 3
    assert "sc002/scene.toml, line 1" in done.stdout


def test_json_is_the_report_and_nothing_else(episode):
    done = run("episode", episode, "--json", "--jobs", "1")
    assert done.stderr == ""
    assert done.stdout == (episode / "check/episode.json").read_text(encoding="utf-8")


def test_what_is_remembered_is_summed_up_without_checking(episode):
    assert run("episode", episode, "--jobs", "1", "--quiet").returncode == 0
    assert run("episode", episode, "--no-check", "--quiet").returncode == 0
    paint_cel(episode / "sc001/A/A-0002.png", PAINTED_WRONG, 2)
    done = run("episode", episode, "--no-check")
    assert done.returncode == 3
    assert "1 passed, 1 stale" in done.stdout


def test_a_foreign_ledger_is_told_of_and_set_aside(episode):
    (episode / "check").mkdir()
    (episode / "check/ledger.sqlite").write_text("my notes", encoding="utf-8")
    done = run("episode", episode, "--jobs", "1", "--quiet")
    assert done.returncode == 0
    assert "ledger.sqlite: it is no ledger of cel-check; it was set aside as ledger-set-aside-" in done.stderr
    assert [path.read_text() for path in (episode / "check").glob("*aside*")] == ["my notes"]


def test_a_folder_that_is_no_episode_is_one_line(tmp_path):
    done = run("episode", tmp_path)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert "there are no scenes in it" in done.stderr


def test_an_out_that_is_no_folder_is_told_before_the_first_cel(episode):
    done = run("episode", episode, "--out", episode / "tilda.toml" / "x")
    assert done.returncode == 2
    assert "the report cannot be written there" in done.stderr


@POSIX
def test_the_episode_itself_is_never_written_to(episode, tmp_path):
    def state():
        found = sorted(path for path in episode.rglob("*") if path.is_file())
        return {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in found}

    before = state()
    assert run("episode", episode, "--out", tmp_path / "out", "--quiet", "--jobs", "1").returncode == 0
    assert state() == before


@POSIX
def test_a_second_run_is_told_who_holds_the_episode(undisturbed, tmp_path):
    folder, _ = undisturbed
    with start("episode", folder, "--out", tmp_path, "--jobs", "1") as first:
        wait_for(tmp_path / "ledger.lock")
        second = run("episode", folder, "--out", tmp_path)
        first.kill()
    assert second.returncode == 2
    assert f"another run holds this episode: process {first.pid} on " in second.stderr
    assert run("episode", folder, "--out", tmp_path, "--quiet").returncode == 1


def wait_for(path):
    """Wait until a run has taken the episode."""
    for _ in range(600):
        if path.exists() and path.stat().st_size:
            return
        time.sleep(0.05)
    raise AssertionError(path)


@POSIX
def test_killed_at_random_moments_and_run_again_it_ends_as_if_undisturbed(undisturbed, tmp_path):
    folder, expected = undisturbed
    chance = random.Random(6)
    kills = rounds = 0
    while kills < KILLS:  # only those count that came before the run's end
        out = tmp_path / f"round-{rounds}"
        out.mkdir()
        while True:
            with start("episode", folder, "--out", out, "--jobs", "2") as process:
                if kills < KILLS:
                    wait_for(out / "ledger.lock") if chance.random() < 0.8 else None
                    time.sleep(chance.uniform(0.0, 1.5))
                    process.kill()
                process.communicate()
            assert process.returncode in (1, -signal.SIGKILL)
            assert not (out / "ledger.sqlite").exists() or sound(out)
            if done_with(out):
                break
            kills += 1
        assert everything_in(out) == expected
        rounds += 1


@POSIX
def test_a_killed_worker_costs_nothing(undisturbed, tmp_path):
    folder, expected = undisturbed
    with start("episode", folder, "--out", tmp_path, "--jobs", "2", "--quiet") as process:
        wait_for(tmp_path / "ledger.lock")
        killed = 0
        while killed < 2 and process.poll() is None:
            for child in workers_of(process.pid)[:1]:
                os.kill(child, signal.SIGKILL)
                killed += 1
            time.sleep(0.3)
        process.communicate()
    assert killed
    assert process.returncode == 1
    assert everything_in(tmp_path) == expected


def workers_of(pid):
    """The worker processes of a run, without the one that keeps track of its resources."""
    found = []
    for child in children(pid):
        try:
            if b"spawn_main" in Path(f"/proc/{child}/cmdline").read_bytes():
                found.append(child)
        except OSError:
            continue
    return found


@POSIX
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_stop_keeps_what_is_finished_and_leaves_no_process(undisturbed, tmp_path, number):
    folder, expected = undisturbed
    with start("episode", folder, "--out", tmp_path, "--jobs", "2", start_new_session=True) as process:
        wait_for(tmp_path / "ledger.lock")
        time.sleep(0.3)
        workers = workers_of(process.pid)
        process.send_signal(number)
        _, err = process.communicate(timeout=60)
    assert not [pid for pid in workers if Path(f"/proc/{pid}").exists()]
    if process.returncode == 130:
        assert "the finished cels are kept" in err
        assert not report(tmp_path)["finished"]
        run("episode", folder, "--out", tmp_path, "--quiet")
    else:
        assert process.returncode == 1, "a fast machine was done before the signal came"
    assert everything_in(tmp_path) == expected


FULL = """
import subprocess, sys
from pathlib import Path
folder, out = Path(sys.argv[1]), Path(sys.argv[2])
tool = [sys.executable, "-m", "cel_check", "episode", str(folder), "--out", str(out), "-j", "1", "--quiet"]
def mount(*options):
    subprocess.run(["mount", *options, str(out)], check=True)
mount("-t", "tmpfs", "-o", "size=400k", "tmpfs")
first = subprocess.run(tool, capture_output=True, text=True)
print(first.returncode, first.stderr.count("\\n"), first.stderr, file=sys.stderr)
assert first.returncode == 2 and first.stderr.count("\\n") == 1, first
assert "No space left" in first.stderr or "full" in first.stderr, first
assert not [path for path in out.rglob("*") if path.suffix in {".html", ".json"} and not path.stat().st_size]
mount("-o", "remount,size=100m")
second = subprocess.run(tool, capture_output=True, text=True)
assert second.returncode == 1, second
subprocess.run(["cp", "-r", str(out) + "/.", sys.argv[3]], check=True)
"""


@pytest.fixture
def mounting():
    """The command that lets a process mount file systems that only it and its children see."""
    if sys.platform != "linux":
        pytest.skip("file systems of one's own are Linux's")
    alone = (
        ["unshare", "--mount"] if os.geteuid() == 0 else ["unshare", "--user", "--map-root-user", "--mount"]
    )
    if shutil.which("unshare") is None or subprocess.run([*alone, "true"], check=False).returncode:
        pytest.skip("this machine lets nobody mount a file system of one's own")
    return alone


def test_a_full_disk_is_one_line_and_what_is_finished_is_kept(undisturbed, tmp_path, mounting):
    folder, expected = undisturbed
    small, copy = tmp_path / "small", tmp_path / "copy"
    small.mkdir()
    copy.mkdir()
    command = [*mounting, sys.executable, "-c", FULL, str(folder), str(small), str(copy)]
    done = subprocess.run(command, env=environment(), capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert everything_in(copy) == expected


READ_ONLY = """
import subprocess, sys
subprocess.run(["mount", "-t", "tmpfs", "-o", "ro,size=1m", "tmpfs", sys.argv[2]], check=True)
tool = [sys.executable, "-m", "cel_check", "episode", sys.argv[1], "--out", sys.argv[2]]
sys.exit(subprocess.run(tool).returncode)
"""


def test_a_read_only_place_is_told_before_the_first_cel(episode, tmp_path, mounting):
    out = tmp_path / "out"
    out.mkdir()
    command = [*mounting, sys.executable, "-c", READ_ONLY, str(episode), str(out)]
    done = subprocess.run(command, env=environment(), capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("\n") == 1
    assert "the report cannot be written there (Read-only file system)" in done.stderr
