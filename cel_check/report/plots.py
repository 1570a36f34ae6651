"""Plots of an episode as plain geometry, from which the templates draw SVG.

Nothing is told by hue alone: a verdict has its own texture, and every mark its words.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from cel_check.faults import FaultKind, Verdict
from cel_check.scene.summary import RunLine, SceneState, SceneSummary

COLUMN_HEIGHT = 96
"""Height of a scene's column, in units of the strip's drawing."""
_WIDEST, _NARROWEST, _STRIP_WIDTH = 44.0, 5.0, 1180.0
_LABEL_UNITS = 34.0
"""Room that a scene's number needs below the strip."""
_SPARK_WIDTH, _SPARK_HEIGHT = 220.0, 26.0
_MOST_RUNS = 60
"""Points of a line that can still be told apart."""
_ORDER = (Verdict.RETAKE, Verdict.NOT_CHECKED, Verdict.QUERY, Verdict.PASS)


@dataclass(frozen=True)
class Piece:
    """A piece of a column: the cels of one verdict."""

    verdict: Verdict
    y: float
    height: float


@dataclass(frozen=True)
class Column:
    """One scene of the strip; `label` is empty where there is no room for it."""

    scene: SceneSummary
    x: float
    pieces: tuple[Piece, ...]
    label: str
    words: str


@dataclass(frozen=True)
class Strip:
    """The whole strip: `width` is that of the drawing, `column` that of one scene without its gap."""

    width: float
    column: float
    columns: tuple[Column, ...]


@dataclass(frozen=True)
class Spark:
    """How the faults of one kind went over the runs: the points of a stepped line, and both ends."""

    kind: FaultKind
    points: str
    first: int
    last: int
    most: int


def strip_of(scenes: Sequence[SceneSummary], words: dict[SceneState, str]) -> Strip:
    """Return the strip: a column a scene, filled from the bottom by its cels, the worst verdict first."""
    pitch = min(_WIDEST, max(_NARROWEST, _STRIP_WIDTH / max(1, len(scenes))))
    every = max(1, round(_LABEL_UNITS / pitch + 0.49))
    columns = tuple(
        Column(
            scene,
            round(place * pitch, 2),
            _pieces(scene),
            scene.number if place % every == 0 else "",
            f"Scene {scene.number}: {words[scene.state]}, {sum(scene.cels)} cels, {len(scene.faults)} faults",
        )
        for place, scene in enumerate(scenes)
    )
    return Strip(round(pitch * len(scenes), 2), round(pitch * 0.82, 2), columns)


def _pieces(scene: SceneSummary) -> tuple[Piece, ...]:
    counts = dict(zip(Verdict, scene.cels, strict=True))
    total = sum(scene.cels)
    if not total:
        return ()
    heights = [COLUMN_HEIGHT * counts[verdict] / total for verdict in _ORDER]
    tops = accumulate(heights)
    return tuple(
        Piece(verdict, round(COLUMN_HEIGHT - top, 2), round(height, 2))
        for verdict, top, height in zip(_ORDER, tops, heights, strict=True)
        if height
    )


def sparks_of(runs: Sequence[RunLine]) -> tuple[Spark, ...]:
    """Return the course of every kind that had a fault in one of the last runs."""
    shown = runs[-_MOST_RUNS:]
    counts = {kind: [dict(run.tally.kinds).get(kind, 0) for run in shown] for kind in FaultKind}
    return tuple(_spark(kind, numbers) for kind, numbers in counts.items() if any(numbers))


def _spark(kind: FaultKind, numbers: Sequence[int]) -> Spark:
    most = max(numbers)
    step = _SPARK_WIDTH / len(numbers)
    points = []
    for place, number in enumerate(numbers):
        y = round(_SPARK_HEIGHT * (1 - number / most) + 2, 1)
        points += [f"{place * step:.1f},{y}", f"{(place + 1) * step:.1f},{y}"]
    return Spark(kind, " ".join(points), numbers[0], numbers[-1], most)
