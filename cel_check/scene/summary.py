"""What an episode's report is made from: small frozen records, one for each scene and fault; no pixels.

Texts in them are safe to show (`names.shown`) and addresses are percent-encoded: they are stored as JSON.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from cel_check.faults import Box, FaultKind, SendTo, Verdict
from cel_check.scene.results import SceneResult


class SceneState(StrEnum):
    """Where a scene stands on its way to camera."""

    NOT_PAINTED = "not-painted"
    NOT_CHECKED = "not-checked"
    RETAKE = "in-retake"
    QUERY = "in-query"
    PASSED = "passed"
    STALE = "stale"


class Change(StrEnum):
    """What became of a fault since the last finished run."""

    NEW = "new"
    STILL = "still-there"


class Deed(StrEnum):
    """What a person decided."""

    RETAKE = "retake"
    PASS = "pass"
    NO_FAULT = "not-a-fault"
    REVOKE = "revoke"


@dataclass(frozen=True)
class Decided:
    """What a person decided on a fault, a cel or a scene, as a report tells it.

    Attributes:
        deed: what.
        who: the person's name, as they gave it.
        at: when (UTC, ISO 8601).
        reason: why; empty where none was asked for.
        decision: its number in the ledger; 0 where a lesson alone decides.
        lesson: the lesson that it taught or follows, or None.
    """

    deed: Deed
    who: str
    at: str
    reason: str = ""
    decision: int = 0
    lesson: int | None = None


@dataclass(frozen=True)
class CelLine:
    """One cel of a scene: which content it had when it was checked, and what came of it.

    Attributes:
        level: the level's name.
        drawing: the drawing number.
        file: the picture's path in the scene.
        verdict: of the check, whatever a person decided.
        sha256: the picture's content, or None where it could not be read.
        frames: the frames on which it shows.
        passed: who passed the whole cel, or None.
        width: pixels; None where unknown.
        height: pixels; None where unknown.
    """

    level: str
    drawing: str
    file: str
    verdict: Verdict
    sha256: str | None
    frames: tuple[int, ...] = ()
    passed: Decided | None = None
    width: int | None = None
    height: int | None = None


@dataclass(frozen=True)
class PictureLink:
    """A picture of a scene's report: its address relative to the report's folder, and its size."""

    href: str
    width: int
    height: int


@dataclass(frozen=True)
class Place:
    """Where a fault is told in its scene's report: the anchor on its page, and the magnified picture."""

    fault: str
    anchor: str = ""
    crop: PictureLink | None = None


@dataclass(frozen=True)
class Written:
    """A scene's report as written.

    Attributes:
        files: the page first.
        places: where each fault is told.
        whole: whether it shows every picture that belongs in it.
    """

    files: tuple[Path, ...]
    places: tuple[Place, ...]
    whole: bool = True


Report = Callable[[SceneResult, Path, Path], Written]
"""Writes a scene's report: its results, the scene's folder and the report's folder; importable by name."""


@dataclass(frozen=True)
class FaultLine:
    """One fault, as an episode's report and the retake slips tell it.

    Attributes:
        identity: the same from run to run; empty until it is known.
        id: as in the scene's report.
        kind: the fault kind.
        verdict: `retake` or `query`.
        send_to: the department that mends it.
        level: the level's name, or None.
        drawing: the drawing number, or None.
        file: the picture's path in the scene, or None.
        sha256: the picture's content, or of all that its frames show where they carry it; or None.
        frames: the frames on which it shows.
        text: the sentence for the painter.
        model: key of the model of the color that should be there; empty where there is none.
        color: that color's id.
        paint: its name with the shop's number; empty where there is none.
        srgb: that color as `#RRGGBB`.
        box: where on the picture.
        visibility: 0 to 1.
        confidence: 0 to 1.
        anchor: its place on the scene's page; empty where it has none.
        crop: its magnified picture, or None.
        change: whether it is new since the last finished run.
        found: the color found, as `#RRGGBB`; empty where there is none.
        decided: what a person decided on it, or None.
        added_by: who drew it by hand; empty where the check found it.
    """

    identity: str
    id: str
    kind: FaultKind
    verdict: Verdict
    send_to: SendTo
    level: str | None
    drawing: str | None
    file: str | None
    sha256: str | None
    frames: tuple[int, ...]
    text: str
    model: str = ""
    color: str = ""
    paint: str = ""
    srgb: str = ""
    box: Box | None = None
    visibility: float = 0.0
    confidence: float = 1.0
    anchor: str = ""
    crop: PictureLink | None = None
    change: Change = Change.NEW
    found: str = ""
    decided: Decided | None = None
    added_by: str = ""


@dataclass(frozen=True)
class ModelUse:
    """A color model as a scene uses it: whose it is, its file, and a digest of the file's content."""

    character: str
    file: str
    version: str


@dataclass(frozen=True)
class SceneSummary:
    """One scene in an episode's report.

    Attributes:
        name: of its folder.
        number: the scene's number.
        state: where it stands.
        verdict: of the scene; None where it was never checked whole.
        cels: how many cels carry each verdict, in the order of `Verdict`.
        frames: how many frames it has.
        condition: the lighting condition, or None.
        models: the color models that it uses.
        faults: every fault that stands, in the order of the scene's report.
        mended: how many faults are gone since the last finished run.
        unsure: how many earlier faults lie on cels that were not checked this time.
        page: address of its report relative to the episode's; empty where it has none.
        problems: what must be mended before it can be checked, one line each.
        lines: every cel.
        waved: faults that a person passed or called none; they are not among `faults`.
        passed: who passed the whole scene, or None.
    """

    name: str
    number: str
    state: SceneState
    verdict: Verdict | None = None
    cels: tuple[int, ...] = (0, 0, 0, 0)
    frames: int = 0
    condition: str | None = None
    models: tuple[ModelUse, ...] = ()
    faults: tuple[FaultLine, ...] = ()
    mended: int = 0
    unsure: int = 0
    page: str = ""
    problems: tuple[str, ...] = ()
    lines: tuple[CelLine, ...] = ()
    waved: tuple[FaultLine, ...] = ()
    passed: Decided | None = None


@dataclass(frozen=True)
class Tally:
    """What stood at the end of a run: faults by kind, scenes by state, and cels by verdict."""

    kinds: tuple[tuple[FaultKind, int], ...]
    states: tuple[tuple[SceneState, int], ...]
    cels: tuple[tuple[Verdict, int], ...]


@dataclass(frozen=True)
class RunLine:
    """A finished run: its number from 1, when it began and ended (UTC, ISO 8601), and what stood then."""

    number: int
    started: str
    finished: str
    tally: Tally


@dataclass(frozen=True)
class Pace:
    """Scenes a day.

    Attributes:
        camera_date: ISO 8601, or None.
        days_left: from today to that day, both counted; None without a date; 0 or less where it is past.
        scenes_left: scenes that do not pass yet.
        needed: scenes a day that must pass; None where there is no date or no day left.
        kept: scenes a day that passed since the first run; None before a day is over.
    """

    camera_date: str | None
    days_left: int | None
    scenes_left: int
    needed: float | None
    kept: float | None


@dataclass(frozen=True)
class Break:
    """Two neighbors in one sequence that differ where they should go on.

    Attributes:
        sequence: its name; empty where the episode is one sequence.
        before: folder of the scene before.
        after: folder of the scene after.
        text: what differs, one sentence.
    """

    sequence: str
    before: str
    after: str
    text: str


@dataclass(frozen=True)
class EpisodeSummary:
    """A whole episode: all that its report is made from.

    Attributes:
        name: of its folder.
        number: the episode's number.
        title: its title, or None.
        scenes: in number order.
        runs: finished runs, the first first; the last is this one unless it was interrupted.
        finished: whether every cel was looked at in this run.
        run: number of this run.
        started: when this run began (UTC, ISO 8601).
        ended: when this report was made.
        pace: against the camera date.
        breaks: of continuity.
        notes: what a person should know of the run.
    """

    name: str
    number: str
    title: str | None
    scenes: tuple[SceneSummary, ...]
    runs: tuple[RunLine, ...]
    finished: bool
    run: int
    started: str
    ended: str
    pace: Pace
    breaks: tuple[Break, ...] = ()
    notes: tuple[str, ...] = ()
