"""Checks cels on a Dask cluster that a studio already has; the same answers as on this machine's cores.

The cluster's workers read the pictures themselves, from storage that they share. Scenes are concluded and
the ledger is written here. A worker that is lost loses nothing: Dask hands its cels to the others; a cel that
kills one worker after the other is not checked.
"""

import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

import cv2
from distributed import CancelledError, Client, Future

from cel_check.episode.codec import CelAnswer
from cel_check.episode.jobs import Answer, Job, lost
from cel_check.episode.keys import checking_program
from cel_check.episode.pool import Stop
from cel_check.episode.scene_task import SceneTask
from cel_check.episode.work import do
from cel_check.errors import BadInput, Problem
from cel_check.scene.tasks import CelTask, unchecked

_CONNECT_SECONDS = 20
_CELS_A_THREAD = 2
"""In flight: one in hand and one to follow, so that no thread waits for the network."""
_LEAST_IN_FLIGHT = 4
_LOOK_SECONDS = 0.2
_PATIENCE = 4.0
"""Times a cel's own limit after which it counts as hung: it may have waited in a queue behind another."""


@dataclass
class _Flight:
    """A cel that the cluster has in hand."""

    place: int
    task: CelTask
    until: float


@contextmanager
def cluster_engine(
    address: str, episode: Path, stop: Stop
) -> Iterator[Callable[[Iterable[Job]], Iterator[tuple[int, Answer]]]]:
    """Connect to a cluster.

    Args:
        address: of its scheduler, as in `tcp://host:8786`.
        episode: the episode's folder, which every worker must see.
        stop: a request to stop.

    Yields:
        The engine.

    Raises:
        BadInput: where the cluster does not answer, has no worker, has another version of the program, or
            does not see the episode.
    """
    try:
        client = Client(address, timeout=_CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        wrong = f"the cluster does not answer ({type(error).__name__})"
        raise BadInput(Problem(address, "", wrong, "Start its scheduler, or correct the address.")) from None
    with client:
        _require_ready(client, address, episode)
        yield _Engine(client, stop).run


def _require_ready(client: Client, address: str, episode: Path) -> None:
    """Refuse a cluster whose answers would differ from this machine's."""
    there: dict[str, tuple[str, bool]] = client.run(_describe, str(episode.resolve()))
    if not there:
        raise BadInput(Problem(address, "", "the cluster has no workers", "Start some with `dask worker`."))
    for worker, (program, sees) in sorted(there.items()):
        if program != checking_program():
            wrong = f"its worker {worker} has another version of cel-check or of its libraries"
            raise BadInput(Problem(address, "", wrong, "Install the same ones everywhere."))
        if not sees:
            wrong = f"its worker {worker} does not see {episode}"
            raise BadInput(Problem(address, "", wrong, "Put the episode on storage that all share."))


def _describe(episode: str) -> tuple[str, bool]:
    return checking_program(), Path(episode).is_dir()


def do_there(job: Job) -> Answer:
    """Check a cel on a worker of the cluster."""
    cv2.setNumThreads(1)
    return do(job)


class _Engine:
    """Hands cels to a cluster, a bounded number at a time."""

    def __init__(self, client: Client, stop: Stop) -> None:
        self._client = client
        self._stop = stop
        self._flights: dict[Future, _Flight] = {}
        self._done: SimpleQueue[Future] = SimpleQueue()

    def run(self, jobs: Iterable[Job]) -> Iterator[tuple[int, Answer]]:
        """Do jobs; what is in hand at a stop is left out."""
        try:
            for place, job in enumerate(jobs):
                if isinstance(job, SceneTask):
                    yield place, do(job)
                else:
                    self._send(place, job)
                while len(self._flights) >= self._room() and not self._stop.requested:
                    yield from self._landed()
                if self._stop.requested:
                    return
            while self._flights and not self._stop.requested:
                yield from self._landed()
        finally:
            self._client.cancel(list(self._flights))
            self._flights.clear()

    def _room(self) -> int:
        threads = sum(int(count) for count in self._client.nthreads().values())
        return max(_LEAST_IN_FLIGHT, _CELS_A_THREAD * threads)

    def _send(self, place: int, task: CelTask) -> None:
        moved = _absolute(task)
        future = self._client.submit(do_there, moved, pure=False)
        self._flights[future] = _Flight(place, task, time.monotonic() + _PATIENCE * task.seconds)
        future.add_done_callback(self._done.put)

    def _landed(self) -> Iterator[tuple[int, Answer]]:
        future = None
        with suppress(Empty):
            future = self._done.get(timeout=_LOOK_SECONDS)
        landed = self._flights.pop(future, None) if future is not None else None
        if landed is not None:
            yield landed.place, _answer(future, landed.task)
        now = time.monotonic()
        for future in [future for future, flight in self._flights.items() if flight.until < now]:
            flight = self._flights.pop(future)
            self._give_up(future)
            yield flight.place, lost(flight.task, f"it took longer than {flight.task.seconds:g} s")

    def _give_up(self, future: Future) -> None:
        """Restart the worker that hangs over a cel; a thread in the middle of a library cannot be ended."""
        holders: dict[str, Any] = self._client.processing()
        workers = [worker for worker, keys in holders.items() if future.key in keys]
        future.cancel()
        with suppress(Exception):
            self._client.restart_workers(workers, timeout=_CONNECT_SECONDS)


def _absolute(task: CelTask) -> CelTask:
    """Return a task that is found whatever a worker's own folder is."""
    return CelTask(**{**vars(task), "path": task.path.absolute()})


def _answer(future: Future, task: CelTask) -> Answer:
    try:
        answer: Answer = future.result()
    except (Exception, CancelledError) as error:
        return lost(task, f"the cluster lost it ({type(error).__name__})")
    if isinstance(answer, CelAnswer) and answer.result is not None and answer.result.sha256 is None:
        return _unseen(answer, task)
    return answer


def _unseen(answer: CelAnswer, task: CelTask) -> CelAnswer:
    """Doubt a worker that could not read a file which is there: its view of the storage may be another."""
    if answer.result is None or answer.result.error is not None or not task.path.is_file():
        return answer
    return CelAnswer(
        result=unchecked(task, "a worker of the cluster could not read the file, which is there")
    )
