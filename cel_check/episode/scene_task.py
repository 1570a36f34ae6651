"""The task of concluding a scene and its answer: plain data, without pixels or heavy libraries."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cel_check.errors import Problem
from cel_check.scene.results import CelResult
from cel_check.scene.scene import Scene
from cel_check.scene.summary import ModelUse, Report, SceneSummary
from cel_check.settings import Settings

PAGE = "report.html"
Slot = int | CelResult
"""A cel's result: the ledger's row, or the result itself where it is not remembered."""
FileState = tuple[int, int] | None
"""A file's size and the time of its last change in ns; None where there is none."""


@dataclass(frozen=True)
class SceneTask:
    """All that a worker must know to conclude a scene.

    Attributes:
        scene: as loaded.
        settings: the thresholds.
        slots: each cel's result, in the order of the scene's tasks.
        ledger: the ledger's file.
        out: folder of the scene's report.
        models: the color models with their content.
        report: writes the report.
        shown: digest of the results that the report in `out` shows; empty where there is none.
    """

    scene: Scene
    settings: Settings
    slots: tuple[Slot, ...]
    ledger: Path
    out: Path
    models: tuple[ModelUse, ...]
    report: Report
    shown: str = ""


@dataclass(frozen=True)
class SceneAnswer:
    """A concluded scene; or the rows that could not be read back; or why there is no report.

    Attributes:
        summary: the scene's summary, its faults without identity; None where the report stands as it is, too.
        shown: digest of the results that the report shows.
        whole: whether all pictures that it is made from could be read; else the next run concludes it anew.
        damaged: rows of the ledger that must be dropped and checked again.
        problems: why the report could not be written, to be raised.
    """

    summary: SceneSummary | None = None
    shown: str = ""
    whole: bool = True
    damaged: tuple[int, ...] = ()
    problems: tuple[Problem, ...] = ()


def files_of(out: Path) -> Iterator[Path]:
    """Yield the files that the report of a concluded scene must have.

    Args:
        out: folder of the scene's report.
    """
    yield from (out / name for name in (PAGE, "report.json", "report.csv"))


def background_state(scene: Scene) -> FileState:
    """Return the size and time of a scene's background, which its report shows; None where there is none."""
    return None if scene.background is None else _state(scene.folder / scene.background)


def reference_states(scene: Scene) -> tuple[FileState, ...]:
    """Return the sizes and times of the reference cels that a scene's cels are compared with."""
    return tuple(_state(path) for level in scene.levels for path in level.references)


def _state(path: Path) -> FileState:
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_size, found.st_mtime_ns
