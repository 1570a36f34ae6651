"""Holds each level's drawings against one another; what goes wrong there costs no cel its own faults."""

from collections.abc import Sequence
from dataclasses import replace

from cel_check.scene.closed_lines import with_closed_lines
from cel_check.scene.evidence import with_evidence
from cel_check.scene.names import shown
from cel_check.scene.reference_cels import reference_cels
from cel_check.scene.results import CelResult
from cel_check.scene.scan_cel import told_by_others
from cel_check.scene.scan_terms import ScanTerms
from cel_check.scene.scene import Level, Scene
from cel_check.scene.wrong_part import with_wrong_parts
from cel_check.settings import Settings


def compared(
    scene: Scene, cels: Sequence[CelResult], settings: Settings
) -> tuple[tuple[CelResult, ...], tuple[str, ...]]:
    """Decide what a level's drawings decide together.

    Args:
        scene: as loaded.
        cels: its cels, each checked alone.
        settings: the thresholds.

    Returns:
        The cels in the same order, and a note on each reference cel that could not be read. Where the
        comparison of a level fails, its cels keep the faults that each has alone and are not checked: half a
        check must not look whole.
    """
    done: dict[int, CelResult] = dict(enumerate(cels))
    notes: list[str] = []
    for level in scene.levels:
        numbers = [number for number, cel in enumerate(cels) if cel.level == level.name]
        own = [cels[number] for number in numbers]
        try:
            found, told = _level(level, own, scene.loose, settings)
            found = found if scene.scan is None else told_on_scans(found, scene.scan)
        except Exception as error:
            # A defect of the program or of a library: this level is not compared, the rest goes on.
            found, told = _not_compared(own, error), ()
        done.update(zip(numbers, found, strict=True))
        notes += told
    return tuple(done[number] for number in range(len(cels))), tuple(dict.fromkeys(notes))


def _level(
    level: Level, cels: Sequence[CelResult], loose: bool, settings: Settings
) -> tuple[tuple[CelResult, ...], tuple[str, ...]]:
    decided = with_closed_lines(with_evidence(cels, {level.name: level.palette}), level.palette)
    if loose or not any(cel.places for cel in cels):
        return decided, ()
    references, notes = reference_cels(level, settings)
    return with_wrong_parts(decided, level.palette, references), notes


def told_on_scans(cels: Sequence[CelResult], scan: ScanTerms) -> tuple[CelResult, ...]:
    """Return a level's cels with what its drawings decided told no more surely than scans bear out."""
    return tuple(replace(cel, faults=told_by_others(cel.faults, scan)) for cel in cels)


def _not_compared(cels: Sequence[CelResult], error: Exception) -> tuple[CelResult, ...]:
    reason = f"{type(error).__name__}: {shown(str(error))[:300]}"
    text = f"the comparison with the level's other drawings failed: {reason}"
    return tuple(cel if cel.error is not None else replace(cel, error=text) for cel in cels)
