"""The report as data: the published shape of `report.json`, which other people's scripts depend on."""

import json
import math
import os
from typing import Any

from cel_check.faults import Fault, FoundColor, ModelMatch, Verdict
from cel_check.report.words import NO_REASON, count_verdicts
from cel_check.scene.names import shown
from cel_check.scene.results import CelResult, FrameResult, SceneResult
from cel_check.version import NAME, VERSION

SCHEMA = 1
"""Number of the shape; it is described by `schema.json` beside this module."""


def report_dict(result: SceneResult) -> dict[str, Any]:
    """Return the report of a scene: plain JSON values, None where a key does not apply, text valid UTF-8."""
    return {
        "schema": SCHEMA,
        "tool": {"name": NAME, "version": VERSION},
        "scene": _scene(result),
        "verdict": result.verdict.value,
        "counts": _counts(result),
        "cels": [_cel(cel) for cel in result.cels],
        "frames": [_frame(frame) for frame in result.frames],
        "faults": [_fault(fault) for fault in result.faults],
        "notes": [shown(note) for note in result.notes],
    }


def report_json(result: SceneResult) -> bytes:
    """Return `report.json`: UTF-8, no NaN, the same bytes for the same results."""
    text = json.dumps(report_dict(result), ensure_ascii=False, allow_nan=False, indent=1)
    return (text + "\n").encode("utf-8")


def _scene(result: SceneResult) -> dict[str, Any]:
    return {
        "number": shown(result.number),
        "folder": shown(result.folder),
        "source": shown(result.source),
        "frames": len(result.frames),
        "levels": [shown(level) for level in result.levels],
        "condition": _text(result.condition),
        "fps": _number(result.fps),
        "background": _text(result.background),
        "models": [{"character": shown(who), "file": shown(file)} for who, file in result.models],
    }


def _counts(result: SceneResult) -> dict[str, int]:
    return {"cels": len(result.cels)} | {verdict.value: n for verdict, n in count_verdicts(result).items()}


def _cel(cel: CelResult) -> dict[str, Any]:
    return {
        "level": shown(cel.level),
        "drawing": shown(cel.drawing),
        "file": shown(cel.file),
        "file_bytes": _raw_name(cel.file),
        "sha256": cel.sha256,
        "frames": [int(frame) for frame in cel.frames],
        "verdict": cel.verdict.value,
        "width": cel.width,
        "height": cel.height,
        "error": _error(cel),
        "notes": [shown(note) for note in cel.notes],
    }


def _error(cel: CelResult) -> str | None:
    """Return why a cel was not checked; a cel that was not checked always states a reason."""
    if cel.verdict is Verdict.NOT_CHECKED:
        return shown(cel.error or NO_REASON)
    return _text(cel.error)


def _raw_name(file: str) -> str | None:
    """Return a name's bytes in hexadecimal where `shown` had to change it, so that it is not lost."""
    if shown(file) == file:
        return None
    return file.encode("utf-8", "surrogateescape" if os.name != "nt" else "surrogatepass").hex()


def _frame(frame: FrameResult) -> dict[str, Any]:
    return {
        "frame": int(frame.frame),
        "cels": {shown(level): shown(drawing) for level, drawing in frame.cels},
        "verdict": frame.verdict.value,
        "faults": [shown(fault) for fault in frame.faults],
        "remarks": [{"column": shown(column), "text": shown(text)} for column, text in frame.remarks],
    }


def _fault(fault: Fault) -> dict[str, Any]:
    return {
        "id": shown(fault.id),
        "kind": fault.kind.value,
        "verdict": fault.verdict.value,
        "level": _text(fault.level),
        "drawing": _text(fault.drawing),
        "frames": [int(frame) for frame in fault.frames],
        "box": None if fault.box is None else [int(value) for value in fault.box],
        "point": None if fault.point is None else [int(value) for value in fault.point],
        "area_px": None if fault.area_px is None else int(fault.area_px),
        "found": _found(fault.found),
        "nearest": _match(fault.nearest),
        "expected": None if fault.expected is None else _expected(fault.expected),
        "visibility": _number(fault.visibility),
        "confidence": _number(fault.confidence),
        "send_to": fault.send_to.value,
        "text": shown(fault.text),
    }


def _found(found: FoundColor | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {"srgb": found.srgb, "lab": [_number(value) for value in found.lab]}


def _match(match: ModelMatch | None) -> dict[str, Any] | None:
    if match is None:
        return None
    return {
        "color": shown(match.color),
        "name": shown(match.name),
        "paint": _text(match.paint),
        "model": shown(match.model),
        "srgb": match.srgb,
        "delta_e": _number(match.delta_e),
        "tolerance": _number(match.tolerance),
    }


def _expected(match: ModelMatch) -> dict[str, Any]:
    return (_match(match) or {}) | {"because": _text(match.because or None)}


def _text(text: str | None) -> str | None:
    return None if text is None else shown(text)


def _number(value: float) -> float | None:
    """Return `value` to four decimals; None where it is no number, since JSON has no word for that."""
    return round(float(value), 4) if math.isfinite(value) else None
