"""Watches a scene: checks each cel as it is saved, and keeps the scene's results current.

Nothing tells for certain that a file is written whole. A file waits until it has looked the same for a
second; one that changes while it is read waits again; and one that cannot be read waits until nobody has
touched it for a while, since a slow drive pauses in the middle of a file.
"""

import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from cel_check.episode.files import look_at
from cel_check.errors import BadInput
from cel_check.faults import FaultKind, Verdict
from cel_check.model.colormodel import Palette
from cel_check.scene.conduct import conduct
from cel_check.scene.results import CelResult, SceneResult
from cel_check.scene.scene import Scene
from cel_check.scene.tasks import CelTask, tasks_of, unchecked
from cel_check.settings import Settings

QUIET_SECONDS = 1.0
"""How long a file must look the same before it is read."""

PATIENCE_SECONDS = 5.0
"""How long a file that cannot be read is given before that is said (house choices, both)."""

WAITING = "it is still being written"

_State = tuple[int, int, int, Palette]
"""Size, both times, and the colors that a file was held against."""
Run = Callable[[Sequence[CelTask]], Iterable[tuple[int, CelResult]]]


@dataclass(frozen=True)
class News:
    """What a look at the scene has brought.

    Attributes:
        scene: as it is now.
        result: the scene's results.
        checked: `(level, drawing)` of the cels that were checked in this look.
    """

    scene: Scene
    result: SceneResult
    checked: tuple[tuple[str, str], ...]


@dataclass
class SceneWatch:
    """Looks at a scene again and again.

    Attributes:
        load: loads the scene; raises BadInput where its files are broken.
        settings: the thresholds.
        run: checks cels.
        clock: seconds that only ever grow.
    """

    load: Callable[[], Scene]
    settings: Settings
    run: Run
    clock: Callable[[], float] = time.monotonic
    _since: dict[str, tuple[_State, float]] = field(default_factory=dict)
    _done: dict[str, tuple[_State, CelResult]] = field(default_factory=dict)
    _shown: tuple[object, ...] = ()

    def look(self) -> News | None:
        """Look once: check what was saved; None where nothing has changed.

        Raises:
            BadInput: where the scene's own files are broken.
        """
        scene = self.load()
        tasks = tasks_of(scene, self.settings)
        self._forget({task.file for task in tasks})
        due = [task for task in tasks if self._is_due(task)]
        checked = tuple((task.level, task.drawing) for task in self._checked(due))
        results = tuple(self._result(task) for task in tasks)
        shown = (_without_sizes(scene), results)
        if shown == self._shown:
            return None
        self._shown = shown
        return News(scene, conduct(scene, self.settings, lambda _: enumerate(results)), checked)

    def _forget(self, files: set[str]) -> None:
        for known in (self._since, self._done):
            for file in known.keys() - files:
                del known[file]

    def _is_due(self, task: CelTask) -> bool:
        """Return whether a file has something new in it and has been left alone for long enough."""
        state = _state(task)
        done = self._done.get(task.file)
        if done is not None and done[0] == state:
            return False
        before, since = self._since.get(task.file, (None, 0.0))
        if before != state:
            self._since[task.file] = (state, self.clock())
            return _age(task) > 2 * QUIET_SECONDS  # saved long before anyone looked
        return self.clock() - since >= QUIET_SECONDS

    def _checked(self, due: Sequence[CelTask]) -> Iterator[CelTask]:
        """Check cels, and yield those that are done; the others wait for the next look."""
        states = [_state(task) for task in due]
        for place, result in self.run(due) if due else ():
            task = due[place]
            if _state(task) == states[place] and not _too_early(task, result):
                self._done[task.file] = (states[place], result)
                yield task

    def _result(self, task: CelTask) -> CelResult:
        done = self._done.get(task.file)
        # A file that is being saved anew has no result: what it was says nothing of what it becomes.
        return done[1] if done is not None and done[0] == _state(task) else unchecked(task, WAITING)


def _without_sizes(scene: Scene) -> Scene:
    """Return a scene without its files' sizes: a file that grows is no news before it is checked."""
    levels = (
        replace(level, drawings=tuple(replace(drawing, bytes=0) for drawing in level.drawings))
        for level in scene.levels
    )
    return replace(scene, levels=tuple(levels))


def _state(task: CelTask) -> _State:
    look = look_at(task.path)
    return (look.size, look.mtime_ns, look.ctime_ns, task.palette) if look else (-1, -1, -1, task.palette)


def _age(task: CelTask) -> float:
    """Return the seconds since a file was written to; 0 where the clock or the file cannot tell."""
    look = look_at(task.path)
    return max(0.0, (look.seen_ns - max(look.mtime_ns, look.ctime_ns)) / 1e9) if look else 0.0


def _too_early(task: CelTask, result: CelResult) -> bool:
    unread = any(fault.kind is FaultKind.UNREADABLE for fault in result.faults)
    changing = result.verdict is Verdict.NOT_CHECKED and "changed while it was read" in (result.error or "")
    return changing or (unread and 0.0 < _age(task) < PATIENCE_SECONDS)


def problems_of(error: BadInput) -> tuple[str, ...]:
    """Return what is wrong with a scene's files, one line each."""
    return tuple(problem.line() for problem in error.problems)
