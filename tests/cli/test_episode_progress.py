"""The progress of an episode: nothing where it is quiet, a line now and then in a log, two bars on screen."""

import io

import pytest
from rich.console import Console

from cel_check.cli import progress


@pytest.fixture
def clock(monkeypatch):
    """A clock that is set by hand."""

    class Clock:
        now = 1000.0

    monkeypatch.setattr("cel_check.cli.progress.time.monotonic", lambda: Clock.now)
    return Clock


def test_quiet_says_nothing(capsys):
    with progress.episode_progress({"sc001": 2}, "ep", quiet=True) as watch:
        watch("sc001", "A/1.png", False)
    assert capsys.readouterr() == ("", "")


def test_a_log_gets_a_line_now_and_then_with_rate_and_time_left(capsys, clock):
    with progress.episode_progress({"sc001": 10, "sc002": 990}, "ep", quiet=False) as watch:
        for number in range(41):
            watch("sc001", "A/1.png", number < 20)
            clock.now += 1.0
    (line,) = capsys.readouterr().err.splitlines()
    # The 31st cel; ten were checked in ten seconds, and what was remembered does not count as speed.
    assert line == "ep: 31 of 1,000 cels, at sc001, 1.0 a second, 16 min left"


def test_hours_are_told_as_hours():
    assert [progress._minutes(seconds) for seconds in (20, 3599, 3600, 9000)] == [
        "0 min", "1 h 0 min", "1 h 0 min", "2 h 30 min",
    ]  # fmt: skip


def test_a_terminal_gets_a_bar_for_the_episode_and_one_for_the_scene(monkeypatch):
    screen = io.StringIO()
    console = Console(file=screen, force_terminal=True, width=120)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    monkeypatch.setattr(progress, "Console", lambda stderr: console)
    with progress.episode_progress({"sc[1]": 3, "sc002": 2}, "ep", quiet=False) as watch:
        watch("sc[1]", "A/A-0001.png", True)
        watch("sc[1]", "A/A-0002.png", False)
    text = screen.getvalue()
    assert "2/5" in text
    assert "sc[1] A/A-0002.png" in text
