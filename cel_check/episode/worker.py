"""What runs inside a worker process: take a task, answer, and leave when the supervisor is gone."""

import os
import signal
import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from importlib import import_module
from multiprocessing import parent_process
from multiprocessing.connection import Connection, wait
from typing import Any


@dataclass(frozen=True)
class Named:
    """A function by its name: who runs it imports it, who hands it on need not.

    Attributes:
        module: where it is.
        name: what it is called there.
    """

    module: str
    name: str

    def found(self) -> Callable[..., Any]:
        """Import the function."""
        function: Callable[..., Any] = getattr(import_module(self.module), self.name)
        return function

    def __call__(self, *arguments: Any) -> Any:
        """Call the function."""
        return self.found()(*arguments)


@dataclass(frozen=True)
class Ready:
    """The worker has prepared itself."""


@dataclass(frozen=True)
class Done:
    """A task's result."""

    value: Any


@dataclass(frozen=True)
class Failed:
    """A task raised; the worker is well."""

    reason: str


@dataclass(frozen=True)
class Full:
    """A task ran out of memory; the worker leaves."""


def work(pipe: Connection, function: Callable[[Any], Any], prepare: Callable[[], None]) -> None:
    """Answer tasks until the pipe is closed. The main function of a worker process."""
    _ignore_interrupts()
    threading.Thread(target=_leave_with_parent, daemon=True).start()
    if isinstance(function, Named):
        function = function.found()  # before the worker is ready: imports are no part of a task's time
    prepare()
    try:
        pipe.send(Ready())
        while _answer(pipe, function):
            pass
    except (EOFError, OSError):
        # The supervisor closed the pipe: the work is over.
        return


def _answer(pipe: Connection, function: Callable[[Any], Any]) -> bool:
    task = pipe.recv()
    try:
        answer: Done | Failed | Full = Done(function(task))
    except MemoryError:
        answer = Full()
    except Exception as error:
        answer = Failed(f"{type(error).__name__}: {error}")
    try:
        pipe.send(answer)
    except (EOFError, OSError):
        raise
    except Exception as error:
        # The result itself cannot be sent (pickled); nothing of it was written yet.
        pipe.send(Failed(f"its result cannot be sent: {type(error).__name__}: {error}"))
    return not isinstance(answer, Full)


def _ignore_interrupts() -> None:
    # Ctrl-C is for the supervisor, which lets the tasks in hand finish.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    if sys.platform != "win32":
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


def _leave_with_parent() -> None:
    """End this process when the supervisor's is gone, even in the middle of a task."""
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
