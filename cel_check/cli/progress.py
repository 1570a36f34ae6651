"""Progress of a check on stderr: a bar on a terminal, a line now and then where nobody watches."""

import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import Protocol

import click
from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    ProgressColumn,
    Task,
    TextColumn,
    TimeRemainingColumn,
)
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


class SceneWatcher(Protocol):
    """Is told of every cel of an episode that is done."""

    def __call__(self, scene: str, file: str, remembered: bool) -> None:
        """Count one more cel; `remembered` where it did not have to be checked."""


@contextmanager
def episode_progress(sizes: Mapping[str, int], title: str, quiet: bool) -> Iterator[SceneWatcher]:
    """Show the progress of an episode, over all and of the scene that is in hand.

    Args:
        sizes: how many cels each scene has.
        title: the episode's name.
        quiet: show nothing.
    """
    total = sum(sizes.values())
    if quiet:
        yield _say_nothing_of_scenes
    elif sys.stderr.isatty():
        with _bar(_Rate()) as bar:
            yield _SceneBars(bar, sizes, title)
    else:
        yield _SceneLines(total, title)


class _Rate(TextColumn):
    """Cels a second, those left out that were remembered."""

    def __init__(self) -> None:
        super().__init__("")

    def render(self, task: Task) -> Text:
        rate = task.fields.get("rate", 0.0)
        return Text(f"{rate:.1f} a second" if rate else "")


class _Rates:
    """Counts what was checked, as against remembered, and how fast."""

    def __init__(self) -> None:
        self.done = self.checked = 0
        self._start = time.monotonic()

    def count(self, remembered: bool) -> None:
        if not self.checked:
            self._start = time.monotonic()  # the clock runs from the first cel that is checked
        self.done += 1
        self.checked += not remembered

    @property
    def rate(self) -> float:
        seconds = time.monotonic() - self._start
        return (self.checked - 1) / seconds if self.checked > 1 and seconds > 0 else 0.0


class _SceneBars:
    """Two bars: the episode, and the scene of the last cel."""

    def __init__(self, bar: Progress, sizes: Mapping[str, int], title: str) -> None:
        self._bar, self._sizes, self._rates = bar, sizes, _Rates()
        self._done: dict[str, int] = {}
        self._all = bar.add_task(_plain(title), total=sum(sizes.values()))
        self._one = bar.add_task("", total=1, visible=False)

    def __call__(self, scene: str, file: str, remembered: bool) -> None:
        self._rates.count(remembered)
        self._done[scene] = self._done.get(scene, 0) + 1
        self._bar.update(self._all, advance=1, rate=self._rates.rate)
        if not remembered:
            total, done = self._sizes.get(scene, 1), self._done[scene]
            words = _plain(f"{scene} {file}")
            self._bar.update(self._one, total=total, completed=done, description=words, visible=True)


class _SceneLines:
    """A line now and then, with rate and time left."""

    def __init__(self, total: int, title: str) -> None:
        self._total, self._title, self._rates = total, shown(title), _Rates()
        self._last = time.monotonic()

    def __call__(self, scene: str, file: str, remembered: bool) -> None:
        self._rates.count(remembered)
        if time.monotonic() - self._last < _LINE_SECONDS:
            return
        self._last = time.monotonic()
        done, rate = self._rates.done, self._rates.rate
        speed = f", {rate:.1f} a second, {_minutes((self._total - done) / rate)} left" if rate else ""
        click.echo(f"{self._title}: {done:,} of {self._total:,} cels, at {shown(scene)}{speed}", err=True)


def _minutes(seconds: float) -> str:
    minutes = round(seconds / 60)
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"


def _say_nothing_of_scenes(scene: str, file: str, remembered: bool) -> None:
    """Show nothing."""


def _bar(*more: ProgressColumn) -> Progress:
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), *more)
    return Progress(*columns, TimeRemainingColumn(), console=Console(stderr=True), transient=True)


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
