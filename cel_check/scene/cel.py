"""One cel, start to finish: read, taken apart, checked. Runs in a worker; pixels never leave this step."""

import math

import numpy as np
from numpy.typing import NDArray

from cel_check.checks.run import check_drawing
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.places import places_of
from cel_check.drawing.separate import take_apart
from cel_check.errors import BadPicture, Refused
from cel_check.faults import CATALOGUE, Fault, FaultKind, Verdict
from cel_check.picture.picture import Picture
from cel_check.picture.reader import read_picture
from cel_check.picture.shrink import shrunk
from cel_check.picture.thumbnail import encode_thumbnail
from cel_check.scene.measure import measured
from cel_check.scene.names import shown
from cel_check.scene.results import CelResult
from cel_check.scene.scan_cel import check_scan
from cel_check.scene.scan_terms import ScanTerms
from cel_check.scene.tasks import CelTask, unchecked
from cel_check.scene.verdicts import cel_verdict

THUMBNAIL_WIDTH = 240
"""Pixels: the width of a tile in the report, so that it is not scaled again there."""


def check_cel(task: CelTask) -> CelResult:
    """Check one cel; whatever goes wrong with it becomes part of its result.

    Raises:
        MemoryError: so that whoever runs the cel can try it again alone.
    """
    try:
        return _checked(task)
    except BadPicture as error:
        return _unreadable(task, error)
    except Refused as error:
        return unchecked(task, str(error).removeprefix("is not checked: "))
    except MemoryError:
        raise
    except Exception as error:
        # A defect of the program or of a library: this cel is not checked, the rest goes on.
        return unchecked(task, f"the check failed: {type(error).__name__}: {shown(str(error))[:300]}")


def _checked(task: CelTask) -> CelResult:
    if task.outside:
        raise Refused("it is a link to outside the scene folder. Put the picture itself there.")
    picture = read_picture(task.path, task.settings)
    if task.scan is not None:
        return _scanned(task, picture, task.scan)
    drawing = take_apart(picture, task.palette, task.settings)
    faults = check_drawing(drawing, task.settings)
    return CelResult(
        level=task.level,
        drawing=task.drawing,
        file=task.file,
        verdict=cel_verdict(faults, None),
        faults=faults,
        sha256=picture.sha256,
        width=picture.width,
        height=picture.height,
        notes=(*picture.notes, *_ground_notes(drawing)),
        thumbnail=thumbnail(picture),
        dpi=picture.dpi,
        places=places_of(drawing),
        measured=measured(drawing),
    )


def _scanned(task: CelTask, picture: Picture, terms: ScanTerms) -> CelResult:
    """Check a scan; its places, like its faults, lie on the scan as it was read."""
    scan = check_scan(picture, task.palette, task.settings, terms)
    return CelResult(
        level=task.level,
        drawing=task.drawing,
        file=task.file,
        verdict=cel_verdict(scan.faults, None),
        faults=scan.faults,
        sha256=picture.sha256,
        width=picture.width,
        height=picture.height,
        notes=(*scan.notes, *_ground_notes(scan.drawing)),
        thumbnail=thumbnail(scan.picture),
        dpi=picture.dpi,
        places=scan.places,
        measured=measured(scan.drawing),
    )


def _ground_notes(drawing: Drawing) -> tuple[str, ...]:
    """Say what was taken for the card: paint of that color at the border would not be checked.

    Clear cels are shot to keep the number of levels the same (common practice, no source), so that one which
    should not be clear is for a person to see.
    """
    card = drawing.ground.card
    cleared = ("Nothing is on this cel.",) if drawing.ground.empty else ()
    if card is None:
        return cleared
    color = "#{:02X}{:02X}{:02X}".format(*card)
    return (
        f"There is no clear cel: {color}, the color of the border, is taken for the card.",
        *cleared,
    )


def _unreadable(task: CelTask, error: BadPicture) -> CelResult:
    fault = Fault(
        kind=FaultKind.UNREADABLE,
        verdict=Verdict.RETAKE,
        text=f"{shown(task.file)} {error.reason}. {error.mend}",
        send_to=CATALOGUE[FaultKind.UNREADABLE].send_to,
        confidence=1.0,
    )
    return CelResult(
        task.level, task.drawing, task.file, Verdict.RETAKE, faults=(fault,), sha256=error.sha256
    )


def thumbnail(picture: Picture) -> bytes:
    """Return a picture as a thumbnail with alpha, at most 240 pixels wide.

    Colors are weighted by their alpha while shrinking: what hides under clear pixels must not bleed in.
    """
    return encode_thumbnail(_small(picture))


def _small(picture: Picture) -> NDArray[np.uint8]:
    """Return a picture's `(h, w, 4)` pixels at the thumbnail's size; only what is not clear is worked on."""
    scale = min(1.0, THUMBNAIL_WIDTH / picture.width, THUMBNAIL_WIDTH * 4 / picture.height)
    if scale == 1.0:
        return picture.rgba
    width, height = max(1, round(picture.width * scale)), max(1, round(picture.height * scale))
    small = np.zeros((height, width, 4), np.uint8)
    x, y, w, h = picture.visible
    left, top = int(x * scale), int(y * scale)
    right, bottom = min(width, math.ceil((x + w) * scale)), min(height, math.ceil((y + h) * scale))
    if right <= left or bottom <= top:
        return small
    # The art's rectangle, widened to whole pixels of the thumbnail.
    rows = slice(round(top / scale), round(bottom / scale))
    columns = slice(round(left / scale), round(right / scale))
    small[top:bottom, left:right] = shrunk(picture.rgba[rows, columns], right - left, bottom - top)
    return small
