"""What has become of each scene of an episode in this run, kept in the ledger as it is known."""

import hashlib
import sqlite3
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from cel_check.episode.conclude import SceneTask, background_state, files_of
from cel_check.episode.folder import EpisodeScene
from cel_check.episode.identity import keep, known_faults, recognized
from cel_check.episode.keys import colors_of, concluding_program, terms_of
from cel_check.episode.ledger import transaction
from cel_check.episode.schema import raw
from cel_check.faults import Verdict
from cel_check.scene.names import shown
from cel_check.scene.scene import Scene
from cel_check.scene.summary import Change, ModelUse, SceneState, SceneSummary


class Outcomes:
    """The scenes' summaries of one run."""

    def __init__(self, db: sqlite3.Connection, out: Path, run: int) -> None:
        """Take over nothing from earlier runs yet."""
        self._db = db
        self._out = out
        self._run = run
        self._known: set[str] = set()
        self._bare: dict[str, SceneSummary] = {}

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
        row = self._db.execute("SELECT digest FROM scene WHERE name = ?", (raw(task.scene.name),)).fetchone()
        if row is None or row[0] != digest_of(task) or not self._reported(task):
            return False
        self._known.add(task.scene.name)
        return True

    def shown(self, task: SceneTask) -> str:
        """Return the digest of the results that a scene's report shows; empty where there is none."""
        row = self._db.execute("SELECT shown FROM scene WHERE name = ?", (raw(task.scene.name),)).fetchone()
        return str(row[0]) if row is not None and self._reported(task) else ""

    def _reported(self, task: SceneTask) -> bool:
        """Return whether a scene has its summary and its report."""
        there = all(path.is_file() for path in files_of(task))
        return there and self._row(task.scene.name) is not None

    def concluded(self, task: SceneTask, summary: SceneSummary, shown_now: str) -> None:
        """Keep a concluded scene, and know its faults again."""
        cels = zip(_keys(task.scene), task.slots, strict=True)
        unchecked: set[tuple[str | None, str | None]] = {
            key for key, slot in cels if not isinstance(slot, int) and slot.verdict is Verdict.NOT_CHECKED
        }
        name = summary.name
        found = recognized(summary, known_faults(self._db, name), unchecked, self._run)
        with transaction(self._db):
            keep(self._db, name, found, self._run)
            self._db.execute(
                "INSERT OR REPLACE INTO scene VALUES (?, ?, ?, ?, ?)",
                (raw(task.scene.name), digest_of(task), shown_now, self._run, _json(found.summary)),
            )
        self._known.add(task.scene.name)

    def restated(self, task: SceneTask) -> None:
        """Keep a scene whose results came out as its report shows them."""
        row = self._row(task.scene.name)
        if row is None:
            return
        text = _json(replace(row[1], models=task.models))
        with transaction(self._db):
            self._db.execute(
                "UPDATE scene SET digest = ?, summary = ? WHERE name = ?",
                (digest_of(task), text, raw(task.scene.name)),
            )
        self._known.add(task.scene.name)

    def summaries(self, entries: Iterable[EpisodeScene]) -> tuple[SceneSummary, ...]:
        """Return every scene as it stands now, in the order of the episode."""
        return tuple(self._summary(entry) for entry in entries)

    def _summary(self, entry: EpisodeScene) -> SceneSummary:
        stored = self._stored(entry.name) if entry.scene is not None else None
        if entry.name in self._known and stored is not None:
            return stored
        bare = self._bare.get(entry.name) or SceneSummary(
            shown(entry.name), shown(entry.name), SceneState.NOT_CHECKED
        )
        return bare if stored is None else replace(stored, state=SceneState.STALE, mended=0)

    def _stored(self, name: str) -> SceneSummary | None:
        row = self._row(name)
        if row is None or row[0] == self._run:
            return row[1] if row else None
        # Nothing has changed since that run, so nothing is new or mended any more.
        old = tuple(replace(line, change=Change.STILL) for line in row[1].faults)
        return replace(row[1], faults=old, mended=0)

    def _row(self, name: str) -> tuple[int, SceneSummary] | None:
        return stored_summary(self._db, name)


def stored_summary(db: sqlite3.Connection, name: str) -> tuple[int, SceneSummary] | None:
    """Return the run in which a scene was concluded and its summary; None where there is none to read."""
    row = db.execute("SELECT run, summary FROM scene WHERE name = ?", (raw(name),)).fetchone()
    try:
        return (int(row[0]), _adapter().validate_json(row[1])) if row is not None else None
    except ValidationError:
        return None


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
    plain = replace(scene, folder=Path(), levels=())
    parts = (concluding_program(), plain, levels, task.slots, task.models, background_state(scene))
    return hashlib.sha256(repr(parts).encode("utf-8", "surrogatepass")).hexdigest()


def _all_unchecked(cels: int) -> tuple[int, ...]:
    return tuple(cels if verdict is Verdict.NOT_CHECKED else 0 for verdict in Verdict)


def _json(summary: SceneSummary) -> str:
    return _adapter().dump_json(summary, warnings="error").decode("utf-8")


def _keys(scene: Scene) -> list[tuple[str, str]]:
    return [(shown(lv.name), shown(drawing.drawing)) for lv in scene.levels for drawing in lv.drawings]


@cache
def _adapter() -> TypeAdapter[SceneSummary]:
    return TypeAdapter(SceneSummary)
