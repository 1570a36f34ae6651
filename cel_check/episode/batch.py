"""All cels of an episode as one stream of work, remembered as they are done.

Nothing is held for longer than a scene is open: results go to the ledger as they come, and a scene is
concluded by a worker as soon as its last cel is done. Pictures of the same content are checked once.
"""

import sqlite3
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Protocol

from cel_check.episode import memory
from cel_check.episode.codec import CelAnswer
from cel_check.episode.files import Contents, look_at
from cel_check.episode.folder import Episode, EpisodeScene
from cel_check.episode.jobs import Answer, Job
from cel_check.episode.keys import CelKey, key_of, terms_of
from cel_check.episode.ledger import Ledger, transaction
from cel_check.episode.memory import Look
from cel_check.episode.outcomes import Models, Outcomes
from cel_check.episode.pool import Stop
from cel_check.episode.scene_task import SceneAnswer, SceneTask, Slot
from cel_check.errors import BadInput
from cel_check.scene.scene import Scene
from cel_check.scene.summary import Report
from cel_check.scene.tasks import CelTask, tasks_of
from cel_check.settings import Settings

Engine = Callable[[Iterable[Job]], Iterator[tuple[int, Answer]]]
"""Does jobs in any order and gives `(place of the job, its answer)`; a stop leaves out those in hand."""


class Watcher(Protocol):
    """Is told of every cel that is done."""

    def __call__(self, scene: str, file: str, remembered: bool) -> None:
        """Count one more cel of a scene; `remembered` where it did not have to be checked."""


@dataclass(frozen=True)
class BatchPlan:
    """How an episode is gone through.

    Attributes:
        settings: the thresholds.
        out: folder of the episode's report.
        report: writes a scene's report.
        stop: a request to stop.
        watch: is told of every cel.
        run: number of this run.
        check: whether to check at all; else what is remembered is looked up.
    """

    settings: Settings
    out: Path
    report: Report
    stop: Stop
    watch: Watcher
    run: int
    check: bool = True


@dataclass(eq=False)
class _Open:
    """A scene some of whose cels are not done yet."""

    scene: Scene
    tasks: tuple[CelTask, ...]
    slots: list[Slot | None]
    looks: list[Look | None]
    begun: bool = True
    left: int = 0


_Cel = tuple[_Open, int]
"""A cel: its scene and its place in it."""
_Twin = tuple[CelKey, str]
"""What two cels of the same result share: key and digest of the terms."""


class _Hand:
    """What one pass of workers has in hand, by the place of its job."""

    def __init__(self) -> None:
        self._jobs: dict[int, _Cel | SceneTask] = {}
        self._count = 0

    def put(self, what: "_Cel | SceneTask") -> None:
        self._jobs[self._count] = what
        self._count += 1

    def pop(self, place: int) -> "_Cel | SceneTask":
        return self._jobs.pop(place)


class Batch:
    """Goes through an episode once."""

    def __init__(self, episode: Episode, ledger: Ledger, plan: BatchPlan) -> None:
        """Look at nothing yet."""
        self._plan = plan
        self._db: sqlite3.Connection = ledger.db
        self._ledger = ledger.path
        scenes = [entry.scene for entry in episode.scenes if entry.scene is not None]
        self._contents = Contents(scenes, memory.sizes(ledger.db))
        self.outcomes = Outcomes(ledger.db, plan.run, episode.scenes)
        self._hand = _Hand()
        self._models = Models()
        self._waiting: dict[_Twin | None, list[_Cel]] = {}
        self._twin_of: dict[_Cel, _Twin] = {}
        self._again: deque[_Cel] = deque()
        self._ready: deque[_Open] = deque()
        self._walk = self._walked(episode.scenes)

    def run(self, engine: Engine) -> None:
        """Check what is not remembered, and conclude every scene that is done; ends early at a stop.

        Raises:
            BadInput: where the ledger or a report cannot be written.
        """
        while self._plan.check and not self._plan.stop.requested:
            self._hand = _Hand()
            for place, answer in engine(self._jobs()):
                self._take(place, answer)
            if not self._ready and not self._again:
                break

    def settle(self) -> None:
        """Look through the scenes that were not reached, and check nothing."""
        for _ in self._walk:
            pass
        while self._ready:
            self.outcomes.stands(self._scene_task(self._ready.popleft()))

    # What is to be done

    def _jobs(self) -> Iterator[Job]:
        for cel in self._walk:
            yield from self._due()
            if cel is not None:
                yield self._give(cel)
        yield from self._due()

    def _due(self) -> Iterator[Job]:
        """Yield what has come up since: cels to check after all, and scenes to conclude."""
        while self._ready or self._again:
            if self._again:
                yield self._give(self._again.popleft())
            else:
                task = self._scene_task(self._ready.popleft())
                if not self.outcomes.stands(task):
                    task = replace(task, shown=self.outcomes.shown(task))
                    self._hand.put(task)
                    yield task

    def _give(self, cel: _Cel) -> Job:
        self._hand.put(cel)
        return cel[0].tasks[cel[1]]

    def _walked(self, entries: Iterable[EpisodeScene]) -> Iterator[_Cel | None]:
        """Yield every cel that must be checked; None where a scene turned out to be done."""
        for entry in entries:
            if entry.untouched is not None:
                for line in entry.untouched.summary.lines:
                    self._plan.watch(entry.name, line.file, True)
                continue
            if entry.scene is None:
                self.outcomes.unpainted(entry)
                continue
            opened = self._opened(entry.scene)
            known = memory.pictures_of(self._db, opened.scene.name)
            for place, task in enumerate(opened.tasks):
                opened.looks[place] = look_at(task.path)
                if not self._remembered(opened, place, known.get(task.file)):
                    yield opened, place
            opened.begun = False
            self._done(opened)
            yield None

    def _opened(self, scene: Scene) -> _Open:
        tasks = tasks_of(scene, self._plan.settings)
        opened = _Open(scene, tasks, [None] * len(tasks), [None] * len(tasks), left=len(tasks))
        self.outcomes.opened(scene)
        return opened

    def _remembered(self, opened: _Open, place: int, known: tuple[Look, str] | None) -> bool:
        """Fill a cel's place from the ledger, or park it behind its twin; False where it is to be checked."""
        task, look = opened.tasks[place], opened.looks[place]
        sha256 = self._contents.sha256_of(task, look, known, self._may_read())
        if not sha256 or look is None:
            return False
        key = key_of(task, sha256)
        row = memory.find(self._db, key, task.palette, task.settings)
        if row is None:
            return self._parked((key, terms_of(task.palette).digest), (opened, place))
        if row.whole and (known is None or not memory.unchanged(known[0], look)):
            self._note(opened, place, sha256)
        self._fill(opened, place, row.number, remembered=True)
        return True

    def _may_read(self) -> bool:
        """Return whether files may be read to know them again: not after a stop, when a prompt waits."""
        return not self._plan.check or not self._plan.stop.requested

    def _parked(self, twin: _Twin, cel: _Cel) -> bool:
        """Park a cel behind one of the same content that is in hand; False where it goes first itself."""
        if twin in self._waiting:
            self._waiting[twin].append(cel)
            return True
        self._waiting[twin] = []
        self._twin_of[cel] = twin
        return False

    # What has been done

    def _take(self, place: int, answer: Answer) -> None:
        what = self._hand.pop(place)
        if isinstance(what, SceneTask) and isinstance(answer, SceneAnswer):
            self._take_scene(what, answer)
        elif isinstance(what, tuple) and isinstance(answer, CelAnswer):
            self._take_cel(what, answer)

    def _take_cel(self, cel: _Cel, answer: CelAnswer) -> None:
        opened, place = cel
        waiting = self._waiting.pop(self._twin_of.pop(cel, None), [])
        if answer.result is not None:
            self._fill(opened, place, answer.result)
            self._again.extend(waiting)
            return
        task = opened.tasks[place]
        with transaction(self._db):
            row = memory.put(self._db, key_of(task, answer.sha256), terms_of(task.palette), answer)
            self._note(opened, place, answer.sha256, whole=answer.size[0] is not None)
        self._fill(opened, place, row)
        for twin in waiting:
            # It is looked up like any other: the file in hand may have changed before it was read.
            if not self._remembered(*twin, known=None):
                self._again.append(twin)

    def _take_scene(self, task: SceneTask, answer: SceneAnswer) -> None:
        if answer.problems:
            raise BadInput(*answer.problems)
        if answer.summary is not None:
            self.outcomes.concluded(task, answer.summary, answer)
            return
        if answer.shown:
            self.outcomes.restated(task)
            return
        memory.forget(self._db, answer.damaged)
        opened = self._opened(task.scene)
        opened.begun = False
        for place, slot in enumerate(task.slots):
            opened.looks[place] = look_at(opened.tasks[place].path)
            if slot in answer.damaged:
                self._again.append((opened, place))
            else:
                self._fill(opened, place, slot, told=False)

    def _note(self, opened: _Open, place: int, sha256: str, whole: bool = True) -> None:
        """Remember which content a file had. Call it inside a transaction or alone.

        What is no whole picture is read again each time: its drive may have given other bytes than lie on it.
        """
        look = opened.looks[place]
        if look is not None:
            look = look if whole else memory.unsure(look)
            memory.note_picture(self._db, opened.scene.name, opened.tasks[place].file, look, sha256)

    def _fill(
        self, opened: _Open, place: int, slot: Slot, remembered: bool = False, told: bool = True
    ) -> None:
        opened.slots[place] = slot
        opened.left -= 1
        if told:
            self._plan.watch(opened.scene.name, opened.tasks[place].file, remembered)
        self._done(opened)

    def _done(self, opened: _Open) -> None:
        if not opened.left and not opened.begun:
            self._ready.append(opened)

    def _scene_task(self, opened: _Open) -> SceneTask:
        return SceneTask(
            scene=opened.scene,
            settings=self._plan.settings,
            slots=tuple(slot for slot in opened.slots if slot is not None),
            ledger=self._ledger,
            out=self._plan.out / opened.scene.name,
            models=self._models.of(opened.scene),
            report=self._plan.report,
        )
