"""A scene as the desk shows it: pictures have numbers, so that no path ever comes from a browser."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from cel_check.episode.folder import Episode
from cel_check.model.colormodel import Palette
from cel_check.scene.frames import Exposure, exposures_of
from cel_check.scene.names import shown
from cel_check.scene.scene import DrawingFile, Scene

BACKGROUND = 1
"""Bit of the background in a mask of what is shown; level N, counted from 0 at the bottom, has bit N + 1."""


class Unknown(Exception):
    """A number that names nothing."""


@dataclass(frozen=True)
class ShelfLevel:
    """One level: its name, its drawings in number order, and the colors they are held against."""

    name: str
    drawings: tuple[DrawingFile, ...]
    palette: Palette | None


@dataclass(frozen=True)
class Shelf:
    """One scene.

    Attributes:
        name: of its folder; the ledger's key.
        scene: as loaded; None where it cannot be.
        levels: from the bottom level to the top, with those that only the sheet knows.
        frames: in order.
        places: where a drawing lies, by level and drawing as shown: `(level, drawing)` by number.
        background: the picture behind, or None.
    """

    name: str
    scene: Scene | None
    levels: tuple[ShelfLevel, ...]
    frames: tuple[Exposure, ...]
    places: Mapping[tuple[str, str], tuple[int, int]]
    background: Path | None = None

    def drawing(self, level: int, drawing: int) -> DrawingFile:
        """Return a drawing by its numbers.

        Raises:
            Unknown: where there is none, or where it is a link to outside the scene.
        """
        if not (0 <= level < len(self.levels) and 0 <= drawing < len(self.levels[level].drawings)):
            raise Unknown("there is no such drawing")
        found = self.levels[level].drawings[drawing]
        if found.outside:
            raise Unknown("it is a link to outside the scene, which is not followed")
        return found

    def frame(self, index: int) -> Exposure:
        """Return a frame by its place from 0.

        Raises:
            Unknown: where there is none.
        """
        if not 0 <= index < len(self.frames):
            raise Unknown("there is no such frame")
        return self.frames[index]

    def cels_on(self, index: int, mask: int) -> tuple[tuple[int, DrawingFile], ...]:
        """Return `(level, drawing)` of a frame's cels, bottom to top, as far as `mask` shows them."""
        found = []
        for level, number in self.frame(index).cels:
            place = self.places.get((shown(level), shown(number)))
            if place is not None and mask & (BACKGROUND << (place[0] + 1)):
                drawing = self.levels[place[0]].drawings[place[1]]
                if not drawing.outside:
                    found.append((place[0], drawing))
        return tuple(found)


def shelves_of(episode: Episode) -> tuple[Shelf, ...]:
    """Return the scenes of an episode, in its order."""
    return tuple(
        Shelf(entry.name, None, (), (), MappingProxyType({})) if entry.scene is None else _shelf(entry.scene)
        for entry in episode.scenes
    )


def _shelf(scene: Scene) -> Shelf:
    exposures = exposures_of(scene)
    own = {level.name: level for level in scene.levels}
    levels = tuple(
        ShelfLevel(name, own[name].drawings, own[name].palette) if name in own else ShelfLevel(name, (), None)
        for name in exposures.levels
    )
    places = {
        (shown(level.name), shown(drawing.drawing)): (row, column)
        for row, level in enumerate(levels)
        for column, drawing in enumerate(level.drawings)
    }
    background = None if scene.background is None else scene.folder / scene.background
    return Shelf(scene.name, scene, levels, exposures.frames, MappingProxyType(places), background)
