"""What has become of each scene of an episode in this run, kept in the ledger as it is known."""

import hashlib
import sqlite3
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from cel_check.episode import concluded as stored
from cel_check.episode.concluded import NO_GROUNDS, NO_OUTLOOK, Concluded, Grounds, Outlook
from cel_check.episode.folder import EpisodeScene
from cel_check.episode.identity import keep, known_faults, recognized
from cel_check.episode.keys import colors_of, concluding_program, digest_of_all, terms_of
from cel_check.episode.ledger import transaction
from cel_check.episode.scene_task import SceneAnswer, SceneTask, background_state, files_of, reference_states
from cel_check.faults import FaultKind, Verdict
from cel_check.scene.names import shown
from cel_check.scene.scene import Scene
from cel_check.scene.summary import Change, ModelUse, SceneState, SceneSummary


class Outcomes:
    """The scenes' summaries of one run."""

    def __init__(self, db: sqlite3.Connection, run: int, entries: Iterable[EpisodeScene]) -> None:
        """Take over what is untouched since it was concluded."""
        self._db = db
        self._run = run
        self._entries = tuple(entries)
        self._outlooks = {entry.name: entry.outlook for entry in self._entries}
        self._bare: dict[str, SceneSummary] = {}
        self._known: dict[str, Concluded] = {
            entry.name: entry.untouched for entry in self._entries if entry.untouched is not None
        }

    def unpainted(self, entry: EpisodeScene) -> None:
        """Take in a scene that cannot be checked: nothing is painted, or its files are broken."""
        state = SceneState.NOT_CHECKED if entry.problems else SceneState.NOT_PAINTED
        problems = tuple(shown(problem.line()) for problem in entry.problems)
        name = shown(entry.name)
        open_faults = [one for one in known_faults(self._db, name) if one.mended is None]
        self._bare[entry.name] = SceneSummary(
            name=name,
            number=name,
            state=state,
            cels=_all_unchecked(entry.unread),
            problems=problems,
            unsure=len(open_faults),
        )

    def opened(self, scene: Scene) -> None:
        """Take in a scene whose cels are not all looked at yet."""
        cels = sum(len(level.drawings) for level in scene.levels)
        self._bare[scene.name] = SceneSummary(
            name=shown(scene.name),
            number=shown(scene.number),
            state=SceneState.NOT_CHECKED,
            cels=_all_unchecked(cels),
            condition=None if scene.condition is None else shown(scene.condition),
        )

    def stands(self, task: SceneTask) -> bool:
        """Return whether a scene's results would come out as they were; it then counts as concluded."""
        name = task.scene.name
        then = stored.grounds_of(self._db, name)
        if then is None or then.digest != digest_of(task):
            return False
        there = self._reported(task)  # reads the whole summary, so only where the results stand
        if there is None:
            return False
        outlook = self._outlook(task, there.summary)
        if outlook != then.outlook:
            stored.keep_outlook(self._db, name, outlook)
        self._known[name] = there
        return True

    def shown(self, task: SceneTask) -> str:
        """Return the digest of the results that a scene's report shows; empty where there is none."""
        then = stored.grounds_of(self._db, task.scene.name)
        return "" if then is None or self._reported(task) is None else then.shown

    def _reported(self, task: SceneTask) -> Concluded | None:
        """Return a scene as it was concluded; None where its summary or its report is not there."""
        there = all(path.is_file() for path in files_of(task.out))
        return stored.concluded(self._db, task.scene.name) if there else None

    def concluded(self, task: SceneTask, summary: SceneSummary, answer: SceneAnswer) -> None:
        """Keep a concluded scene, and know its faults again."""
        cels = zip(_keys(task.scene), task.slots, strict=True)
        unchecked: set[tuple[str | None, str | None]] = {
            key for key, slot in cels if not isinstance(slot, int) and slot.verdict is Verdict.NOT_CHECKED
        }
        name = summary.name
        found = recognized(summary, known_faults(self._db, name), unchecked, self._run)
        with transaction(self._db):
            keep(self._db, name, found, self._run)
            self._keep(task, Concluded(self._run, found.summary), answer.shown, answer.whole)

    def restated(self, task: SceneTask) -> None:
        """Keep a scene whose results came out as its report shows them."""
        name = task.scene.name
        there, then = stored.concluded(self._db, name), stored.grounds_of(self._db, name)
        if there is not None and then is not None:
            summary = replace(there.summary, models=task.models)
            with transaction(self._db):
                self._keep(task, Concluded(there.run, summary), then.shown)

    def _keep(self, task: SceneTask, scene: Concluded, shown_now: str, whole: bool = True) -> None:
        grounds = Grounds(digest_of(task), shown_now, self._outlook(task, scene.summary))
        stored.keep(self._db, task.scene.name, scene, grounds if whole else NO_GROUNDS)
        self._known[task.scene.name] = scene

    def _outlook(self, task: SceneTask, summary: SceneSummary) -> Outlook:
        """Return how all looked that a scene is made from.

        One with a cel that was not checked, or a file that is no whole picture, is gone through each time.
        """
        remembered = all(isinstance(slot, int) for slot in task.slots)
        whole = all(line.kind is not FaultKind.UNREADABLE for line in summary.faults)
        return self._outlooks[task.scene.name] if remembered and whole else NO_OUTLOOK

    def summaries(self) -> tuple[SceneSummary, ...]:
        """Return every scene as it stands now, in the order of the episode."""
        return tuple(self._summary(entry) for entry in self._entries)

    def _summary(self, entry: EpisodeScene) -> SceneSummary:
        known = self._known.get(entry.name)
        if known is not None:
            return self._since(known)
        stale = stored.concluded(self._db, entry.name) if entry.scene is not None else None
        if stale is not None:
            return replace(self._since(stale), state=SceneState.STALE, mended=0)
        name = shown(entry.name)
        return self._bare.get(entry.name) or SceneSummary(name, name, SceneState.NOT_CHECKED)

    def _since(self, scene: Concluded) -> SceneSummary:
        """Return a scene's summary as this run tells it."""
        if scene.run == self._run:
            return scene.summary
        # Nothing has changed since that run, so nothing is new or mended any more.
        old = tuple(replace(line, change=Change.STILL) for line in scene.summary.faults)
        return replace(scene.summary, faults=old, mended=0)


class Models:
    """The color models of scenes, with a digest of each file's content; every file is read once."""

    def __init__(self) -> None:
        """Read nothing yet."""
        self._versions: dict[Path, str] = {}

    def of(self, scene: Scene) -> tuple[ModelUse, ...]:
        """Return the models that a scene uses."""
        return tuple(
            ModelUse(shown(character), shown(file), self._version(scene.folder / file))
            for character, file in scene.models
        )

    def _version(self, path: Path) -> str:
        if path not in self._versions:
            try:
                self._versions[path] = hashlib.sha256(path.read_bytes()).hexdigest()
            except OSError:
                self._versions[path] = ""
        return self._versions[path]


def digest_of(task: SceneTask) -> str:
    """Return a digest of everything that a scene's report is made from."""
    scene = task.scene
    levels = [
        (
            level.name,
            colors_of(level.palette),
            terms_of(level.palette).digest,
            level.palette.notes,
            [(drawing.drawing, drawing.file, drawing.outside, drawing.twin) for drawing in level.drawings],
        )
        for level in scene.levels
    ]
    plain = replace(scene, folder=Path(), levels=(), sources=())
    beside = (background_state(scene), reference_states(scene))
    parts = (concluding_program(), plain, levels, task.slots, task.models, beside)
    return digest_of_all(parts)


def _all_unchecked(cels: int) -> tuple[int, ...]:
    return tuple(cels if verdict is Verdict.NOT_CHECKED else 0 for verdict in Verdict)


def _keys(scene: Scene) -> list[tuple[str, str]]:
    return [(shown(lv.name), shown(drawing.drawing)) for lv in scene.levels for drawing in lv.drawings]
