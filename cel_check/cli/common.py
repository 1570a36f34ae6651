"""What commands have in common: a folder that can be written, lines on the screen, Ctrl-C."""

import os
import signal
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import click

from cel_check.episode.pool import Stop
from cel_check.errors import BadInput, Problem


def require_writable(folder: Path) -> None:
    """Make sure that a report can be written to a folder before the first cel is checked.

    Raises:
        BadInput: where it cannot.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        wrong = f"the report cannot be written there ({error.strerror or type(error).__name__})"
        raise BadInput(Problem(str(folder), "", wrong, "Give another folder with --out DIR.")) from None


def say(lines: Iterable[str]) -> None:
    """Print lines, those that are empty left out."""
    color = False if os.environ.get("NO_COLOR") else None  # no-color.org; None leaves it to the terminal
    for line in lines:
        if line:
            click.echo(line, color=color)


@contextmanager
def stopped_by_signals(stop: Stop) -> Iterator[None]:
    """Let the first Ctrl-C or SIGTERM ask for a stop, and the second end the run at once."""

    def handler(_number: int, _frame: FrameType | None) -> None:
        if stop.requested:
            raise KeyboardInterrupt
        stop.request()

    before = {number: signal.signal(number, handler) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, old in before.items():
            signal.signal(number, old)
