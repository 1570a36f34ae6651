"""The tasks of a scene: all that a worker must know of each cel, without pixels or heavy libraries."""

from dataclasses import dataclass
from pathlib import Path

from cel_check.faults import Verdict
from cel_check.model.colormodel import Palette
from cel_check.scene.results import CelResult
from cel_check.scene.scan_terms import ScanTerms
from cel_check.scene.scene import Scene
from cel_check.settings import Settings

# Megabytes of a file are taken for megapixels: a scan needs 1.4 bytes a pixel, flat art a tenth of that. Flat
# art is given `seconds_at_least`, in which its largest allowed picture is checked several times over.
_BYTES_A_MEGAPIXEL = 1_000_000


@dataclass(frozen=True)
class CelTask:
    """All that a worker must know of one cel; it can be pickled.

    Attributes:
        level: the level's name.
        drawing: the drawing number as in `12b`, or the file's name.
        file: path relative to the scene folder, with `/`.
        path: where it is opened.
        palette: the colors of its level.
        settings: the thresholds.
        seconds: how long it may take before it counts as hung.
        outside: whether it is a link to outside the scene folder, which is not followed.
        scan: how its scan is taken; None on a digital painting.
    """

    level: str
    drawing: str
    file: str
    path: Path
    palette: Palette
    settings: Settings
    seconds: float
    outside: bool = False
    scan: ScanTerms | None = None


def tasks_of(scene: Scene, settings: Settings) -> tuple[CelTask, ...]:
    """Return the scene's tasks in level order, then number order."""
    return tuple(
        CelTask(
            level=level.name,
            drawing=drawing.drawing,
            file=drawing.file,
            path=drawing.path,
            palette=level.palette,
            settings=settings,
            seconds=max(
                settings.seconds_at_least,
                settings.seconds_per_megapixel * drawing.bytes / _BYTES_A_MEGAPIXEL,
            ),
            outside=drawing.outside,
            scan=scene.scan,
        )
        for level in scene.levels
        for drawing in level.drawings
    )


def unchecked(task: CelTask, reason: str) -> CelResult:
    """Return the result of a cel that was not checked."""
    return CelResult(task.level, task.drawing, task.file, Verdict.NOT_CHECKED, error=reason)
