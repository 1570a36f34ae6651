"""One cel, start to finish: read, taken apart, checked. Runs in a worker; pixels never leave this step."""

from io import BytesIO
from pathlib import Path

from PIL import Image

from cel_check.checks.run import check_drawing
from cel_check.drawing.separate import take_apart
from cel_check.errors import BadPicture, Refused
from cel_check.faults import CATALOGUE, Fault, FaultKind, Verdict
from cel_check.picture.picture import Picture
from cel_check.picture.reader import read_picture
from cel_check.scene.names import shown
from cel_check.scene.results import CelResult
from cel_check.scene.scene import Obstacle
from cel_check.scene.tasks import CelTask, unchecked
from cel_check.scene.verdicts import cel_verdict

THUMBNAIL_WIDTH = 320
_THUMBNAIL_QUALITY = 75


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
        return unchecked(task, str(error))
    except MemoryError:
        raise
    except Exception as error:
        # A defect of the program or of a library: this cel is not checked, the rest goes on.
        return unchecked(task, f"the check failed: {type(error).__name__}: {shown(str(error))[:300]}")


def _checked(task: CelTask) -> CelResult:
    _require_file(task)
    picture = _steady_picture(task)
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
        notes=picture.notes,
        thumbnail=thumbnail(picture),
        dpi=picture.dpi,
    )


def _require_file(task: CelTask) -> None:
    if task.obstacle is Obstacle.OUTSIDE:
        raise Refused(f"{task.obstacle}. Put the picture itself into the level's folder")
    if task.obstacle:
        raise BadPicture(task.obstacle, "Put the picture there")


def _steady_picture(task: CelTask) -> Picture:
    """Read a picture that nobody writes to meanwhile: once more where it changed, then not at all."""
    for _ in range(2):
        before = _stamp(task.path)
        try:
            picture = read_picture(task.path, task.settings)
        except BadPicture:
            if before == _stamp(task.path):
                raise
            continue
        if before == _stamp(task.path):
            return picture
    raise Refused("the file changed while it was read. Check it again when it is saved")


def _stamp(path: Path) -> tuple[int, int, int] | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return (status.st_size, status.st_mtime_ns, status.st_ino)


def _unreadable(task: CelTask, error: BadPicture) -> CelResult:
    fault = Fault(
        kind=FaultKind.UNREADABLE,
        verdict=Verdict.RETAKE,
        text=f"{shown(task.file)} cannot be read: {_lowered(error.reason)}. {error.mend.rstrip('.')}.",
        send_to=CATALOGUE[FaultKind.UNREADABLE].send_to,
        confidence=1.0,
    )
    return CelResult(task.level, task.drawing, task.file, Verdict.RETAKE, faults=(fault,))


def _lowered(reason: str) -> str:
    # `The file is cut` continues a sentence; `PNG data` keeps its capitals.
    return reason[:1].lower() + reason[1:] if reason[1:2].islower() else reason


def thumbnail(picture: Picture) -> bytes:
    """Return a picture as WebP with alpha, at most 320 pixels wide.

    Colors are weighted by their alpha while shrinking: what hides under clear pixels must not bleed in.
    """
    image = Image.fromarray(picture.rgba).convert("RGBa")
    image.thumbnail((THUMBNAIL_WIDTH, THUMBNAIL_WIDTH * 4), Image.Resampling.BOX, reducing_gap=2.0)
    out = BytesIO()
    image.convert("RGBA").save(out, "WEBP", quality=_THUMBNAIL_QUALITY, method=2)
    return out.getvalue()
