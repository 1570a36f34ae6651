"""Progress is a bar on a terminal, a line now and then in a log, and nothing where quiet is wanted."""

import io
import sys

import pytest

from cel_check.cli import progress as progress_module
from cel_check.cli.progress import progress


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_quiet_shows_nothing(capsys):
    with progress(2, "sc012", quiet=True) as advance:
        advance("A/1.png")
    assert capsys.readouterr() == ("", "")


def test_a_log_gets_a_line_now_and_then(capsys, monkeypatch):
    clock = iter([0.0, 1.0, 31.0, 31.0, 40.0])
    monkeypatch.setattr(progress_module.time, "monotonic", lambda: next(clock))
    with progress(3, "sc\x1b012", quiet=False) as advance:
        for name in ("A/1.png", "A/2.png", "A/3.png"):
            advance(name)
    assert capsys.readouterr() == ("", "sc\\x1b012: 2 of 3 cels\n")


@pytest.mark.parametrize("name", ["A/1.png", "A/[bold]1[/].png", "A/\x1b[2J1.png", "A/[/]1.png"])
def test_a_terminal_gets_a_bar_and_names_are_no_markup(monkeypatch, name):
    screen = Terminal()
    monkeypatch.setattr(sys, "stderr", screen)
    monkeypatch.setenv("TERM", "xterm")
    with progress(1, "sc012", quiet=False) as advance:
        advance(name)
    shown = screen.getvalue()
    assert "1/1" in shown
    assert "\x1b[2J" not in shown
    if "[" in name and "\x1b" not in name:
        assert name in shown
