"""Progress of a check on stderr: a bar on a terminal, a line now and then where nobody watches."""

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

import click
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn
from rich.text import Text

from cel_check.scene.names import shown

_LINE_SECONDS = 30.0
"""A log of a night's run should stay readable."""


class Watcher(Protocol):
    """Is told of every cel that is done."""

    def __call__(self, name: str) -> None:
        """Count one more cel; `name` is its file."""


@contextmanager
def progress(total: int, title: str, quiet: bool) -> Iterator[Watcher]:
    """Show the progress of `total` cels while the context lasts."""
    if quiet:
        yield _say_nothing
    elif sys.stderr.isatty():
        with _bar() as bar:
            task = bar.add_task(_plain(title), total=total)

            def advance(name: str) -> None:
                bar.update(task, advance=1, description=_plain(f"{title} {name}"))

            yield advance
    else:
        yield _lines(total, title)


def _bar() -> Progress:
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    return Progress(*columns, console=Console(stderr=True), transient=True)


def _plain(text: str) -> str:
    # Square brackets in a file's name are no markup.
    return Text(shown(text)[-60:]).markup


def _lines(total: int, title: str) -> Watcher:
    done = 0
    last = time.monotonic()

    def advance(name: str) -> None:
        nonlocal done, last
        done += 1
        if time.monotonic() - last >= _LINE_SECONDS:
            last = time.monotonic()
            click.echo(f"{shown(title)}: {done} of {total} cels", err=True)

    return advance


def _say_nothing(name: str) -> None:
    """Show nothing."""
