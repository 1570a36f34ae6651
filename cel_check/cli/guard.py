"""The one place where errors become exit statuses: a clear line for each, and never a traceback."""

import os
import sys
import tempfile
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

import click

from cel_check.cli.status import ExitStatus
from cel_check.errors import BadInput
from cel_check.scene.names import shown
from cel_check.version import NAME, VERSION


def guarded(command: click.Command, arguments: Sequence[str]) -> int:
    """Run a command and return the exit status, whatever happens."""
    for stream in (sys.stdout, sys.stderr):
        _write_anything(stream)
    status = _run(command, arguments)
    _flush()
    return status


def _run(command: click.Command, arguments: Sequence[str]) -> int:
    try:
        status = command.main(list(arguments), prog_name=NAME, standalone_mode=False)
    except Exception as error:
        return _status_of(error, arguments)
    except KeyboardInterrupt:
        return _interrupted()
    return status if isinstance(status, int) else ExitStatus.PASS


def _status_of(error: Exception, arguments: Sequence[str]) -> ExitStatus:
    match error:
        case click.ClickException():
            click.echo(_usage_line(error), err=True)
        case BadInput():
            for problem in error.problems:
                click.echo(shown(problem.line()), err=True)
        case click.Abort():
            return _interrupted()
        case BrokenPipeError():
            _drop_output()
            return ExitStatus.PASS
        case OSError() if error.errno is not None:
            _tell_refusal(error)
        case _:
            return _defect(error, arguments)
    return ExitStatus.NOT_DONE


def _usage_line(error: click.ClickException) -> str:
    context = error.ctx if isinstance(error, click.UsageError) else None
    command = context.command_path if context else NAME
    return f"{command}: {shown(error.format_message())} See `{command} --help`."


def _interrupted() -> ExitStatus:
    click.echo("Interrupted.", err=True)
    return ExitStatus.INTERRUPTED


def _tell_refusal(error: OSError) -> None:
    """Tell what the system refused: a full disk, a folder that vanished."""
    place = shown(os.fsdecode(error.filename)) if isinstance(error.filename, str | bytes) else "the system"
    click.echo(f"{place}: {error.strerror or error}. Make room or access there, then run again.", err=True)


def _defect(error: Exception, arguments: Sequence[str]) -> ExitStatus:
    lines = [
        f"{NAME} {VERSION}, Python {sys.version.split()[0]}, {sys.platform}",
        f"arguments: {' '.join(shown(argument) for argument in arguments)}",
        *traceback.format_exception(error),
    ]
    where = "No log could be written."
    try:
        with tempfile.NamedTemporaryFile(
            "w", prefix="cel-check-", suffix=".log", delete=False, encoding="utf-8", errors="backslashreplace"
        ) as log:
            log.write("\n".join(lines))
        where = f"Attach this log to your report: {Path(log.name)}"
    except OSError:
        pass
    what = shown(f"{type(error).__name__}: {error}")
    click.echo(f"This is a defect of {NAME}, not of your files ({what}). {where}", err=True)
    return ExitStatus.DEFECT


def _write_anything(stream: TextIO) -> None:
    # A terminal that does not know ΔE must not end the run.
    reconfigure = getattr(stream, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="backslashreplace")


def _flush() -> None:
    try:
        sys.stdout.flush()
    except BrokenPipeError:
        _drop_output()


def _drop_output() -> None:
    """Point stdout at nothing: whoever read it has left, and Python would complain once more at the exit."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
