"""`cel-check watch`: checks each cel of a scene as it is saved."""

import json
from collections.abc import Iterator
from multiprocessing.connection import wait
from pathlib import Path
from typing import Any

import click

from cel_check.cli.common import require_writable, say, stopped_by_signals
from cel_check.cli.options import CheckOptions, check_options
from cel_check.cli.screen import COLORS
from cel_check.cli.status import ExitStatus
from cel_check.episode.cel_workers import CelPool, cel_plan
from cel_check.episode.pool import Stop
from cel_check.episode.watching import News, SceneWatch, problems_of
from cel_check.errors import BadInput
from cel_check.faults import Verdict
from cel_check.report.as_json import report_dict
from cel_check.report.write import write_report
from cel_check.scene.folder import load_scene
from cel_check.scene.names import shown
from cel_check.scene.results import CelResult

REPORT_FOLDER = "check"
LOOK_SECONDS = 0.5

_EPILOG = """\b
Examples:
  cel-check watch sc012
  cel-check watch sc012 --model palettes/tilda.toml --quiet
\b
One line a cel; the report in SCENE/check is kept current. A file that is still being written waits.
Ctrl-C ends it. With --json each cel is one line of JSON.
"""


@click.command(epilog=_EPILOG)
@click.argument("scene", metavar="SCENE", type=click.Path(path_type=Path))
@check_options
def command(scene: Path, **choices: Any) -> ExitStatus:
    """Check each cel of a SCENE as the painter or the scanner saves it, until Ctrl-C."""
    options = CheckOptions(**choices)
    load_scene(scene, options.model)  # a slip in its files is told at once
    out = options.out or scene / REPORT_FOLDER
    require_writable(out)
    stop = Stop()
    with stopped_by_signals(stop), CelPool(cel_plan(options.workers, stop)) as pool:
        watched = SceneWatch(lambda: load_scene(scene, options.model), options.settings, pool.run)
        told: tuple[str, ...] = ()
        while not stop.requested:
            told = _look(watched, scene, out, options, told)
            wait([stop.reader], LOOK_SECONDS)
    return ExitStatus.INTERRUPTED


def _look(
    watched: SceneWatch, scene: Path, out: Path, options: CheckOptions, told: tuple[str, ...]
) -> tuple[str, ...]:
    """Look once, tell what is new, and return the problems that have been told."""
    try:
        news = watched.look()
    except BadInput as error:
        problems = problems_of(error)
        for line in problems if problems != told else ():
            click.echo(shown(line), err=True)
        return problems
    if news is not None:
        write_report(news.result, scene, out)
        say(_json_lines(news) if options.as_json else _lines(news, options.quiet))
    return ()


def _lines(news: News, quiet: bool) -> Iterator[str]:
    checked = set(news.checked)
    for cel in news.result.cels:
        if (cel.level, cel.drawing) in checked and not (quiet and cel.verdict is Verdict.PASS):
            yield _line(cel)


def _line(cel: CelResult) -> str:
    verdict = click.style(cel.verdict.value.ljust(11), fg=COLORS[cel.verdict])
    what = "; ".join(f"{fault.kind.value}: {fault.text}" for fault in cel.faults) or cel.error or ""
    return f"{verdict}  {shown(cel.level)} {shown(cel.drawing)}  {shown(what)}".rstrip()


def _json_lines(news: News) -> Iterator[str]:
    checked = {(shown(level), shown(drawing)) for level, drawing in news.checked}
    report = report_dict(news.result)
    for cel in report["cels"]:
        key = (cel["level"], cel["drawing"])
        if key in checked:
            own = [fault for fault in report["faults"] if (fault["level"], fault["drawing"]) == key]
            yield json.dumps(cel | {"faults": own})
