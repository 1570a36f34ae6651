"""A scene folder as it was found on disk: plain data, before any picture is opened."""

from dataclasses import dataclass
from pathlib import Path

from cel_check.model.colormodel import Palette
from cel_check.scene.scan_terms import ScanTerms
from cel_check.scene.sheet import Sheet


@dataclass(frozen=True)
class DrawingFile:
    """One file of a level that counts as a drawing.

    Attributes:
        drawing: its number as in `12b`; its file name where it bears no number, or one that another file has.
        file: path relative to the scene folder, with `/`.
        path: where it is opened.
        bytes: the file's size, 0 where unknown.
        outside: whether it is a link to outside the scene folder, which is not followed.
        twin: name of the file that bears the same number and goes first; else empty.
    """

    drawing: str
    file: str
    path: Path
    bytes: int = 0
    outside: bool = False
    twin: str = ""

    @property
    def numbered(self) -> bool:
        """Whether a sheet can call it."""
        return "." not in self.drawing


@dataclass(frozen=True)
class Level:
    """One level.

    Attributes:
        name: the folder's.
        drawings: in number order.
        palette: the colors they are held against.
        references: painted model cels that are known to be right, of its models.
        base: the same colors in the same order as `palette`, as those cels are painted: without condition
            and level mix.
    """

    name: str
    drawings: tuple[DrawingFile, ...]
    palette: Palette
    references: tuple[Path, ...] = ()
    base: Palette | None = None


@dataclass(frozen=True)
class Scene:
    """A scene to check.

    Attributes:
        folder: where it lies, as the user wrote it.
        name: the folder's own name, first part of every fault's id.
        number: the scene's number.
        source: `digital` or `scan`.
        condition: the lighting condition, or None.
        fps: frames a second.
        field: camera field, inches wide.
        background: path of the background relative to the scene folder, or None.
        levels: from the bottom level to the top.
        sheet: the exposure sheet; None where there is none.
        models: `(character, file relative to the scene folder)`.
        loose: True for loose pictures that are no scene: they are not compared with one another.
        notes: what was found that is no fault.
        scan: how its scans are taken; None with digital paintings.
        sources: the files beside those in its folder that it is made from, there or not (models, their
            reference cels, the scanner's profile, the background): paths from the folder, or absolute ones.
    """

    folder: Path
    name: str
    number: str
    source: str
    condition: str | None
    fps: float
    field: float
    background: str | None
    levels: tuple[Level, ...]
    sheet: Sheet | None
    models: tuple[tuple[str, str], ...]
    loose: bool = False
    notes: tuple[str, ...] = ()
    scan: ScanTerms | None = None
    sources: tuple[str, ...] = ()
