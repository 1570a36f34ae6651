"""`cel-check episode`: checks every scene of an episode, remembers it, and sums it up."""

from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

import click

from cel_check.cli import screen
from cel_check.cli.common import require_writable, say, stopped_by_signals
from cel_check.cli.options import CheckOptions, check_options
from cel_check.cli.progress import episode_progress
from cel_check.cli.status import ExitStatus, status_of
from cel_check.episode.batch import Engine
from cel_check.episode.folder import Episode, find_episode
from cel_check.episode.jobs import JobPool, job_plan
from cel_check.episode.night import Crew, NightPlan, run_night
from cel_check.episode.pool import Stop
from cel_check.episode.worker import Named
from cel_check.faults import Verdict
from cel_check.report.episode import PAGE, write_episode
from cel_check.report.episode_json import episode_json, worst_faults
from cel_check.report.episode_page import STATE_WORDS, head_sentences, pace_sentences
from cel_check.report.words import plural
from cel_check.scene.names import number_runs, shown
from cel_check.scene.summary import EpisodeSummary, FaultLine, SceneState, SceneSummary

REPORT_FOLDER = "check"
WRITE_SCENE = Named("cel_check.report.write", "write_scene")
_UNSEEN = (SceneState.NOT_CHECKED, SceneState.STALE)

_EPILOG = """\b
Examples:
  cel-check episode signal-hill/ep04
  cel-check episode signal-hill/ep04 --out /reports/ep04 --jobs 8
  cel-check episode /studio/ep04 --cluster tcp://boiler-room:8786
\b
The report goes to FOLDER/check, or with --out to DIR: episode.html, episode.json, retake slips, each
scene's own report, and ledger.sqlite, which remembers every cel. Run it again after a stop: what is
finished is not checked again, and what has changed is.
"""


@click.command(epilog=_EPILOG)
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
@click.option("--cluster", metavar="ADDRESS", help="Check on a Dask cluster, as in tcp://host:8786.")
@click.option("--wait", is_flag=True, help="Wait for another run on the episode to end.")
@click.option("--no-check", is_flag=True, help="Check nothing: sum up what is remembered.")
@check_options
def command(folder: Path, cluster: str | None, wait: bool, no_check: bool, **choices: Any) -> ExitStatus:
    """Check every scene of an episode overnight, and say what stands between it and camera.

    A FOLDER's sub-folders are scenes. Only what has changed since the last run is checked: a repainted cel,
    the cels of a model whose paint has changed, all cels after a change of the program.
    """
    options = CheckOptions(**choices)
    found = find_episode(folder)
    out = options.out or folder / REPORT_FOLDER
    require_writable(out)
    stop = Stop()
    with stopped_by_signals(stop):
        plan = NightPlan(
            settings=options.settings,
            out=out,
            report=WRITE_SCENE,
            stop=stop,
            crew=partial(_crew, cluster, options, stop),
            wait=partial(click.echo, err=True) if wait else None,
            check=not no_check,
            models=options.model,
        )
        summary = run_night(found, plan, partial(write_episode, out=out))
    # A signal that comes when all is done and written interrupts nothing.
    return _hand_over(summary, out, options, interrupted=stop.requested and not summary.finished)


@contextmanager
def _crew(cluster: str | None, options: CheckOptions, stop: Stop, episode: Episode) -> Iterator[Crew]:
    sizes = {entry.name: entry.cels for entry in episode.scenes}
    with (
        episode_progress(sizes, episode.name, options.quiet or options.as_json) as watch,
        _engine(cluster, episode, options, stop) as engine,
    ):
        yield watch, engine


@contextmanager
def _engine(cluster: str | None, episode: Episode, options: CheckOptions, stop: Stop) -> Iterator[Engine]:
    if cluster is None:
        most = max(1, sum(entry.cels for entry in episode.scenes))
        with JobPool(job_plan(min(options.workers, most), stop)) as pool:
            yield pool.run
        return
    try:
        module = import_module("cel_check.episode.cluster")
    except ModuleNotFoundError as error:
        raise click.UsageError(
            f"--cluster needs {error.name}. Install it with: python -m pip install 'cel-check[cluster]'"
        ) from None
    with module.cluster_engine(cluster, episode.folder, stop) as engine:
        yield engine


def _hand_over(summary: EpisodeSummary, out: Path, options: CheckOptions, interrupted: bool) -> ExitStatus:
    for note in summary.notes:
        click.echo(shown(note), err=True)
    if options.as_json:
        click.echo(episode_json(summary), nl=False)
    else:
        say(_lines(summary, out, options.quiet))
    if interrupted:
        click.echo("Interrupted: the finished cels are kept. Run the command again for the rest.", err=True)
        return ExitStatus.INTERRUPTED
    return status_of(_verdicts(summary), options.strict, options.exit_zero)


def _verdicts(summary: EpisodeSummary) -> Iterator[Verdict]:
    """Yield every verdict that the exit status depends on; what was not seen as it is now is not checked."""
    for scene in summary.scenes:
        if scene.state in _UNSEEN:
            yield Verdict.NOT_CHECKED
        if scene.verdict is not None:
            yield scene.verdict
        yield from (verdict for verdict, count in zip(Verdict, scene.cels, strict=True) if count)
        yield from (line.verdict for line in scene.faults)


def _lines(summary: EpisodeSummary, out: Path, quiet: bool) -> Iterator[str]:
    rows = [_row(scene, line) for scene, line in worst_faults(summary, screen.MOST_ROWS)]
    problems = [shown(problem) for scene in summary.scenes for problem in scene.problems]
    if quiet:
        yield from problems
        yield screen.table(rows, most=None)
        return
    states = [scene.state for scene in summary.scenes]
    counts = [f"{states.count(state)} {STATE_WORDS[state]}" for state in SceneState if state in states]
    cels = plural(sum(sum(scene.cels) for scene in summary.scenes), "cel")
    yield f"Episode {shown(summary.number)}: {plural(len(states), 'scene')}, {cels}: {', '.join(counts)}"
    yield from problems
    yield screen.table(rows)
    more = sum(len(scene.faults) for scene in summary.scenes) - len(rows)
    if more > 0:
        yield f"... and {plural(more, 'more finding')} in the report"
    yield from head_sentences(summary)
    yield from pace_sentences(summary.pace)
    yield f"Report: {shown(str(out / PAGE))}"


def _row(scene: SceneSummary, line: FaultLine) -> screen.Row:
    where = " ".join(name for name in (scene.number, line.level, line.drawing) if name)
    runs = number_runs(line.frames, dash="-")
    frames = ", ".join(runs[:3]) + (" ..." if len(runs) > 3 else "") if runs else "none"
    return screen.Row(line.verdict, frames, where, line.kind.value, line.text)
