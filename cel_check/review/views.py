"""What the page is told, as plain JSON values: numbers for pictures, texts that are safe to show."""

from collections.abc import Iterable
from typing import Any

from cel_check.episode.agreement import KindAgreement
from cel_check.episode.decided import NEVER_WAVED, scene_content
from cel_check.episode.lessons import Lesson
from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.report.episode_page import STATE_SIGNS, STATE_WORDS
from cel_check.report.shapes import svg_points
from cel_check.report.words import DEPARTMENTS, KIND_TITLES, frames_phrase, how_sure, how_visible
from cel_check.review.desk import KINDS_BY_HAND, Standing
from cel_check.review.pictures import REDUCTIONS, Under, offset_of
from cel_check.review.shelf import Shelf
from cel_check.scene.camera import ACTION_SAFE, TITLE_SAFE
from cel_check.scene.cuts import seen_rects
from cel_check.scene.names import shown
from cel_check.scene.summary import CelLine, Decided, Deed, FaultLine

DEED_WORDS = {
    Deed.RETAKE: "retake",
    Deed.PASS: "passed",
    Deed.NO_FAULT: "not a fault",
}


def words_view() -> dict[str, Any]:
    """Return the words and shapes that every scene shares."""
    return {
        "kinds": {kind.value: {"title": KIND_TITLES[kind], "shape": svg_points(kind)} for kind in FaultKind},
        "by_hand": [kind.value for kind in KINDS_BY_HAND],
        "departments": {place.value: DEPARTMENTS[place] for place in SendTo},
        "deeds": {deed.value: words for deed, words in DEED_WORDS.items()},
        "reductions": list(REDUCTIONS),
        "safe": [ACTION_SAFE, TITLE_SAFE],
    }


def scenes_view(standing: Iterable[Standing]) -> list[dict[str, Any]]:
    """Return the episode's scenes for the list."""
    return [
        {
            "number": one.summary.number,
            "folder": one.summary.name,
            "state": STATE_WORDS[one.summary.state],
            "sign": STATE_SIGNS[one.summary.state].value,
            "waiting": len(one.waiting()),
            "can_show": bool(one.shelf.frames),
        }
        for one in standing
    ]


def scene_view(one: Standing) -> dict[str, Any]:
    """Return a scene: its frames, levels, cels and faults."""
    shelf, summary = one.shelf, one.summary
    return {
        "number": summary.number,
        "folder": summary.name,
        "state": STATE_WORDS[summary.state],
        "sign": STATE_SIGNS[summary.state].value,
        "fps": shelf.scene.fps if shelf.scene else 24,
        "size": list(one.size) if one.size != (1, 1) else None,
        "background": shelf.background is not None,
        "levels": [_level(shelf, row, one) for row in range(len(shelf.levels))],
        "frames": [_frame(shelf, place) for place in range(len(shelf.frames))],
        "fields": _fields(one),
        "faults": [_fault(line, one) for line in _in_order(one)],
        "content": scene_content(summary.lines),
        "passed": decided_view(summary.passed),
        "problems": list(summary.problems),
        "last": one.last,
    }


def _in_order(one: Standing) -> list[FaultLine]:
    """Return every fault, decided or not, in the order in which the scene shows them."""
    lines = [*one.summary.faults, *one.summary.waved]
    return sorted(lines, key=lambda line: (line.frames[:1] or (1 << 30,), line.level or "", line.box or ()))


def _level(shelf: Shelf, row: int, one: Standing) -> dict[str, Any]:
    level = shelf.levels[row]
    return {
        "name": shown(level.name),
        "drawings": [_cel(shown(level.name), shown(d.drawing), one) for d in level.drawings],
    }


def _cel(level: str, drawing: str, one: Standing) -> dict[str, Any]:
    cel = one.cel(level, drawing) or CelLine(level, drawing, "", Verdict.NOT_CHECKED, None)
    return {
        "drawing": drawing,
        "verdict": cel.verdict.value,
        "sha256": cel.sha256,
        "passed": decided_view(cel.passed),
        "offset": list(offset_of((cel.width, cel.height), one.size)),
    }


def _frame(shelf: Shelf, place: int) -> dict[str, Any]:
    exposure = shelf.frames[place]
    cels = {}
    missing = []
    for level, drawing in exposure.cels:
        found = shelf.places.get((shown(level), shown(drawing)))
        if found is None:
            missing.append(f"{shown(level)} {shown(drawing)}")
        else:
            cels[str(found[0])] = found[1]
    return {
        "frame": exposure.frame,
        "cels": cels,
        "missing": missing,
        "remarks": [f"{shown(column)}: {shown(text)}" for column, text in exposure.remarks],
    }


def _fields(one: Standing) -> list[list[float]]:
    """Return what the camera sees of each frame, in its pixels: left, top, right, bottom."""
    width, height = one.size
    rects = seen_rects(one.shelf.scene, one.size) if one.shelf.scene else {}
    whole = (0.0, 0.0, float(width), float(height))
    return [[round(side, 2) for side in rects.get(exposure.frame, whole)] for exposure in one.shelf.frames]


def _fault(line: FaultLine, one: Standing) -> dict[str, Any]:
    place = one.shelf.places.get((line.level or "", line.drawing or ""))
    numbers = {exposure.frame: index for index, exposure in enumerate(one.shelf.frames)}
    return {
        "identity": line.identity,
        "kind": line.kind.value,
        "verdict": line.verdict.value,
        "send_to": line.send_to.value,
        "level": None if place is None else place[0],
        "drawing": None if place is None else place[1],
        "where": " ".join(text for text in (line.level, line.drawing) if text) or "the scene",
        "frames": [numbers[frame] for frame in line.frames if frame in numbers],
        "frames_words": frames_phrase(line.frames),
        "text": line.text,
        "box": list(line.box) if line.box else None,
        "paint": line.paint or None,
        "srgb": line.srgb or None,
        "found": line.found or None,
        "sure": how_sure(line.confidence),
        "seen": how_visible(line.visibility),
        "sha256": line.sha256,
        "decided": decided_view(line.decided),
        "added_by": shown(line.added_by) or None,
        "can_wave": line.kind not in NEVER_WAVED,
    }


def decided_view(told: Decided | None) -> dict[str, Any] | None:
    """Return a decision as the page tells it."""
    if told is None:
        return None
    return {
        "deed": told.deed.value,
        "words": DEED_WORDS.get(told.deed, told.deed.value),
        "who": shown(told.who),
        "at": told.at.replace("T", " ").replace("+00:00", " UTC"),
        "reason": shown(told.reason),
        "id": told.decision,
        "lesson": told.lesson,
    }


def under_view(found: Iterable[Under]) -> list[dict[str, Any]]:
    """Return what lies under a pixel, the top level first."""
    return [
        {
            "level": shown(one.level),
            "srgb": one.srgb,
            "lab": [round(value, 2) for value in one.lab],
            "alpha": one.alpha,
            "paints": [
                {
                    "name": shown(paint.name),
                    "key": shown(paint.key),
                    "srgb": paint.srgb,
                    "delta_e": round(paint.delta_e, 2),
                    "within": paint.delta_e <= paint.tolerance,
                    "tolerance": paint.tolerance,
                }
                for paint in one.paints
            ],
        }
        for one in found
    ]


def lessons_view(lessons: Iterable[Lesson], revoked: frozenset[int]) -> list[dict[str, Any]]:
    """Return every lesson with what it says, taken back or not."""
    return [
        {
            "id": lesson.id,
            "scene": shown(lesson.scene),
            "who": shown(lesson.who),
            "at": lesson.at.replace("T", " ").replace("+00:00", " UTC"),
            "says": lesson_words(lesson),
            "revoked": lesson.id in revoked,
        }
        for lesson in lessons
    ]


def lesson_words(lesson: Lesson) -> str:
    """Return what a lesson says, in a sentence."""
    cause = lesson.cause
    where = f"On level {cause.level}" if cause.level else "In the scene"
    what = f"`{KIND_TITLES[cause.kind].lower()}` is not a fault"
    color = f" where {cause.found} was found" if cause.found else ""
    beside = f" in place of {cause.color}" if cause.color else ""
    near = f", near {'that place' if len(cause.boxes) == 1 else 'those places'}" if cause.boxes else ""
    return shown(f"{where} {what}{color}{beside}{near}.")


def agreement_view(rows: Iterable[KindAgreement]) -> list[dict[str, Any]]:
    """Return the report on agreement, one row a kind."""
    return [
        {
            "kind": row.kind.value,
            "title": KIND_TITLES[row.kind],
            "shown": row.shown,
            "agreed": row.agreed,
            "passed": row.passed,
            "not-a-fault": row.no_fault,
            "open": row.open,
            "by-hand": row.by_hand,
            "agreement": None if row.agreement is None else round(row.agreement, 3),
        }
        for row in rows
    ]
