"""Makes the report's pictures: each faulty cel marked, each fault magnified, each frame as it is shot."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from cel_check.errors import BadPicture, Refused
from cel_check.faults import Fault
from cel_check.picture.picture import Picture
from cel_check.picture.reader import read_picture
from cel_check.picture.thumbnail import decode_thumbnail
from cel_check.report.ground import Rgb, Rgba, jpeg_bytes, png_bytes
from cel_check.report.marks import Mark, magnified, marked_picture
from cel_check.report.tiles import Composer, Tile
from cel_check.scene.background import Background, read_background
from cel_check.scene.results import CelResult, SceneResult

Put = Callable[[str, str, bytes], str]
"""Takes a picture's prefix, ending and bytes, and returns its address in the report."""

CROPS_PER_CEL = 24
"""The page shows this many faults of one cel; the rest are in report.csv."""
FAULTS_ON_PAGE = 500
"""Rows that a browser lays out at once without a wait; the rest are in report.csv."""


@dataclass(frozen=True)
class Shown:
    """A picture of the report: its address relative to the page, and its size in pixels."""

    href: str
    width: int
    height: int


@dataclass(frozen=True)
class ShownCrop:
    """A magnified fault: the picture, how many times it is enlarged, and whether all of it is there."""

    picture: Shown
    times: int
    whole: bool


@dataclass(frozen=True)
class CelPictures:
    """The pictures of one faulty cel.

    Attributes:
        marked: the whole cel with marks; None where it cannot be shown.
        crops: `(index in CelResult.faults, crop)`; a fault without a box has none.
        rights: the same for the part where it is right, of faults that know one.
        problem: why there is no picture, one sentence; empty where there is one.
        unread: whether a file that had been checked could not be read again.
    """

    marked: Shown | None = None
    crops: tuple[tuple[int, ShownCrop], ...] = ()
    rights: tuple[tuple[int, ShownCrop], ...] = ()
    problem: str = ""
    unread: bool = False


@dataclass(frozen=True)
class Pictures:
    """Every picture of a report.

    Attributes:
        cels: `(index in SceneResult.cels, pictures)` of the cels that the page describes.
        tiles: one for each tile of the strip; None where there is nothing to show.
        problems: why a picture of the whole scene (its background) is missing, one sentence each.
    """

    cels: tuple[tuple[int, CelPictures], ...] = ()
    tiles: tuple[Shown | None, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether every picture is there that could be."""
        return not self.problems and all(not cel.unread for _, cel in self.cels)


def faults_to_show(cel: CelResult) -> tuple[int, ...]:
    """Return the indexes of the faults that the page shows in full: the worst, in the cel's own order."""
    order = sorted(range(len(cel.faults)), key=lambda i: _weight(cel.faults[i]), reverse=True)
    return tuple(sorted(order[:CROPS_PER_CEL]))


def _weight(fault: Fault) -> tuple[bool, float]:
    return fault.verdict.value == "retake", fault.visibility


def cels_to_show(result: SceneResult) -> tuple[int, ...]:
    """Return the indexes of the faulty cels that the page describes in full, retakes first."""
    faulty = [i for i, cel in enumerate(result.cels) if cel.faults]
    faulty.sort(key=lambda i: (result.cels[i].verdict.value == "query", i))
    chosen, room = [], FAULTS_ON_PAGE
    for index in faulty:
        room -= len(faults_to_show(result.cels[index]))
        if room < 0:
            break
        chosen.append(index)
    return tuple(sorted(chosen))


def make_pictures(result: SceneResult, scene_folder: Path, tiles: tuple[Tile, ...], put: Put) -> Pictures:
    """Make every picture of the report and hand each to `put` as soon as it is made.

    One cel is in memory at a time. A file that is gone, changed or broken costs its pictures, not the report.
    """
    cels = tuple((i, _cel_pictures(result.cels[i], scene_folder, put)) for i in cels_to_show(result))
    background, problems = _background(result, scene_folder)
    composer = Composer(result.cels, background)
    shown = tuple(_put_tile(composer.compose(tile), put) for tile in tiles)
    return Pictures(cels, shown, problems)


def _put_tile(rgb: Rgb | None, put: Put) -> Shown | None:
    if rgb is None:
        return None
    return Shown(put("frame", "jpg", jpeg_bytes(rgb)), rgb.shape[1], rgb.shape[0])


def _cel_pictures(cel: CelResult, scene_folder: Path, put: Put) -> CelPictures:
    if not any(fault.box for fault in cel.faults):
        return _from_thumbnail(cel, put)
    picture, problem = _read_again(scene_folder / cel.file, cel.sha256)
    if picture is None:
        return CelPictures(_from_thumbnail(cel, put).marked, problem=problem, unread=True)
    drawn = _draw(cel, picture.rgba, put)
    del picture
    rights = _rights(cel, scene_folder, drawn.crops, put)
    wanted = sum(cel.faults[index].right is not None for index, _ in drawn.crops)
    return replace(drawn, rights=rights, unread=len(rights) < wanted)


def _rights(
    cel: CelResult, scene_folder: Path, crops: tuple[tuple[int, ShownCrop], ...], put: Put
) -> tuple[tuple[int, ShownCrop], ...]:
    """Show the same parts where they are right; where that picture is gone or changed, nothing is shown."""
    made = []
    for index, crop in crops:
        right = cel.faults[index].right
        if right is None:
            continue
        picture, _ = _read_again(scene_folder / right.file, right.sha256 or None)
        if picture is not None:
            seen = magnified(picture.rgba, right.box, right.point, crop.times)
            made.append((index, ShownCrop(_put_png("right", seen.rgb, put), seen.times, seen.whole)))
    return tuple(made)


def _draw(cel: CelResult, rgba: Rgba, put: Put) -> CelPictures:
    chosen = [(i, cel.faults[i]) for i in faults_to_show(cel)]
    marks = [Mark(i + 1, fault.kind, fault.box) for i, fault in chosen if fault.box is not None]
    marked = _put_png("cel", marked_picture(rgba, marks), put)
    crops = []
    for index, fault in chosen:
        if fault.box is not None:
            crop = magnified(rgba, fault.box, fault.point)
            crops.append((index, ShownCrop(_put_png("fault", crop.rgb, put), crop.times, crop.whole)))
    return CelPictures(marked, tuple(crops))


def _put_png(prefix: str, rgb: Rgb, put: Put) -> Shown:
    return Shown(put(prefix, "png", png_bytes(rgb)), rgb.shape[1], rgb.shape[0])


def _from_thumbnail(cel: CelResult, put: Put) -> CelPictures:
    rgba = decode_thumbnail(cel.thumbnail)
    if rgba is None:
        return CelPictures(problem="There is no picture of this cel.")
    return CelPictures(_put_png("cel", marked_picture(rgba, ()), put))


def _read_again(path: Path, sha256: str | None) -> tuple[Picture | None, str]:
    """Return the picture that was checked, or the sentence that says why it cannot be shown."""
    try:
        picture = read_picture(path)
    except FileNotFoundError:
        return None, "The file is no longer there, so its faults cannot be shown. Check the scene again."
    except BadPicture as error:
        return None, f"The file cannot be read any more ({error.reason}). Check the scene again."
    except (OSError, Refused, ValueError) as error:
        return None, f"The file cannot be opened any more ({_reason(error)}). Check the scene again."
    if sha256 is not None and picture.sha256 != sha256:
        return (
            None,
            "The file has changed since it was checked, so its marks would mislead. Check the scene again.",
        )
    return picture, ""


def _reason(error: Exception) -> str:
    strerror = error.strerror if isinstance(error, OSError) else None
    return strerror or str(error) or type(error).__name__


def _background(result: SceneResult, scene_folder: Path) -> tuple[Background | None, tuple[str, ...]]:
    if result.background is None:
        return None, ()
    try:
        return read_background(scene_folder / result.background), ()
    except (BadPicture, Refused, OSError, ValueError) as error:
        reason = error.reason if isinstance(error, BadPicture) else _reason(error)
        return None, (
            f"The background {result.background} could not be shown ({reason}); gray stands in for it.",
        )
