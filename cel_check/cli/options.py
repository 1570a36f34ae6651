"""The options that the checking commands have in common."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import click

from cel_check.episode.cel_workers import cores
from cel_check.settings import DEFAULTS, Settings

Function = TypeVar("Function", bound=Callable[..., Any])


@dataclass(frozen=True)
class CheckOptions:
    """What a user chose for a check; the names are those of the options."""

    model: tuple[Path, ...]
    out: Path | None
    jobs: int | None
    strict: bool
    exit_zero: bool
    as_json: bool
    quiet: bool
    max_megapixels: float

    @property
    def settings(self) -> Settings:
        """The thresholds with the user's choices."""
        return replace(DEFAULTS, max_megapixels=self.max_megapixels)

    @property
    def workers(self) -> int:
        """The number of worker processes."""
        return self.jobs or cores()


_OPTIONS = (
    click.option(
        "--model",
        "-m",
        multiple=True,
        type=click.Path(path_type=Path),
        help="Color model for every level, instead of those of scene.toml. Repeat it for more characters.",
    ),
    click.option(
        "--out", "-o", type=click.Path(path_type=Path), metavar="DIR", help="Write the report to DIR."
    ),
    click.option("--jobs", "-j", type=click.IntRange(1, 256), help="Worker processes. Default: one a core."),
    click.option("--strict", is_flag=True, help="A query counts as a retake for the exit status."),
    click.option(
        "--exit-zero", is_flag=True, help="Retakes leave the exit status at 0; cels not checked do not."
    ),
    click.option("--json", "as_json", is_flag=True, help="Print report.json to stdout, and nothing else."),
    click.option("--quiet", "-q", is_flag=True, help="Print findings only: nothing at all where all pass."),
    click.option(
        "--max-megapixels",
        type=click.FloatRange(0, min_open=True),
        default=DEFAULTS.max_megapixels,
        show_default=True,
        help="Larger pictures are not checked.",
    ),
)


def check_options(function: Function) -> Function:
    """Give a command the common options, as keyword arguments for `CheckOptions`."""
    for option in reversed(_OPTIONS):
        function = option(function)
    return function
