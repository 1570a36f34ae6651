"""Runs tasks on spawned worker processes; what kills, hangs or fills its worker costs that one task.

One supervisor owns the workers. Each worker holds one task at a time and talks over a pipe of its own, so a
worker that dies takes nothing with it but that task. A task whose worker died, hung or ran out of memory is
tried once more when all others are done, alone in a fresh worker; after a second loss it is lost. Workers are
always spawned: a process forked after native libraries ran can hang for good.
"""

import pickle
import signal
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import islice
from multiprocessing import get_context, resource_tracker
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from typing import Final, Generic, Self, TypeVar

from cel_check.episode.worker import Done, Failed, Full, Ready, work
from cel_check.errors import CelCheckError

Task = TypeVar("Task")
Result = TypeVar("Result")

START_METHOD: Final = "spawn"
_START_SECONDS = 300.0
"""A worker imports its libraries in a second; on a machine that swaps it takes minutes."""
_STARTS_IN_VAIN = 3
"""Workers that end before they are ready, one after the other, before the pool gives up."""
_GRACE_SECONDS = 1.0
"""After a stop, for the tasks in hand: a checker should have the prompt back within two seconds."""
AHEAD = 64
"""Tasks that are looked out at most while the first workers start, when there is nothing else to do."""
_EXIT_SECONDS = 1.0
"""For a worker that was told to leave, before it is killed."""


class PoolBrokenError(CelCheckError):
    """No worker can be started; the run cannot go on."""


class Stop:
    """A request to stop, which a signal handler may make at any moment and which wakes the supervisor."""

    def __init__(self) -> None:
        """Open the pipe that wakes the supervisor."""
        self.reader, self._writer = get_context(START_METHOD).Pipe(duplex=False)
        self.requested = False

    def request(self) -> None:
        """Ask the supervisor to take on no more tasks and to end its workers."""
        if not self.requested:
            self.requested = True
            self._writer.send_bytes(b"stop")


def nothing() -> None:
    """Prepare nothing."""


@dataclass(frozen=True)
class Plan(Generic[Task, Result]):
    """How tasks are run.

    Attributes:
        function: runs one task; importable by name.
        lost: makes the result of a task that could not be run, from the task and the reason.
        seconds: how long a task may take.
        jobs: number of workers, and of tasks in flight.
        prepare: called once in each worker before its first task; importable by name.
        stop: a request to stop, or None.
    """

    function: Callable[[Task], Result]
    lost: Callable[[Task, str], Result]
    seconds: Callable[[Task], float]
    jobs: int = 1
    prepare: Callable[[], None] = nothing
    stop: Stop | None = None

    @property
    def stopped(self) -> bool:
        """Whether a stop was requested."""
        return self.stop is not None and self.stop.requested


@dataclass(frozen=True)
class _Loss:
    """Why a task has no result, and whether another try may help."""

    reason: str
    again: bool


class Pool(Generic[Task, Result]):
    """Workers that serve one batch of tasks after the other; a context manager that ends them."""

    def __init__(self, plan: Plan[Task, Result]) -> None:
        """Start nothing yet: workers start with the first task."""
        self._plan = plan
        self._crew: _Crew[Task, Result] = _Crew(plan, plan.jobs)

    def __enter__(self) -> Self:
        """Return the pool."""
        return self

    def __exit__(self, *exc: object) -> None:
        """End every worker."""
        self._crew.dismiss()

    def run(self, tasks: Iterable[Task]) -> Iterator[tuple[int, Result]]:
        """Run tasks in the workers.

        Args:
            tasks: taken one by one as workers come free, and up to `AHEAD` while the first workers start, so
                that there may be any number of them.

        Yields:
            The place of a task among `tasks` and its result, as they finish. Every task is yielded once,
            unless a stop was requested: then those that had not finished are left out.

        Raises:
            PoolBrokenError: when no worker can be started.
        """
        suspects: list[tuple[int, Task]] = []
        for place, task, answer in self._crew.run(enumerate(tasks)):
            if isinstance(answer, Done):
                yield place, answer.value
            elif answer.again:
                suspects.append((place, task))
            else:
                yield place, self._plan.lost(task, answer.reason)
        if suspects:
            self._crew.dismiss()  # each suspect has the machine to itself
        for suspect in suspects:
            yield from self._alone(suspect)

    def _alone(self, suspect: tuple[int, Task]) -> Iterator[tuple[int, Result]]:
        crew = _Crew(self._plan, jobs=1)
        try:
            for place, task, answer in crew.run(iter([suspect])):
                yield (
                    place,
                    answer.value if isinstance(answer, Done) else self._plan.lost(task, answer.reason),
                )
        finally:
            crew.dismiss()


def run_here(tasks: Iterable[Task], plan: Plan[Task, Result]) -> Iterator[tuple[int, Result]]:
    """Run tasks one by one in this process: for profiling and tests, since nothing here survives a crash."""
    for place, task in enumerate(tasks):
        if plan.stopped:
            return
        try:
            result = plan.function(task)
        except Exception as error:
            result = plan.lost(task, f"{type(error).__name__}: {error}")
        yield place, result


@dataclass(eq=False)
class _Worker(Generic[Task]):
    """A worker as the supervisor sees it: `until` is when its start or its task counts as hung."""

    process: SpawnProcess
    pipe: Connection
    until: float
    ready: bool = False
    hand: tuple[int, Task] | None = None

    @property
    def occupied(self) -> bool:
        return self.hand is not None or not self.ready

    def end(self) -> None:
        """End the process whatever it does, and wait until it is gone."""
        self.pipe.close()
        if self.ready and self.hand is None:
            self.process.join(_EXIT_SECONDS)
        self.process.kill()
        self.process.join()
        self.process.close()

    def death(self) -> str:
        """Say how the process ended."""
        self.process.join(_EXIT_SECONDS)
        code = self.process.exitcode
        if code is not None and code < 0:
            with suppress(ValueError):
                return f"its worker was killed ({signal.Signals(-code).name})"
        return (
            f"its worker ended (exit status {code})" if code is not None else "its worker stopped answering"
        )


_Answer = tuple[int, Task, Done | _Loss]


@dataclass
class _Crew(Generic[Task, Result]):
    """Workers and what they have in hand, for one pass over some tasks."""

    plan: Plan[Task, Result]
    jobs: int
    workers: list[_Worker[Task]] = field(default_factory=list)
    ahead: deque[tuple[int, Task]] = field(default_factory=deque)
    starts_in_vain: int = 0

    def run(self, tasks: Iterator[tuple[int, Task]]) -> Iterator[_Answer[Task]]:
        self.ahead.clear()
        try:
            while not self.plan.stopped and (self._follow(tasks) or self._busy()):
                self._hand_out(tasks)
                yield from self._collect(None)
            until = time.monotonic() + _GRACE_SECONDS
            while self._busy() and time.monotonic() < until:
                yield from self._collect(until)
        finally:
            if self._busy():
                self.dismiss()

    def _busy(self) -> bool:
        return any(worker.hand is not None for worker in self.workers)

    def _follow(self, tasks: Iterator[tuple[int, Task]]) -> bool:
        """Have the next task at hand, if there is one."""
        return bool(self.ahead) or self._look_out(tasks)

    def _look_out(self, tasks: Iterator[tuple[int, Task]]) -> bool:
        """Have one more task at hand, if there is one."""
        more = tuple(islice(tasks, 1))
        self.ahead.extend(more)
        return bool(more)

    def _hand_out(self, tasks: Iterator[tuple[int, Task]]) -> None:
        for worker in self.workers:
            if not worker.occupied and self._follow(tasks):
                self._give(worker)
        if self._follow(tasks) and len(self.workers) < self.jobs:
            missing = self.jobs - len(self.workers)
            self.workers += [_start(self.plan) for _ in range(missing)]
        while len(self.ahead) < AHEAD and self._all_start() and self._look_out(tasks):
            pass

    def _all_start(self) -> bool:
        """Return whether nobody can be given a task yet or has anything to say."""
        return not self.plan.stopped and not any(
            worker.ready or worker.pipe.poll() for worker in self.workers
        )

    def _give(self, worker: _Worker[Task]) -> None:
        if not self.ahead or self.plan.stopped:
            return
        worker.hand = self.ahead.popleft()
        worker.until = time.monotonic() + self.plan.seconds(worker.hand[1])
        with suppress(OSError):  # it is dead: its pipe says so when it is read
            worker.pipe.send(worker.hand[1])

    def _collect(self, until: float | None) -> Iterator[_Answer[Task]]:
        """Wait for an answer, a death, a stop or a time limit, and yield what it means for the tasks."""
        pipes = {worker.pipe: worker for worker in self.workers}
        limits = [worker.until for worker in self.workers if worker.occupied]
        limits += [until] if until is not None else []
        wakers = [self.plan.stop.reader] if self.plan.stop and not self.plan.stopped else []
        left = max(0.0, min(limits) - time.monotonic()) if limits else None
        for pipe in wait([*pipes, *wakers], left):
            if isinstance(pipe, Connection) and pipe in pipes:
                yield from self._answer(pipes[pipe])
        now = time.monotonic()
        for worker in [worker for worker in self.workers if worker.occupied and worker.until <= now]:
            yield from self._lose(worker, f"it took longer than {self._allowed(worker):g} s")

    def _allowed(self, worker: _Worker[Task]) -> float:
        return self.plan.seconds(worker.hand[1]) if worker.hand else _START_SECONDS

    def _answer(self, worker: _Worker[Task]) -> Iterator[_Answer[Task]]:
        try:
            message = pickle.loads(worker.pipe.recv_bytes())
        except (EOFError, OSError):
            yield from self._lose(worker, worker.death())
            return
        if isinstance(message, Ready):
            worker.ready = True
            self.starts_in_vain = 0
        elif isinstance(message, Full):
            # What the task left behind still fills the worker: the next task gets a fresh one.
            yield from self._lose(worker, "it ran out of memory")
        elif worker.hand is not None:
            (place, task), worker.hand = worker.hand, None
            self._give(worker)  # it need not wait until its answer has been taken in
            yield place, task, _Loss(message.reason, again=False) if isinstance(message, Failed) else message

    def _lose(self, worker: _Worker[Task], reason: str) -> Iterator[_Answer[Task]]:
        self.workers.remove(worker)
        worker.end()
        if worker.hand is not None:
            yield *worker.hand, _Loss(reason, again=True)
        elif not worker.ready:
            self.starts_in_vain += 1
            if self.starts_in_vain >= _STARTS_IN_VAIN:
                raise PoolBrokenError(f"no worker process can be started: {reason}")

    def dismiss(self) -> None:
        """End every worker; all pipes are closed first, so that the idle ones leave side by side."""
        for worker in self.workers:
            worker.pipe.close()
        for worker in self.workers:
            worker.end()
        self.workers.clear()


def _start(plan: Plan[Task, Result]) -> _Worker[Task]:
    context = get_context(START_METHOD)
    here, there = context.Pipe()
    process = context.Process(target=work, args=(there, plan.function, plan.prepare), daemon=True)
    resource_tracker.ensure_running()  # else the start below runs it, which unblocks the signal
    blocked = getattr(signal, "pthread_sigmask", None)  # not on Windows
    # Ctrl-C reaches the whole process group. A worker inherits the block and ignores the signal once it runs.
    before = blocked(signal.SIG_BLOCK, {signal.SIGINT}) if blocked else set()
    try:
        process.start()
    finally:
        if blocked:
            blocked(signal.SIG_SETMASK, before)
    there.close()
    return _Worker(process, here, time.monotonic() + _START_SECONDS)
