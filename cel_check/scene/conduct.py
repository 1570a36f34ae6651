"""Conducts the check of one scene: every cel on its own, then what only the whole scene shows.

The answer is the same whatever runs the cels, in whatever order they finish.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from cel_check.faults import Fault, FaultKind
from cel_check.scene.against_sheet import missing_cels, uncalled_cels, wrong_sizes
from cel_check.scene.before_camera import before_camera
from cel_check.scene.compared import compared
from cel_check.scene.composite import frame_size
from cel_check.scene.frames import Exposures, exposures_of
from cel_check.scene.holeless import aligned
from cel_check.scene.names import number_order
from cel_check.scene.results import CelResult, FrameResult, SceneResult
from cel_check.scene.scene import Scene
from cel_check.scene.tasks import CelTask, tasks_of, unchecked
from cel_check.scene.verdicts import cel_verdict, visibility, worst
from cel_check.settings import Settings

Run = Callable[[Sequence[CelTask]], Iterable[tuple[int, CelResult]]]
"""Runs tasks in any order and gives `(place of the task, its result)`; a task may be left out."""

STOPPED = "the run was stopped before this cel was checked"
_KIND_ORDER = {kind: place for place, kind in enumerate(FaultKind)}


def conduct(scene: Scene, settings: Settings, run: Run) -> SceneResult:
    """Check a scene.

    Args:
        scene: as loaded.
        settings: the thresholds.
        run: runs the cels; those it leaves out are `not-checked`.

    Returns:
        Everything the reports are made from.
    """
    exposures = exposures_of(scene)
    tasks = tasks_of(scene, settings)
    done = dict(run(tasks))
    checked = tuple(done.get(place) or unchecked(task, STOPPED) for place, task in enumerate(tasks))
    area = _field_area(checked)
    if scene.scan is not None:
        checked = aligned(checked, scene.scan)
    checked, unread = compared(scene, checked, settings)
    looked = before_camera(scene, checked, exposures)
    cels = _finished(scene, looked.cels, exposures, area)
    alone = _alone(scene, (*missing_cels(scene, exposures), *looked.faults), area)
    faults = _in_order((*alone, *(fault for cel in cels for fault in cel.faults)), exposures.levels)
    frames = _frames(cels, faults, exposures)
    return SceneResult(
        number=scene.number,
        folder=scene.name,
        source=scene.source,
        levels=exposures.levels,
        models=scene.models,
        condition=scene.condition,
        fps=scene.fps,
        background=scene.background,
        verdict=worst([cel.verdict for cel in cels] + [fault.verdict for fault in faults]),
        cels=cels,
        frames=frames,
        faults=faults,
        notes=scene.notes + unread + looked.notes,
        whole=looked.whole and not unread and not _failed(done, checked),
    )


def _failed(alone: Mapping[int, CelResult], together: Sequence[CelResult]) -> bool:
    """Return whether a cel that was checked alone could not be compared with the others."""
    return any(together[place].error != cel.error for place, cel in alone.items())


def _field_area(cels: Sequence[CelResult]) -> int:
    """Return the area of the field in pixels."""
    width, height = frame_size(cels)
    return width * height


def _finished(
    scene: Scene, cels: Sequence[CelResult], exposures: Exposures, area: int
) -> tuple[CelResult, ...]:
    uncalled, sizes = uncalled_cels(scene), wrong_sizes(scene, cels)
    finished = []
    for cel in cels:
        key = (cel.level, cel.drawing)
        frames = exposures.shown_on.get(key, ())
        own = [replace(fault, level=cel.level, drawing=cel.drawing) for fault in cel.faults]
        own += [fault for fault in (uncalled.get(key), sizes.get(key)) if fault is not None]
        faults = tuple(
            _placed(scene, fault, place, frames, area)
            for place, fault in enumerate(sorted(own, key=_reading_order), start=1)
        )
        finished.append(replace(cel, frames=frames, faults=faults, verdict=cel_verdict(faults, cel.error)))
    return tuple(finished)


def _alone(scene: Scene, faults: Sequence[Fault], area: int) -> tuple[Fault, ...]:
    """Return the faults that no cel carries, numbered within their level and drawing."""
    numbers: Counter[tuple[str | None, str | None]] = Counter()
    placed = []
    for fault in faults:
        numbers[fault.level, fault.drawing] += 1
        place = numbers[fault.level, fault.drawing]
        placed.append(_placed(scene, fault, place, fault.frames, area))
    return tuple(placed)


def _reading_order(fault: Fault) -> tuple[int, int, int, int, tuple[int, ...], str]:
    """Order faults of the whole file first, then from top to bottom and left to right."""
    box = fault.box or (-1, -1, 0, 0)
    return (box[1], box[0], _KIND_ORDER[fault.kind], -(fault.area_px or 0), box, fault.text)


def _placed(scene: Scene, fault: Fault, place: int, frames: tuple[int, ...], area: int) -> Fault:
    return replace(
        fault,
        id=f"{scene.name}/{fault.level or '-'}/{fault.drawing or '-'}/{place}",
        frames=frames,
        visibility=visibility(fault, area, len(frames) / scene.fps),
    )


def _in_order(faults: Sequence[Fault], levels: Sequence[str]) -> tuple[Fault, ...]:
    """Order faults by level, then drawing; the faults of one drawing keep their order."""

    def key(fault: Fault) -> tuple[int, bool, tuple[int, int, str, str]]:
        level = levels.index(fault.level) if fault.level in levels else -1
        return (level, fault.drawing is not None, number_order(fault.drawing or ""))

    return tuple(sorted(faults, key=key))


def _frames(
    cels: Sequence[CelResult], faults: Sequence[Fault], exposures: Exposures
) -> tuple[FrameResult, ...]:
    verdicts = {(cel.level, cel.drawing): cel.verdict for cel in cels}
    showing: dict[int, list[Fault]] = defaultdict(list)
    for fault in faults:
        for frame in fault.frames:
            showing[frame].append(fault)
    return tuple(
        FrameResult(
            frame=exposure.frame,
            cels=exposure.cels,
            verdict=worst(
                [verdicts[key] for key in exposure.cels if key in verdicts]
                + [fault.verdict for fault in showing[exposure.frame]]
            ),
            faults=tuple(fault.id for fault in showing[exposure.frame]),
            remarks=exposure.remarks,
        )
        for exposure in exposures.frames
    )
