"""Runs the check of scenes for the commands: workers, report, screen and exit status."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import click

from cel_check.cli import screen
from cel_check.cli.common import require_writable, say, stopped_by_signals
from cel_check.cli.options import CheckOptions
from cel_check.cli.progress import progress
from cel_check.cli.status import ExitStatus, status_of
from cel_check.episode.cel_workers import CelPool, cel_plan
from cel_check.episode.pool import Stop
from cel_check.faults import Verdict
from cel_check.report.as_json import report_dict, report_json
from cel_check.report.write import write_report
from cel_check.scene.conduct import conduct
from cel_check.scene.results import CelResult, SceneResult
from cel_check.scene.scene import Scene
from cel_check.scene.tasks import CelTask


@dataclass(frozen=True)
class Job:
    """A scene and where its report goes; None for no report."""

    scene: Scene
    out: Path | None


def check_all(jobs: Sequence[Job], options: CheckOptions) -> ExitStatus:
    """Check scenes one after the other, and print what was found.

    Returns:
        The exit status for all of them.
    """
    for job in jobs:
        if job.out is not None:
            require_writable(job.out)
    stop = Stop()
    verdicts: list[Verdict] = []
    most = max((sum(len(level.drawings) for level in job.scene.levels) for job in jobs), default=1)
    with stopped_by_signals(stop), CelPool(cel_plan(min(options.workers, most), stop)) as pool:
        for job in jobs:
            if stop.requested:
                break
            result = _check(job.scene, options, pool)
            verdicts += _verdicts(result)
            _hand_over(job, result, options, compact=len(jobs) > 1)
    if stop.requested:
        click.echo("Interrupted: the finished cels are kept. Run the command again for the rest.", err=True)
        return ExitStatus.INTERRUPTED
    return status_of(verdicts, options.strict, options.exit_zero)


def _check(scene: Scene, options: CheckOptions, pool: CelPool) -> SceneResult:
    def run(tasks: Sequence[CelTask]) -> Iterator[tuple[int, CelResult]]:
        with progress(len(tasks), scene.name, options.quiet) as advance:
            for place, result in pool.run(tasks):
                advance(result.file)
                yield place, result

    return conduct(scene, options.settings, run)


def _verdicts(result: SceneResult) -> list[Verdict]:
    """Return every verdict that the exit status depends on."""
    return [
        result.verdict,
        *(cel.verdict for cel in result.cels),
        *(fault.verdict for fault in result.faults),
    ]


def _hand_over(job: Job, result: SceneResult, options: CheckOptions, compact: bool) -> None:
    """Write the report and print the findings."""
    report = ""
    if job.out is not None:
        files = write_report(result, job.scene.folder, job.out)
        report = str(next((file for file in files if file.suffix == ".html"), job.out))
    if options.as_json:
        click.echo(json.dumps(report_dict(result)) if compact else report_json(result), nl=compact)
        return
    rows = screen.rows_of(result)
    if options.quiet:
        say([screen.table(rows, most=None)])
    else:
        say([screen.heading(result), screen.table(rows), *result.notes, screen.last_line(result, report)])
