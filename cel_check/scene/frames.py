"""Which drawings are on screen on each frame: by the sheet with its holds, or one frame a drawing."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from cel_check.scene.scene import Scene

Key = tuple[str, str]
"""Level and drawing."""


@dataclass(frozen=True)
class Exposure:
    """One frame: `cels` are `(level, drawing)` from the bottom level to the top."""

    frame: int
    cels: tuple[Key, ...]
    remarks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Exposures:
    """Every frame of a scene.

    Attributes:
        levels: from the bottom level to the top, with those that the sheet calls and that have no folder.
        frames: in order.
        shown_on: the frames on which each drawing shows.
    """

    levels: tuple[str, ...]
    frames: tuple[Exposure, ...]
    shown_on: Mapping[Key, tuple[int, ...]]


def exposures_of(scene: Scene) -> Exposures:
    """Return the frames of a scene.

    Without a sheet frame N shows the Nth drawing of each level, so that every drawing has one frame.
    """
    frames = _from_sheet(scene) if scene.sheet else _one_by_one(scene)
    shown: dict[Key, list[int]] = defaultdict(list)
    for exposure in frames:
        for key in exposure.cels:
            shown[key].append(exposure.frame)
    on = {key: tuple(numbers) for key, numbers in shown.items()}
    return Exposures(_levels(scene), frames, MappingProxyType(on))


def _levels(scene: Scene) -> tuple[str, ...]:
    called = scene.sheet.levels if scene.sheet else ()
    return called + tuple(level.name for level in scene.levels if level.name not in called)


def _from_sheet(scene: Scene) -> tuple[Exposure, ...]:
    if scene.sheet is None:
        return ()
    levels = scene.sheet.levels
    return tuple(
        Exposure(
            row.frame,
            tuple((level, cel) for level, cel in zip(levels, row.cels, strict=True) if cel is not None),
            row.remarks,
        )
        for row in scene.sheet.rows
    )


def _one_by_one(scene: Scene) -> tuple[Exposure, ...]:
    length = max((len(level.drawings) for level in scene.levels), default=0)
    return tuple(
        Exposure(
            index + 1,
            tuple(
                (level.name, level.drawings[index].drawing)
                for level in scene.levels
                if index < len(level.drawings)
            ),
        )
        for index in range(length)
    )
