"""A night's run on an episode, start to finish: take it, remember, check what is new, sum up, and write."""

from collections.abc import Callable
from contextlib import AbstractContextManager, closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from cel_check.episode.assemble import breaks_of, pace_of
from cel_check.episode.batch import Batch, BatchPlan, Engine, Watcher
from cel_check.episode.decided import decided_summary, read_log
from cel_check.episode.folder import Episode, FoundEpisode, load_found
from cel_check.episode.keys import checking_program
from cel_check.episode.ledger import FILE_NAME, Ledger, open_ledger, telling
from cel_check.episode.lock import FILE_NAME as LOCK_NAME
from cel_check.episode.lock import RunLock
from cel_check.episode.memory import forget_other_programs
from cel_check.episode.pool import Stop
from cel_check.episode.runs import Run, begin, finish, finished_runs, tally_of, utc_now
from cel_check.episode.untouched import Untouched, held_against
from cel_check.scene.summary import EpisodeSummary, Report, RunLine
from cel_check.settings import Settings

Crew = tuple[Watcher, Engine]
"""Who is told of every cel, and what does the jobs."""


@dataclass(frozen=True)
class NightPlan:
    """How a run is done.

    Attributes:
        settings: the thresholds.
        out: folder of the ledger and of the report; it exists and can be written.
        report: writes a scene's report.
        stop: a request to stop.
        crew: brings the crew for an episode, once it is known what there is to do.
        wait: is told whom the run waits for; None to refuse where another run holds the episode.
        check: whether to check at all; else what is remembered is summed up.
        models: color models that replace those of every scene; empty to use the scenes' own.
    """

    settings: Settings
    out: Path
    report: Report
    stop: Stop
    crew: Callable[[Episode], AbstractContextManager[Crew]]
    wait: Callable[[str], object] | None = None
    check: bool = True
    models: tuple[Path, ...] = ()


Write = Callable[[EpisodeSummary], object]
"""Writes an episode's report."""


def run_night(found: FoundEpisode, plan: NightPlan, write: Write) -> EpisodeSummary:
    """Check an episode, and write its report.

    The run is ended in the ledger only when its report is written, so that a run that dies in between is
    taken up again and not counted twice.

    Raises:
        BadInput: where another run holds the episode, or the ledger or a report cannot be written.
    """
    path = plan.out / FILE_NAME
    with RunLock(plan.out / LOCK_NAME, plan.wait) as lock:
        ledger = open_ledger(path)
        with closing(ledger), telling(path):
            by = held_against(plan.settings, found.keys, plan.models)
            episode = load_found(found, plan.models, Untouched(ledger.db, plan.out, by))
            with plan.crew(episode) as (watch, engine):
                run = begin(ledger.db)
                batch = _through(episode, ledger, plan, run, (_beating(lock, watch), engine))
            summary = _summary(episode, ledger, batch, plan, run)
            write(summary)
            if summary.finished:
                finish(ledger.db, run, tally_of(summary.scenes), summary.ended)
                forget_other_programs(ledger.db, checking_program())
            return summary


def _through(episode: Episode, ledger: Ledger, plan: NightPlan, run: Run, crew: Crew) -> Batch:
    watch, engine = crew
    how = BatchPlan(plan.settings, plan.out, plan.report, plan.stop, watch, run.number, plan.check)
    batch = Batch(episode, ledger, how)
    batch.run(engine)
    batch.settle()
    return batch


def _beating(lock: RunLock, watch: Watcher) -> Watcher:
    """Return a watcher that shows other machines with every cel that the run lives."""

    def watch_and_beat(scene: str, file: str, remembered: bool) -> None:
        lock.beat()
        watch(scene, file, remembered)

    return watch_and_beat


def _summary(episode: Episode, ledger: Ledger, batch: Batch, plan: NightPlan, run: Run) -> EpisodeSummary:
    found = batch.outcomes.summaries()
    scenes = tuple(decided_summary(scene, read_log(ledger.db, scene.name)) for scene in found)
    finished = plan.check and not plan.stop.requested
    ended = utc_now()
    runs = finished_runs(ledger.db)
    now = datetime.now().astimezone()
    return EpisodeSummary(
        name=episode.name,
        number=episode.number,
        title=episode.title,
        scenes=scenes,
        runs=(*runs, RunLine(run.number, run.started, ended, tally_of(scenes))) if finished else runs,
        finished=finished,
        run=run.number,
        started=run.started,
        ended=ended,
        pace=pace_of(scenes, runs, episode.camera_date, now),
        breaks=breaks_of(episode, scenes),
        notes=(*ledger.notes, *episode.notes),
    )
