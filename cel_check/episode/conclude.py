"""Concludes a scene: its cels' stored results become verdicts, a report and the scene's summary.

Runs in a worker, so that the supervisor only hands out and stores.
"""

import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import replace
from urllib.parse import quote

from cel_check.episode.codec import DamagedRowError, decode, restored
from cel_check.episode.keys import concluding_program, digest_of_all
from cel_check.episode.ledger import reading
from cel_check.episode.memory import load
from cel_check.episode.scene_task import PAGE, SceneAnswer, SceneTask, background_state
from cel_check.errors import BadInput
from cel_check.faults import Fault, FaultKind, ModelMatch, Verdict
from cel_check.scene.conduct import conduct
from cel_check.scene.names import shown
from cel_check.scene.results import CelResult, SceneResult
from cel_check.scene.scene import Scene
from cel_check.scene.summary import (
    CelLine,
    FaultLine,
    Place,
    SceneState,
    SceneSummary,
    Written,
)
from cel_check.scene.tasks import CelTask, tasks_of

STATES: Mapping[Verdict, SceneState] = {
    Verdict.PASS: SceneState.PASSED,
    Verdict.QUERY: SceneState.QUERY,
    Verdict.RETAKE: SceneState.RETAKE,
    Verdict.NOT_CHECKED: SceneState.NOT_CHECKED,
}


def conclude(task: SceneTask) -> SceneAnswer:
    """Conclude a scene, and write its report."""
    with reading(task.ledger) as db:
        results, damaged = _results(db, task)
    if damaged:
        return SceneAnswer(damaged=damaged)
    result = conduct(task.scene, task.settings, lambda _: enumerate(results))
    shown_now = _digest(result, task)
    if shown_now == task.shown:
        return SceneAnswer(shown=shown_now)
    try:
        written = task.report(result, task.scene.folder, task.out)
    except BadInput as error:
        return SceneAnswer(problems=tuple(error.problems))
    return SceneAnswer(summary_of(result, task, written), shown_now, result.whole and written.whole)


def _digest(result: SceneResult, task: SceneTask) -> str:
    """Return a digest of all that a scene's report shows; a thumbnail is told by its picture's content."""
    cels = tuple(replace(cel, thumbnail=b"", places=(), measured=None) for cel in result.cels)
    parts = (concluding_program(), replace(result, cels=cels), background_state(task.scene))
    return digest_of_all(parts)


def _results(db: sqlite3.Connection, task: SceneTask) -> tuple[list[CelResult], tuple[int, ...]]:
    results: list[CelResult] = []
    damaged: list[int] = []
    for cel, slot in zip(tasks_of(task.scene, task.settings), task.slots, strict=True):
        if isinstance(slot, CelResult):
            results.append(slot)
            continue
        try:
            results.append(_restored(db, slot, cel))
        except DamagedRowError:
            damaged.append(slot)
    return results, tuple(damaged)


def _restored(db: sqlite3.Connection, row: int, cel: CelTask) -> CelResult:
    try:
        payload, thumbnail = load(db, row)
    except sqlite3.DatabaseError as error:
        raise DamagedRowError(str(error)) from error
    return restored(decode(payload), thumbnail, cel)


def summary_of(result: SceneResult, task: SceneTask, written: Written) -> SceneSummary:
    """Return a scene's results as the episode's report tells them."""
    verdicts = [cel.verdict for cel in result.cels]
    return SceneSummary(
        name=shown(result.folder),
        number=shown(result.number),
        state=_state(result),
        verdict=result.verdict,
        cels=tuple(verdicts.count(verdict) for verdict in Verdict),
        frames=len(result.frames),
        condition=None if result.condition is None else shown(result.condition),
        models=task.models,
        faults=_lines(result, task.scene, written.places),
        page=f"{address(task.out.name)}/{PAGE}",
        lines=tuple(_cel_line(cel) for cel in result.cels),
    )


def _cel_line(cel: CelResult) -> CelLine:
    return CelLine(
        level=shown(cel.level),
        drawing=shown(cel.drawing),
        file=shown(cel.file),
        verdict=cel.verdict,
        sha256=cel.sha256,
        frames=cel.frames,
        width=cel.width,
        height=cel.height,
    )


def address(name: str) -> str:
    """Return a file's name as a relative address, percent-encoded byte by byte."""
    return quote(name.encode("utf-8", "surrogateescape"), safe="")


def _state(result: SceneResult) -> SceneState:
    """Return where a scene stands; one with anything unchecked never counts as passed or in query."""
    unchecked = not result.cels or any(cel.verdict is Verdict.NOT_CHECKED for cel in result.cels)
    if unchecked and result.verdict is not Verdict.RETAKE:
        return SceneState.NOT_CHECKED
    return STATES[result.verdict]


def _lines(result: SceneResult, scene: Scene, places: Sequence[Place]) -> tuple[FaultLine, ...]:
    cels = {(cel.level, cel.drawing): cel for cel in result.cels}
    told = {place.fault: place for place in places}
    lines = []
    for fault in result.faults:
        line = _line(fault, cels.get((fault.level or "", fault.drawing or "")), told.get(fault.id))
        if _is_of_frames(fault):
            line = replace(line, sha256=_frames_content(fault, result, scene))
        lines.append(line)
    return tuple(lines)


def _is_of_frames(fault: Fault) -> bool:
    """Return whether pictures that are there make a fault, and no single one of them."""
    missing = fault.kind is FaultKind.MISSING_CEL and fault.verdict is Verdict.RETAKE
    return fault.drawing is None and bool(fault.frames) and not missing


def _frames_content(fault: Fault, result: SceneResult, scene: Scene) -> str:
    """Return a digest of all that a fault's frames show: a decision on it holds for no other."""
    content = {(cel.level, cel.drawing): cel.sha256 for cel in result.cels}
    on = set(fault.frames)
    frames = [
        (frame.frame, [(key, content.get(key)) for key in frame.cels], frame.remarks)
        for frame in result.frames
        if frame.frame in on
    ]
    fields = () if scene.sheet is None else scene.sheet.fields  # held and moved, so all of them
    parts = (fields, fault.kind.value, fault.level, result.fps, frames, background_state(scene))
    return digest_of_all(parts)


def _line(fault: Fault, cel: CelResult | None, place: Place | None) -> FaultLine:
    line = FaultLine(
        identity="",
        id=shown(fault.id),
        kind=fault.kind,
        verdict=fault.verdict,
        send_to=fault.send_to,
        level=_text(fault.level),
        drawing=_text(fault.drawing),
        file=shown(cel.file) if cel else None,
        sha256=cel.sha256 if cel else None,
        frames=fault.frames,
        text=shown(fault.text),
        box=fault.box,
        visibility=fault.visibility,
        confidence=fault.confidence,
        anchor=place.anchor if place else "",
        crop=place.crop if place else None,
        found=fault.found.srgb if fault.found else "",
    )
    match = fault.expected or fault.nearest
    return line if match is None else _with_color(line, match)


def _with_color(line: FaultLine, match: ModelMatch) -> FaultLine:
    name = f"{match.name} ({match.paint})" if match.paint else match.name
    return replace(
        line, model=shown(match.model), color=shown(match.color), paint=shown(name), srgb=match.srgb
    )


def _text(text: str | None) -> str | None:
    return None if text is None else shown(text)
