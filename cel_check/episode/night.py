"""A night's run on an episode, start to finish: take it, remember, check what is new, sum up, and write."""

from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from cel_check.episode.assemble import breaks_of, pace_of
from cel_check.episode.batch import Batch, BatchPlan, Engine, Watcher
from cel_check.episode.decided import decided_summary, read_log
from cel_check.episode.folder import Episode
from cel_check.episode.keys import checking_program
from cel_check.episode.ledger import FILE_NAME, Ledger, open_ledger, telling
from cel_check.episode.lock import FILE_NAME as LOCK_NAME
from cel_check.episode.lock import RunLock
from cel_check.episode.memory import forget_other_programs
from cel_check.episode.pool import Stop
from cel_check.episode.runs import Run, begin, finish, finished_runs, tally_of, utc_now
from cel_check.scene.summary import EpisodeSummary, Report, RunLine
from cel_check.settings import Settings


@dataclass(frozen=True)
class NightPlan:
    """How a run is done.

    Attributes:
        settings: the thresholds.
        out: folder of the ledger and of the report; it exists and can be written.
        report: writes a scene's report.
        stop: a request to stop.
        watch: is told of every cel.
        engine: does the jobs.
        wait: is told whom the run waits for; None to refuse where another run holds the episode.
        check: whether to check at all; else what is remembered is summed up.
    """

    settings: Settings
    out: Path
    report: Report
    stop: Stop
    watch: Watcher
    engine: Engine
    wait: Callable[[str], object] | None = None
    check: bool = True


Write = Callable[[EpisodeSummary], object]
"""Writes an episode's report."""


def run_night(episode: Episode, plan: NightPlan, write: Write) -> EpisodeSummary:
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
            run = begin(ledger.db)
            batch = _through(episode, ledger, plan, run, lock)
            summary = _summary(episode, ledger, batch, plan, run)
            write(summary)
            if summary.finished:
                finish(ledger.db, run, tally_of(summary.scenes), summary.ended)
                forget_other_programs(ledger.db, checking_program())
            return summary


def _through(episode: Episode, ledger: Ledger, plan: NightPlan, run: Run, lock: RunLock) -> Batch:
    def watch(scene: str, file: str, remembered: bool) -> None:
        lock.beat()
        plan.watch(scene, file, remembered)

    how = BatchPlan(plan.settings, plan.out, plan.report, plan.stop, watch, run.number, plan.check)
    batch = Batch(episode, ledger, how)
    batch.run(plan.engine)
    batch.settle()
    return batch


def _summary(episode: Episode, ledger: Ledger, batch: Batch, plan: NightPlan, run: Run) -> EpisodeSummary:
    found = batch.outcomes.summaries(episode.scenes)
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
