"""What a checked scene leaves behind: small frozen records from which every report is made.

No record holds pixels, apart from the thumbnail that a cel is recognised by.
"""

from dataclasses import dataclass

from cel_check.drawing.place import Place
from cel_check.faults import Fault, Verdict


@dataclass(frozen=True)
class Measured:
    """The colors of a cel that were held against the tolerances, so that other tolerances can be judged.

    Attributes:
        colors: 8-bit sRGB in hexadecimal, six digits each, sorted.
        noisy: whether the picture has the noise of lossy compression, which widens the tolerances.
    """

    colors: str = ""
    noisy: bool = False


@dataclass(frozen=True)
class CelResult:
    """One drawing of one level, checked or not.

    Attributes:
        level: the level's name.
        drawing: the drawing number as in `12b`, without leading zeros.
        file: path relative to the scene folder, with `/`.
        verdict: of this cel: the worst of its faults, or `not-checked`.
        faults: in reading order (top to bottom, left to right), worst first within one place.
        sha256: of the file's bytes; None where it could not be read at all.
        width: pixels; None where unknown.
        height: pixels; None where unknown.
        frames: the frames of the sheet on which it shows.
        notes: what was converted when the file was read.
        error: why it was not checked; None where it was.
        thumbnail: QOI bytes with alpha, at most 240 pixels wide; empty where there is no picture.
        dpi: pixels an inch as the file states; None where it does not.
        places: its fills and clear places, for what only the level's other drawings can tell.
        measured: the colors that its tolerances decided on; None where it was not checked.
    """

    level: str
    drawing: str
    file: str
    verdict: Verdict
    faults: tuple[Fault, ...] = ()
    sha256: str | None = None
    width: int | None = None
    height: int | None = None
    frames: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()
    error: str | None = None
    thumbnail: bytes = b""
    dpi: float | None = None
    places: tuple[Place, ...] = ()
    measured: Measured | None = None


@dataclass(frozen=True)
class FrameResult:
    """One frame of the sheet.

    Attributes:
        frame: the frame number as in the sheet.
        cels: `(level, drawing)` from the bottom level to the top; a level without a cel is left out.
        verdict: the worst of its cels and of the faults that show on it.
        faults: ids of the faults that show on it.
        remarks: `(column, text)` of the sheet's other columns (camera, dialogue, notes) where not empty.
    """

    frame: int
    cels: tuple[tuple[str, str], ...]
    verdict: Verdict
    faults: tuple[str, ...] = ()
    remarks: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class SceneResult:
    """A whole scene.

    Attributes:
        number: the scene's number (scene.toml, else the folder's name).
        folder: the folder's name.
        source: `digital` or `scan`.
        levels: names from the bottom level to the top.
        models: the color models' characters and files (relative to the scene folder), for the report's head.
        condition: the lighting condition, or None.
        fps: frames a second.
        background: path of the background picture relative to the scene folder, or None.
        verdict: the worst of all cels, frames and faults.
        cels: every drawing found in a level's folder, in level order, then number order.
        frames: every frame of the sheet, in order.
        faults: every fault of the scene, of cels and of the sheet alike, by level, drawing and place.
        notes: remarks on the run that are no faults (no sheet; a color the model cannot tell apart).
        whole: whether all that it is made from beside its cels could be read and gone through; else it may
            come out otherwise the next time.
    """

    number: str
    folder: str
    source: str
    levels: tuple[str, ...]
    models: tuple[tuple[str, str], ...]
    condition: str | None
    fps: float
    background: str | None
    verdict: Verdict
    cels: tuple[CelResult, ...]
    frames: tuple[FrameResult, ...]
    faults: tuple[Fault, ...]
    notes: tuple[str, ...] = ()
    whole: bool = True
