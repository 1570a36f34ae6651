"""The desk itself: what a scene looks like to a person, and what becomes of their decisions.

Every decision is one transaction that waits for the disk, and inside it the scene is looked at anew: two
people who decide at once are told of each other, and nothing that either decided is lost.
"""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar

from cel_check.episode.added import Added, add_within
from cel_check.episode.concluded import concluded
from cel_check.episode.decided import (
    NEVER_WAVED,
    WAVED,
    decided_summary,
    read_log,
    scene_content,
)
from cel_check.episode.decisions import Decision, history, in_force, insert, revoked_lessons
from cel_check.episode.files import hash_of, look_at
from cel_check.episode.folder import Episode
from cel_check.episode.ledger import joined, transaction
from cel_check.episode.lessons import Lesson, cause_of, insert_lesson, lessons_of, shares
from cel_check.episode.runs import utc_now
from cel_check.errors import BadPicture, Refused
from cel_check.faults import FaultKind, Verdict
from cel_check.picture.reader import read_picture
from cel_check.review.asked import (
    AskedCel,
    AskedDecision,
    AskedFault,
    AskedLesson,
    AskedScene,
    AskedUndo,
    AskedUnlearn,
)
from cel_check.review.shelf import Shelf, Unknown, shelves_of
from cel_check.scene.composite import frame_size
from cel_check.scene.names import shown
from cel_check.scene.summary import CelLine, Deed, FaultLine, SceneState, SceneSummary

T = TypeVar("T")


class Conflict(Exception):
    """What was asked for does not fit what stands now; the page shows what stands."""


@dataclass(frozen=True)
class Standing:
    """A scene as it stands now, and what can still be taught of it."""

    shelf: Shelf
    summary: SceneSummary
    last: int
    size: tuple[int, int]

    def fault(self, identity: str) -> FaultLine:
        """Return a fault by its identity.

        Raises:
            Unknown: where there is none.
        """
        for line in (*self.summary.faults, *self.summary.waved):
            if line.identity == identity:
                return line
        raise Unknown("there is no such fault")

    def cel(self, level: str | None, drawing: str | None) -> CelLine | None:
        """Return a cel, or None."""
        for line in self.summary.lines:
            if (line.level, line.drawing) == (level, drawing):
                return line
        return None

    def waiting(self) -> tuple[FaultLine, ...]:
        """Return the faults on which nobody has decided yet."""
        return tuple(line for line in self.summary.faults if line.decided is None)


class Desk:
    """An episode's scenes and its ledger."""

    def __init__(self, episode: Episode, ledger: Path) -> None:
        """Look at an episode whose ledger has been opened once."""
        self.episode = episode
        self.shelves = shelves_of(episode)
        self._path = ledger
        self._sizes: dict[str, tuple[int, int]] = {}

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Open the ledger for one thing."""
        with joined(self._path) as db:
            yield db

    def shelf(self, scene: int) -> Shelf:
        """Return a scene by its place in the episode.

        Raises:
            Unknown: where there is none.
        """
        if not 0 <= scene < len(self.shelves):
            raise Unknown("there is no such scene")
        return self.shelves[scene]

    def look(self, scene: int) -> tuple[Shelf, tuple[int, int]]:
        """Return a scene and its frame's size for its pictures, which nobody's decision changes."""
        shelf = self.shelf(scene)
        if shelf.name not in self._sizes:
            self.stands(scene)
        return shelf, self._sizes[shelf.name]

    def stands(self, scene: int) -> Standing:
        """Return a scene as it stands now."""
        with joined(self._path) as db:
            return self._stands(db, self.shelf(scene))

    def all_stand(self) -> tuple[Standing, ...]:
        """Return every scene as it stands now."""
        with joined(self._path) as db:
            return tuple(self._stands(db, shelf) for shelf in self.shelves)

    def _stands(self, db: sqlite3.Connection, shelf: Shelf) -> Standing:
        there = concluded(db, shelf.name)
        bare = SceneSummary(shown(shelf.name), shown(shelf.name), SceneState.NOT_CHECKED)
        log = read_log(db, shown(shelf.name))
        last = log.decisions[-1].id if log.decisions else 0
        summary = decided_summary(bare if there is None else there.summary, log)
        self._sizes[shelf.name] = _size_of(shelf, summary)
        return Standing(shelf, summary, last, self._sizes[shelf.name])

    def _change(self, scene: int, act: Callable[[sqlite3.Connection, Standing], T]) -> T:
        """Do something to a scene as it stands; when this returns, the disk holds it."""
        with joined(self._path) as db, transaction(db, lasting=True):
            return act(db, self._stands(db, self.shelf(scene)))

    def decide(self, scene: int, asked: AskedDecision) -> tuple[int, tuple[FaultLine, ...]]:
        """Decide on a fault.

        Returns:
            The decision's number, and the open faults of the same cause where it is called no fault.

        Raises:
            Unknown: where there is no such fault.
            Conflict: where somebody decided on it meanwhile, or its picture has changed.
        """

        def act(db: sqlite3.Connection, now: Standing) -> tuple[int, tuple[FaultLine, ...]]:
            line = now.fault(asked.fault)
            _require_seen(line, asked.seen)
            _require_allowed(line, asked)
            _require_same(now, line, asked.sha256)
            number = insert(db, _decision(now, line, asked))
            alike = _alike(now, line) if asked.deed is Deed.NO_FAULT else ()
            return number, alike

        return self._change(scene, act)

    def teach(self, scene: int, asked: AskedLesson) -> int:
        """Call a fault and others of its cause no faults, and teach the scene that cause.

        Returns:
            The lesson's number.

        Raises:
            Unknown: where there is no such fault.
            Conflict: where one of the others does not share the cause, or was decided meanwhile.
        """

        def act(db: sqlite3.Connection, now: Standing) -> int:
            first = now.fault(asked.fault)
            if first.kind in NEVER_WAVED or first.added_by:
                raise Conflict("this fault teaches nothing")
            alike = {line.identity: line for line in _alike(now, first)}
            if not set(asked.others) <= alike.keys():
                raise Conflict("one of the other faults was decided meanwhile")
            taught = (first, *(alike[identity] for identity in dict.fromkeys(asked.others)))
            for line in taught:
                _require_same(now, line, line.sha256)
            lesson = Lesson(0, utc_now(), asked.who, now.summary.name, cause_of(taught))
            number = insert_lesson(db, lesson)
            for line in taught:
                plain = AskedDecision(who=asked.who, fault=line.identity, deed=Deed.NO_FAULT, seen=0)
                insert(db, replace(_decision(now, line, plain), lesson=number))
            return number

        return self._change(scene, act)

    def unlearn(self, asked: AskedUnlearn) -> str:
        """Take a lesson back, and with it what was decided by it.

        Returns:
            The scene's folder.

        Raises:
            Unknown: where there is no such lesson, or it was taken back already.
        """
        with joined(self._path) as db, transaction(db, lasting=True):
            return unlearned(db, asked.lesson, asked.who)

    def pass_cel(self, scene: int, asked: AskedCel) -> int:
        """Pass a whole cel on which nothing is open.

        Raises:
            Unknown: where there is no such cel.
            Conflict: where something is open on it, it was not checked, or its picture has changed.
        """

        def act(db: sqlite3.Connection, now: Standing) -> int:
            cel = self._cel(now, asked.level, asked.drawing, asked.sha256)
            own = [f for f in now.summary.faults if (f.level, f.drawing) == (cel.level, cel.drawing)]
            if cel.verdict is Verdict.NOT_CHECKED:
                raise Conflict("it was not checked whole, and nobody can pass what was not looked at")
            if own:
                raise Conflict(f"{len(own)} of its faults stand: decide on them first")
            return insert(
                db,
                Decision(asked.who, Deed.PASS, now.summary.name, cel.level, cel.drawing, sha256=cel.sha256),
            )

        return self._change(scene, act)

    def pass_scene(self, scene: int, asked: AskedScene) -> int:
        """Pass a whole scene in which nothing is open.

        Raises:
            Conflict: where something is open in it, or it has changed.
        """

        def act(db: sqlite3.Connection, now: Standing) -> int:
            content = scene_content(now.summary.lines)
            if asked.content != content:
                raise Conflict("the scene was checked again meanwhile: look at it once more")
            if now.summary.state is not SceneState.PASSED:
                raise Conflict("faults stand in it, or cels were not checked: decide on them first")
            for cel in now.summary.lines:
                _require_content(now, cel)
            return insert(db, Decision(asked.who, Deed.PASS, now.summary.name, sha256=content))

        return self._change(scene, act)

    def add(self, scene: int, asked: AskedFault) -> int:
        """Keep a fault drawn by hand.

        Raises:
            Unknown: where there is no such cel.
            Conflict: where the picture has changed.
        """

        def act(db: sqlite3.Connection, now: Standing) -> int:
            cel = self._cel(now, asked.level, asked.drawing, asked.sha256)
            return add_within(
                db,
                Added(
                    asked.who, now.summary.name, cel.level, cel.drawing, cel.sha256 or "", asked.kind,
                    asked.send_to, asked.box, shown(asked.text) or _PLAIN,
                ),
            )  # fmt: skip

        return self._change(scene, act)

    def undo(self, scene: int, asked: AskedUndo) -> Decision:
        """Take back the last decision in a scene that the person made and that stands.

        Raises:
            Conflict: where there is none.
        """

        def act(db: sqlite3.Connection, now: Standing) -> Decision:
            own = [one for one in in_force(history(db, now.summary.name)) if one.who == asked.who]
            if not own:
                raise Conflict(f"{asked.who} has nothing to take back in this scene")
            last = own[-1]
            if last.lesson is not None:
                unlearned(db, last.lesson, asked.who)
            else:
                insert(
                    db,
                    replace(last, who=asked.who, deed=Deed.REVOKE, revokes=last.id, reason="", send_to=None),
                )
            return last

        return self._change(scene, act)

    def _cel(self, now: Standing, level: int, drawing: int, sha256: str) -> CelLine:
        found = now.shelf.drawing(level, drawing)
        cel = now.cel(shown(now.shelf.levels[level].name), shown(found.drawing))
        if cel is None or not cel.sha256:
            raise Unknown("that cel has not been checked yet: run `cel-check episode`")
        if cel.sha256 != sha256:
            raise Conflict(_REPAINTED)
        _require_content(now, cel)
        return cel


def _size_of(shelf: Shelf, summary: SceneSummary) -> tuple[int, int]:
    """Return the size of a scene's frame: of most cels; else of the first that can be read."""
    if any(cel.width for cel in summary.lines):
        return frame_size(summary.lines)
    for level in shelf.levels:
        for drawing in level.drawings:
            with suppress(BadPicture, Refused, OSError, ValueError):
                if not drawing.outside:
                    picture = read_picture(drawing.path)
                    return picture.width, picture.height
    return 1, 1


_PLAIN = "Seen by eye: see the marked place."
_REPAINTED = "the picture is not the one that was checked: run `cel-check episode`, then look again"


def unlearned(db: sqlite3.Connection, number: int, who: str) -> str:
    """Take a lesson back. Call it inside a lasting transaction.

    Returns:
        The scene's folder.

    Raises:
        Unknown: where there is no such lesson, or it was taken back already.
    """
    lesson = next((one for one in lessons_of(db) if one.id == number), None)
    if lesson is None or number in revoked_lessons(history(db, lesson.scene)):
        raise Unknown("there is no such lesson, or it was taken back already")
    insert(db, Decision(who, Deed.REVOKE, lesson.scene, lesson=number))
    return lesson.scene


def _decision(now: Standing, line: FaultLine, asked: AskedDecision) -> Decision:
    return Decision(
        who=asked.who,
        deed=asked.deed,
        scene=now.summary.name,
        level=line.level,
        drawing=line.drawing,
        fault=line.identity,
        sha256=line.sha256,
        send_to=(asked.send_to or line.send_to) if asked.deed is Deed.RETAKE else None,
        reason=shown(asked.reason),
    )


def _require_seen(line: FaultLine, seen: int) -> None:
    stands = line.decided.decision if line.decided else 0
    if stands not in (0, seen) and line.decided:
        raise Conflict(f"{line.decided.who} decided on it meanwhile: {line.decided.deed.value}")


def _require_allowed(line: FaultLine, asked: AskedDecision) -> None:
    if asked.deed is Deed.REVOKE:
        raise Conflict("a decision is taken back by undo")
    if asked.deed in WAVED and line.kind in NEVER_WAVED:
        raise Conflict("a picture that cannot be read cannot be passed")
    if asked.deed is Deed.PASS and not asked.reason:
        raise Conflict("a fault is passed with a reason")


def _require_same(now: Standing, line: FaultLine, sha256: str | None) -> None:
    """See that the picture that the person decides on is the one that was checked."""
    if sha256 != line.sha256:
        raise Conflict(_REPAINTED)
    cel = now.cel(line.level, line.drawing)
    if cel is not None and line.sha256 is not None:
        _require_content(now, cel)


def _require_content(now: Standing, cel: CelLine) -> None:
    place = now.shelf.places.get((cel.level, cel.drawing))
    if place is None:
        raise Conflict(_REPAINTED)
    path = now.shelf.drawing(*place).path
    look = look_at(path)
    if look is None or hash_of(path, look) != cel.sha256:
        raise Conflict(_REPAINTED)


def _alike(now: Standing, first: FaultLine) -> tuple[FaultLine, ...]:
    """Return the open faults that share a fault's cause."""
    if first.kind in NEVER_WAVED or first.added_by:
        return ()
    cause = cause_of([first])
    return tuple(line for line in now.waiting() if line.identity != first.identity and shares(cause, line))


KINDS_BY_HAND = tuple(kind for kind in FaultKind if kind not in NEVER_WAVED)
"""Kinds that a person can draw."""
