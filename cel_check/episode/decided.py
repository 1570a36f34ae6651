"""What people decided, laid over what the check found: verdicts, states and slips follow the person.

The ledger keeps both apart. A fault counts as decided where a decision stands for its identity and the
content that its picture has now, or where a lesson covers its cause. A cel that was not checked stays so:
nobody can pass what was never looked at whole.
"""

import hashlib
import json
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass, replace

from cel_check.episode.added import Added, added_to, line_of
from cel_check.episode.decisions import Decision, history, in_force, revoked_lessons
from cel_check.episode.lessons import Lesson, lessons_of, shares
from cel_check.faults import FaultKind, Verdict
from cel_check.scene.summary import CelLine, Decided, Deed, FaultLine, SceneState, SceneSummary
from cel_check.scene.verdicts import worst

_STATES = {
    Verdict.PASS: SceneState.PASSED,
    Verdict.QUERY: SceneState.QUERY,
    Verdict.RETAKE: SceneState.RETAKE,
    Verdict.NOT_CHECKED: SceneState.NOT_CHECKED,
}
_FIXED = (SceneState.NOT_PAINTED, SceneState.STALE)
WAVED = frozenset({Deed.PASS, Deed.NO_FAULT})
"""Deeds after which a fault stands no more."""

NEVER_WAVED = frozenset({FaultKind.UNREADABLE})
"""What nobody could look at, nobody can pass: only the picture itself mends it."""


@dataclass(frozen=True)
class SceneLog:
    """Everything that people ever said of a scene."""

    decisions: tuple[Decision, ...] = ()
    lessons: tuple[Lesson, ...] = ()
    added: tuple[Added, ...] = ()


def read_log(db: sqlite3.Connection, scene: str) -> SceneLog:
    """Return what people said of a scene."""
    return SceneLog(history(db, scene), lessons_of(db, scene), added_to(db, scene))


def scene_content(lines: Sequence[CelLine]) -> str:
    """Return a digest of the content of all of a scene's pictures: what a passed scene is bound to."""
    told = sorted([line.level, line.drawing, line.sha256 or ""] for line in lines)
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()


def decided_summary(summary: SceneSummary, log: SceneLog) -> SceneSummary:
    """Return a scene as it stands after what people decided."""
    if log == SceneLog():
        return summary
    made = in_force(log.decisions)
    found = [_judged(line, made, log) for line in (*summary.faults, *_by_hand(summary, log))]
    standing = tuple(line for line in found if line.verdict is not Verdict.PASS)
    waved = tuple(line for line in found if line.verdict is Verdict.PASS)
    lines = tuple(_passed(cel, standing, made) for cel in summary.lines)
    verdicts = {(cel.level, cel.drawing): _cel_verdict(cel, standing) for cel in lines}
    cels = tuple(list(verdicts.values()).count(verdict) for verdict in Verdict) if lines else summary.cels
    done = replace(summary, faults=standing, waved=waved, lines=lines, cels=cels)
    if summary.verdict is None or summary.state in _FIXED:
        return done
    verdict = worst([*verdicts.values(), *(line.verdict for line in standing)])
    state = _STATES[verdict] if lines else summary.state
    now = replace(done, verdict=verdict, state=state)
    return replace(now, passed=_scene_passed(now, made))


def _by_hand(summary: SceneSummary, log: SceneLog) -> list[FaultLine]:
    cels = {(cel.level, cel.drawing): cel for cel in summary.lines}
    stands = {one.id for one in in_force(log.decisions)}
    first = {one.fault: one.id for one in reversed(log.decisions) if one.deed is not Deed.REVOKE}
    return [
        line_of(one, cels[one.level, one.drawing])
        for one in log.added
        if (one.level, one.drawing) in cels and first.get(one.identity) in stands
    ]


def _judged(line: FaultLine, made: Sequence[Decision], log: SceneLog) -> FaultLine:
    """Return a fault with what was decided on it, by a person or by a lesson."""
    own = [one for one in made if one.fault == line.identity and one.sha256 == line.sha256]
    if own:
        return _after(line, own[-1])
    unlearned = revoked_lessons(log.decisions)
    for lesson in log.lessons:
        if lesson.id not in unlearned and shares(lesson.cause, line) and line.kind not in NEVER_WAVED:
            told = Decided(Deed.NO_FAULT, lesson.who, lesson.at, "", 0, lesson.id)
            return replace(line, verdict=Verdict.PASS, decided=told)
    return line


def _after(line: FaultLine, decision: Decision) -> FaultLine:
    told = as_told(decision)
    if decision.deed is Deed.RETAKE:
        send_to = decision.send_to or line.send_to
        return replace(line, verdict=Verdict.RETAKE, send_to=send_to, decided=told)
    if line.kind in NEVER_WAVED:
        return line
    return replace(line, verdict=Verdict.PASS, decided=told)


def as_told(decision: Decision) -> Decided:
    """Return a decision as reports tell it."""
    return Decided(decision.deed, decision.who, decision.at, decision.reason, decision.id, decision.lesson)


def _cel_verdict(cel: CelLine, standing: Sequence[FaultLine]) -> Verdict:
    """Return a cel's verdict: one that was not checked stays so."""
    own = [line.verdict for line in standing if (line.level, line.drawing) == (cel.level, cel.drawing)]
    if cel.verdict is Verdict.NOT_CHECKED:
        return Verdict.NOT_CHECKED
    return worst(own)


def _passed(cel: CelLine, standing: Sequence[FaultLine], made: Sequence[Decision]) -> CelLine:
    """Return a cel with who passed it; a fault that came up since makes it ask again."""
    own = [
        one
        for one in made
        if one.fault is None and (one.level, one.drawing, one.sha256) == (cel.level, cel.drawing, cel.sha256)
    ]
    if not own or own[-1].deed is not Deed.PASS or _cel_verdict(cel, standing) is not Verdict.PASS:
        return replace(cel, passed=None)
    return replace(cel, passed=as_told(own[-1]))


def _scene_passed(scene: SceneSummary, made: Sequence[Decision]) -> Decided | None:
    content = scene_content(scene.lines)
    own = [one for one in made if one.fault is None and one.level is None and one.sha256 == content]
    if not own or own[-1].deed is not Deed.PASS or scene.faults or scene.state is not SceneState.PASSED:
        return None
    return as_told(own[-1])
