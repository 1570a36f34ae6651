"""What an episode's page shows, as plain records, and the page itself."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from jinja2 import Environment

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.report.episode_json import cel_counts, changes_of, worst_faults
from cel_check.report.html import policy_of
from cel_check.report.plots import sparks_of, strip_of
from cel_check.report.slips import SlipFile, picture_of
from cel_check.report.words import KIND_TITLES, frames_phrase, how_visible, plural
from cel_check.scene.summary import (
    Change,
    EpisodeSummary,
    FaultLine,
    Pace,
    SceneState,
    SceneSummary,
)
from cel_check.version import NAME, VERSION

WORST_SHOWN = 12
"""Magnified faults on the page; the scenes' own pages show them all."""

STATE_WORDS: Mapping[SceneState, str] = MappingProxyType(
    {
        SceneState.NOT_PAINTED: "not painted",
        SceneState.NOT_CHECKED: "not checked",
        SceneState.RETAKE: "in retake",
        SceneState.QUERY: "in query",
        SceneState.PASSED: "passed",
        SceneState.STALE: "stale",
    }
)

STATE_SIGNS: Mapping[SceneState, Verdict] = MappingProxyType(
    {
        SceneState.NOT_PAINTED: Verdict.NOT_CHECKED,
        SceneState.NOT_CHECKED: Verdict.NOT_CHECKED,
        SceneState.RETAKE: Verdict.RETAKE,
        SceneState.QUERY: Verdict.QUERY,
        SceneState.PASSED: Verdict.PASS,
        SceneState.STALE: Verdict.NOT_CHECKED,
    }
)
"""The sign beside a state: what was not looked at as it is now never gets that of a pass."""

_PRESSING = (
    SceneState.RETAKE,
    SceneState.NOT_CHECKED,
    SceneState.STALE,
    SceneState.QUERY,
    SceneState.NOT_PAINTED,
)


@dataclass(frozen=True)
class WorstView:
    """One of the worst faults as the page shows it."""

    scene: SceneSummary
    line: FaultLine
    title: str
    crop: str
    href: str
    frames: str
    seen: str


@dataclass(frozen=True)
class SceneRow:
    """One scene of the table: `faults` are counts by department, in the order of `SendTo`."""

    scene: SceneSummary
    faults: tuple[int, ...]
    retakes: int
    queries: int
    new: int
    still: int


@dataclass(frozen=True)
class DecidedRow:
    """What people decided in one scene: faults that they sent back, and cels that they passed."""

    scene: SceneSummary
    retakes: int
    cels: int


@dataclass(frozen=True)
class KindRow:
    """One fault kind of the table."""

    kind: FaultKind
    retakes: int
    queries: int
    new: int


def render_episode(
    environment: Environment,
    summary: EpisodeSummary,
    slips: Sequence[SlipFile],
    slip_counts: Mapping[SendTo, int],
) -> bytes:
    """Return `episode.html` as UTF-8."""
    states = Counter(scene.state for scene in summary.scenes)
    text = environment.get_template("episode.html").render(
        episode=summary,
        states={state: states[state] for state in SceneState},
        state_words=STATE_WORDS,
        state_signs=STATE_SIGNS,
        cels=cel_counts(summary),
        changes=changes_of(summary),
        sentences=head_sentences(summary),
        pace=pace_sentences(summary.pace),
        strip=strip_of(summary.scenes, dict(STATE_WORDS)),
        sparks=sparks_of(summary.runs),
        rows=scene_rows(summary),
        passed=[scene for scene in summary.scenes if scene.state is SceneState.PASSED],
        kinds=kind_rows(summary),
        decided=decided_rows(summary),
        worst=[_worst(scene, line) for scene, line in worst_faults(summary, WORST_SHOWN)],
        slips=slips,
        slip_counts=slip_counts,
        places=tuple(SendTo),
        SceneState=SceneState,
        Change=Change,
        program=f"{NAME} {VERSION}",
        policy=policy_of(environment, "episode.css"),
    )
    return text.encode("utf-8")


def head_sentences(summary: EpisodeSummary) -> tuple[str, ...]:
    """Return what stands between the episode and camera, in short sentences."""
    states = Counter(scene.state for scene in summary.scenes)
    verbs = {
        SceneState.RETAKE: "in retake",
        SceneState.NOT_CHECKED: "not checked",
        SceneState.STALE: "stale: changed since the last check",
        SceneState.QUERY: "waiting for a person to decide",
        SceneState.NOT_PAINTED: "not painted",
    }
    sentences = [
        f"{plural(states[state], 'scene is', 'scenes are')} {verbs[state]}."
        for state in _PRESSING
        if states[state]
    ]
    if not summary.finished:
        sentences.insert(0, "The run was stopped before every cel was looked at: run it again for the rest.")
    return tuple(sentences) or ("Nothing stands between this episode and camera that the check looks for.",)


def pace_sentences(pace: Pace) -> tuple[str, ...]:
    """Return the pace needed and kept, in sentences."""
    kept = (
        "The pace kept is not known before the runs span a day."
        if pace.kept is None
        else f"{_a_day(pace.kept)} scenes a day have passed since the first run."
    )
    if pace.camera_date is None or pace.days_left is None:
        return ("No camera date is given (camera_date in episode.toml).", kept)
    if not pace.scenes_left:
        return (f"Every scene passes; camera is on {pace.camera_date}.",)
    left = plural(pace.scenes_left, "scene")
    if pace.needed is None:
        return (f"Camera was on {pace.camera_date}, and {left} do not pass yet.", kept)
    days = plural(pace.days_left, "day")
    needed = f"{left} in {days} until {pace.camera_date}: {_a_day(pace.needed)} scenes a day must pass."
    if pace.kept is None:
        return (needed, kept)
    verdict = "That is enough." if pace.kept >= pace.needed else "At that pace the date is missed."
    return (needed, f"{kept} {verdict}")


def _a_day(scenes: float) -> str:
    return f"{scenes:.1f}" if abs(scenes) >= 0.05 else "fewer than 0.1"


def scene_rows(summary: EpisodeSummary) -> tuple[SceneRow, ...]:
    """Return the scenes that do not pass, the most pressing state first, in number order."""
    rows = [_row(scene) for scene in summary.scenes if scene.state is not SceneState.PASSED]
    return tuple(sorted(rows, key=lambda row: _PRESSING.index(row.scene.state)))


def _row(scene: SceneSummary) -> SceneRow:
    places = Counter(line.send_to for line in scene.faults)
    verdicts = Counter(line.verdict for line in scene.faults)
    changes = Counter(line.change for line in scene.faults)
    return SceneRow(
        scene,
        tuple(places[place] for place in SendTo),
        verdicts[Verdict.RETAKE],
        verdicts[Verdict.QUERY],
        changes[Change.NEW],
        changes[Change.STILL],
    )


def decided_rows(summary: EpisodeSummary) -> tuple[DecidedRow, ...]:
    """Return the scenes in which people decided anything."""
    rows = [
        DecidedRow(
            scene,
            sum(line.decided is not None for line in scene.faults),
            sum(cel.passed is not None for cel in scene.lines),
        )
        for scene in summary.scenes
    ]
    return tuple(
        row for row in rows if row.retakes or row.cels or row.scene.waved or row.scene.passed is not None
    )


def kind_rows(summary: EpisodeSummary) -> tuple[KindRow, ...]:
    """Return the fault kinds that were found, in the order of the catalogue."""
    lines = [line for scene in summary.scenes for line in scene.faults]
    counts = Counter((line.kind, line.verdict) for line in lines)
    new = Counter(line.kind for line in lines if line.change is Change.NEW)
    return tuple(
        KindRow(kind, counts[kind, Verdict.RETAKE], counts[kind, Verdict.QUERY], new[kind])
        for kind in FaultKind
        if counts[kind, Verdict.RETAKE] or counts[kind, Verdict.QUERY]
    )


def _worst(scene: SceneSummary, line: FaultLine) -> WorstView:
    anchor = f"#{line.anchor}" if line.anchor else ""
    return WorstView(
        scene,
        line,
        KIND_TITLES[line.kind],
        picture_of(scene, line),
        f"{scene.page}{anchor}" if scene.page else "",
        frames_phrase(line.frames),
        how_visible(line.visibility),
    )
