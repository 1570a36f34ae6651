"""An episode's report as data: the published shape of `episode.json`."""

import json
import math
from collections import Counter
from typing import Any

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.scene.names import shown
from cel_check.scene.summary import (
    Change,
    Decided,
    EpisodeSummary,
    FaultLine,
    ModelUse,
    RunLine,
    SceneState,
    SceneSummary,
    Tally,
)
from cel_check.version import NAME, VERSION

SCHEMA = 2
"""Number of the shape; it is described by `episode_schema.json` beside this module."""

WORST = 20
"""Faults that the report names as the worst."""


def episode_dict(summary: EpisodeSummary) -> dict[str, Any]:
    """Return an episode's report: plain JSON values, None where a key does not apply, text valid UTF-8.

    What depends on the clock stands under `run`, `pace` and in the runs' `started` and `finished`; all else
    is the same for the same episode.
    """
    return {
        "schema": SCHEMA,
        "tool": {"name": NAME, "version": VERSION},
        "episode": {
            "number": shown(summary.number),
            "title": None if summary.title is None else shown(summary.title),
            "folder": shown(summary.name),
        },
        "run": _run(summary),
        "finished": summary.finished,
        "counts": _counts(summary),
        "changes": changes_of(summary),
        "pace": _pace(summary),
        "scenes": [_scene(scene) for scene in summary.scenes],
        "worst": [line.identity for _, line in worst_faults(summary, WORST)],
        "continuity": [
            {"sequence": one.sequence or None, "before": one.before, "after": one.after, "text": one.text}
            for one in summary.breaks
        ],
        "runs": [_run_line(run) for run in summary.runs],
        "notes": [shown(note) for note in summary.notes],
    }


def episode_json(summary: EpisodeSummary) -> bytes:
    """Return `episode.json`: UTF-8, no NaN."""
    text = json.dumps(episode_dict(summary), ensure_ascii=False, allow_nan=False, indent=1)
    return (text + "\n").encode("utf-8")


def worst_faults(summary: EpisodeSummary, most: int) -> list[tuple[SceneSummary, FaultLine]]:
    """Return the faults that an audience would notice most, retakes before queries, with their scenes."""
    faults = [(scene, line) for scene in summary.scenes for line in scene.faults]
    faults.sort(key=lambda pair: (pair[1].verdict is not Verdict.RETAKE, -pair[1].visibility))
    return faults[:most]


def changes_of(summary: EpisodeSummary) -> dict[str, int]:
    """Return how many faults are new, still there, mended or not known since the last run."""
    changes = Counter(line.change for scene in summary.scenes for line in scene.faults)
    return {
        Change.NEW.value: changes[Change.NEW],
        Change.STILL.value: changes[Change.STILL],
        "mended": sum(scene.mended for scene in summary.scenes),
        "unsure": sum(scene.unsure for scene in summary.scenes),
    }


def cel_counts(summary: EpisodeSummary) -> dict[Verdict, int]:
    """Return how many cels of the episode carry each verdict."""
    return {v: sum(scene.cels[place] for scene in summary.scenes) for place, v in enumerate(Verdict)}


def _run(summary: EpisodeSummary) -> dict[str, Any]:
    return {"number": summary.run, "started": summary.started, "ended": summary.ended}


def _counts(summary: EpisodeSummary) -> dict[str, Any]:
    lines = [line for scene in summary.scenes for line in scene.faults]
    kinds, places = Counter(line.kind for line in lines), Counter(line.send_to for line in lines)
    states = Counter(scene.state for scene in summary.scenes)
    cels = {verdict.value: count for verdict, count in cel_counts(summary).items()}
    return {
        "scenes": {"all": len(summary.scenes)} | {state.value: states[state] for state in SceneState},
        "cels": {"all": sum(cels.values())} | cels,
        "faults": {"all": len(lines)} | {kind.value: kinds[kind] for kind in FaultKind},
        "send_to": {place.value: places[place] for place in SendTo},
    }


def _pace(summary: EpisodeSummary) -> dict[str, Any]:
    pace = summary.pace
    return {
        "camera_date": pace.camera_date,
        "days_left": pace.days_left,
        "scenes_left": pace.scenes_left,
        "needed_a_day": _number(pace.needed),
        "kept_a_day": _number(pace.kept),
    }


def _scene(scene: SceneSummary) -> dict[str, Any]:
    return {
        "folder": scene.name,
        "number": scene.number,
        "state": scene.state.value,
        "verdict": None if scene.verdict is None else scene.verdict.value,
        "cels": {"all": sum(scene.cels)} | {v.value: n for v, n in zip(Verdict, scene.cels, strict=True)},
        "frames": scene.frames,
        "condition": scene.condition,
        "models": [_model(use) for use in scene.models],
        "faults": [_fault(line) for line in scene.faults],
        "mended": scene.mended,
        "unsure": scene.unsure,
        "report": scene.page or None,
        "problems": list(scene.problems),
        "waved": [_fault(line) for line in scene.waved],
        "passed": _decided(scene.passed),
        "passed_cels": [
            {
                "level": cel.level,
                "drawing": cel.drawing,
                "sha256": cel.sha256,
                "decided": _decided(cel.passed),
            }
            for cel in scene.lines
            if cel.passed is not None
        ],
    }


def _decided(told: Decided | None) -> dict[str, Any] | None:
    if told is None:
        return None
    return {
        "deed": told.deed.value,
        "who": shown(told.who),
        "at": told.at,
        "reason": shown(told.reason) or None,
        "lesson": told.lesson,
    }


def _model(use: ModelUse) -> dict[str, Any]:
    return {"character": use.character, "file": use.file, "sha256": use.version or None}


def _fault(line: FaultLine) -> dict[str, Any]:
    return {
        "identity": line.identity,
        "id": line.id,
        "kind": line.kind.value,
        "verdict": line.verdict.value,
        "send_to": line.send_to.value,
        "change": line.change.value,
        "level": line.level,
        "drawing": line.drawing,
        "file": line.file,
        "sha256": line.sha256,
        "frames": list(line.frames),
        "box": None if line.box is None else list(line.box),
        "color": f"{line.model}/{line.color}" if line.color else None,
        "paint": line.paint or None,
        "visibility": _number(line.visibility),
        "confidence": _number(line.confidence),
        "text": line.text,
        "decided": _decided(line.decided),
        "added_by": shown(line.added_by) or None,
    }


def _run_line(run: RunLine) -> dict[str, Any]:
    return {"number": run.number, "started": run.started, "finished": run.finished} | _tally(run.tally)


def _tally(tally: Tally) -> dict[str, Any]:
    return {
        "scenes": {state.value: count for state, count in tally.states},
        "cels": {verdict.value: count for verdict, count in tally.cels},
        "faults": {kind.value: count for kind, count in tally.kinds},
    }


def _number(value: float | None) -> float | None:
    return round(value, 4) if value is not None and math.isfinite(value) else None
