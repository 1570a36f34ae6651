"""Whatever a command raises becomes an exit status and one line, and never a traceback."""

import errno
import tempfile

import click
import pytest

from cel_check.cli.guard import guarded
from cel_check.errors import BadInput, Problem


def run(error):
    @click.command()
    def command():
        raise error

    return guarded(command, [])


@pytest.mark.parametrize(
    ("error", "status", "line"),
    [
        (
            BadInput(Problem("a\x1b.toml", "line 3", "it is wrong", "Mend it.")),
            2,
            "a\\x1b.toml, line 3: it is wrong.",
        ),
        (click.UsageError("no such thing"), 2, "cel-check: no such thing"),
        (
            OSError(errno.ENOSPC, "No space left on device", "out/report.html"),
            2,
            "out/report.html: No space left",
        ),
        (KeyboardInterrupt(), 130, "Interrupted."),
        (click.Abort(), 130, "Interrupted."),
    ],
)
def test_each_error_has_its_status_and_its_line(capsys, error, status, line):
    assert run(error) == status
    told = capsys.readouterr().err.lstrip("\n")  # click ends the line on which ^C stands
    assert told.startswith(line)
    assert told.count("\n") == 1


def test_every_problem_has_its_line(capsys):
    problems = [Problem("a", "", "it is wrong", "Mend it."), Problem("b", "", "it is wrong", "Mend it.")]
    assert run(BadInput(*problems)) == 2
    assert capsys.readouterr().err == "a: it is wrong. Mend it.\nb: it is wrong. Mend it.\n"


def test_a_defect_is_logged(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    assert run(ZeroDivisionError("a\nb")) == 70
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    (log,) = tmp_path.iterdir()
    assert str(log) in told
    assert "ZeroDivisionError" in log.read_text(encoding="utf-8")


def test_a_defect_without_room_for_a_log_is_told_all_the_same(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "nowhere"))
    assert run(ZeroDivisionError()) == 70
    assert "No log could be written." in capsys.readouterr().err


def test_a_command_s_own_status_is_kept():
    @click.command()
    def command():
        return 3

    assert guarded(command, []) == 3
    assert guarded(command, ["--help"]) == 0
