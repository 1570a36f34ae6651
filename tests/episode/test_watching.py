"""A watched scene is checked cel by cel as it is saved; what is half written waits."""

import os
import signal
import time

import pytest
from episodes import PAINTED_WRONG, make_scene, paint_cel, start, write_model

from cel_check.episode.cel_workers import cel_plan
from cel_check.episode.pool import run_here
from cel_check.episode.watching import PATIENCE_SECONDS, QUIET_SECONDS, SceneWatch
from cel_check.errors import BadInput
from cel_check.faults import Verdict
from cel_check.scene.folder import load_scene
from cel_check.settings import DEFAULTS


@pytest.fixture
def scene(tmp_path):
    write_model(tmp_path / "tilda.toml")
    folder = make_scene(tmp_path / "sc001", drawings=2)
    for path in folder.rglob("*.png"):
        age(path, 60)
    return folder


def age(path, seconds):
    """Make a file look as if it had been saved a while ago."""
    os.utime(path, (time.time() - seconds,) * 2)


class Clock:
    now = 100.0

    def __call__(self):
        return self.now


@pytest.fixture
def watch(scene, monkeypatch):
    # A file's change of inode cannot be set back: only its time of writing counts here.
    monkeypatch.setattr(
        "cel_check.episode.watching._age", lambda task: time.time() - task.path.stat().st_mtime
    )

    def run(tasks):
        return run_here(tasks, cel_plan(1, None))

    return SceneWatch(lambda: load_scene(scene, ()), DEFAULTS, run, Clock())


def after(watch, seconds):
    watch.clock.now += seconds
    return watch.look()


def verdicts(news):
    return {cel.drawing: cel.verdict.value for cel in news.result.cels}


def test_what_is_there_is_checked_at_once_and_nothing_twice(watch):
    news = watch.look()
    assert news.checked == (("A", "1"), ("A", "2"))
    assert news.result.verdict is Verdict.PASS
    assert after(watch, 5) is None


def test_a_new_cel_waits_until_it_has_been_left_alone(watch, scene):
    watch.look()
    paint_cel(scene / "A/A-0003.png", number=3)
    news = watch.look()
    assert (news.checked, verdicts(news)["3"]) == ((), "not-checked")
    paint_cel(scene / "A/A-0003.png", PAINTED_WRONG, 3, size=(170, 90))
    assert after(watch, QUIET_SECONDS) is None, "it has just changed again"
    news = after(watch, QUIET_SECONDS)
    assert news.checked == (("A", "3"),)
    assert verdicts(news)["3"] == "retake"


def test_half_a_file_is_not_said_to_be_broken_before_it_has_been_left_alone_for_long(watch, scene):
    watch.look()
    whole = paint_cel(scene / "A/A-0003.png", number=3).read_bytes()
    (scene / "A/A-0003.png").write_bytes(whole[:200])
    watch.look()
    assert after(watch, QUIET_SECONDS) is None
    age(scene / "A/A-0003.png", PATIENCE_SECONDS + 1)
    news = after(watch, QUIET_SECONDS)
    assert verdicts(news)["3"] == "retake"
    (scene / "A/A-0003.png").write_bytes(whole)
    watch.look()
    assert verdicts(after(watch, QUIET_SECONDS))["3"] == "query", "the sheet does not call it"


def test_a_cel_that_is_being_repainted_no_longer_counts_as_checked(watch, scene):
    watch.look()
    paint_cel(scene / "A/A-0001.png", PAINTED_WRONG, 1)
    assert verdicts(watch.look())["1"] == "not-checked"
    assert verdicts(after(watch, QUIET_SECONDS))["1"] == "retake"


def test_a_changed_model_or_sheet_counts_at_once(watch, scene):
    watch.look()
    write_model(scene.parent / "tilda.toml", coat="#4055C0")
    assert verdicts(watch.look()) == {"1": "retake", "2": "retake"}
    (scene / "sheet.csv").write_text("frame,A\n1,1\n2,2\n3,9\n", encoding="utf-8")
    assert "missing-cel" in {fault.kind.value for fault in watch.look().result.faults}


def test_a_removed_cel_is_gone_from_the_report(watch, scene):
    watch.look()
    (scene / "A/A-0002.png").unlink()
    assert list(verdicts(watch.look())) == ["1"]


def test_a_slip_in_the_scenes_files_is_raised_and_then_mended(watch, scene):
    watch.look()
    (scene / "scene.toml").write_text("schema = 9\n", encoding="utf-8")
    with pytest.raises(BadInput):
        watch.look()
    (scene / "scene.toml").write_text('schema = 1\n[scene]\nmodels = ["../tilda.toml"]\n', encoding="utf-8")
    assert watch.look() is None


@pytest.mark.skipif(os.name != "posix", reason="SIGINT is POSIX's")
def test_the_command_prints_a_line_a_cel_and_keeps_the_report_until_ctrl_c(scene):
    with start("watch", scene, "--jobs", "1") as process:
        lines = [process.stdout.readline() for _ in range(2)]
        paint_cel(scene / "A/A-0001.png", PAINTED_WRONG, 1)
        lines.append(process.stdout.readline())
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert err == ""
    assert [line.split()[:3] for line in lines[:2]] == [["pass", "A", "1"], ["pass", "A", "2"]]
    assert lines[2].split()[:4] == ["retake", "A", "1", "off-model:"]
    assert '"verdict": "retake"' in (scene / "check/report.json").read_text(encoding="utf-8")
