"""A small scene of our own show, drawn by hand, with results written by hand beside it."""

import hashlib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from PIL import Image

from cel_check.faults import Fault, FaultKind, FoundColor, ModelMatch, SendTo, Verdict
from cel_check.picture.thumbnail import encode_thumbnail
from cel_check.scene.results import CelResult, FrameResult, SceneResult

WIDTH, HEIGHT = 960, 540
COAT = (200, 85, 61, 255)
INK = (38, 34, 32, 255)
SKIN = (236, 188, 150, 255)
SEA = (96, 128, 140)


def draw_figure(step: int, coat: tuple[int, ...] = COAT) -> np.ndarray:
    """A keeper in a coat, ink round flat paint, straight alpha."""
    rgba = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
    x = 360 + 14 * step
    body = np.array([[x, 210], [x + 150, 210], [x + 190, 480], [x - 40, 480]], np.int32)
    cv2.fillPoly(rgba, [body], coat)
    cv2.polylines(rgba, [body], True, INK, 5)
    cv2.circle(rgba, (x + 75, 150), 66, SKIN, -1)
    cv2.circle(rgba, (x + 75, 150), 66, INK, 5)
    return rgba


def draw_lamp(step: int) -> np.ndarray:
    rgba = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
    cv2.rectangle(rgba, (640, 300 + step), (720, 420 + step), (240, 196, 92, 255), -1)
    cv2.rectangle(rgba, (640, 300 + step), (720, 420 + step), INK, 5)
    return rgba


def thumbnail(rgba: np.ndarray) -> bytes:
    image = Image.fromarray(rgba)
    image.thumbnail((320, 320))
    return encode_thumbnail(np.asarray(image))


def save_cel(folder: Path, level: str, drawing: str, rgba: np.ndarray, **more) -> CelResult:
    file = more.pop("file", f"{level}/{level}-{drawing:0>4}.png")
    path = folder / file
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(rgba).save(path, "PNG")
    digest = hashlib.sha256(path.read_bytes()).hexdigest()
    known = {"verdict": Verdict.PASS, "sha256": digest, "width": rgba.shape[1], "height": rgba.shape[0]}
    return CelResult(level, drawing, file, **(known | {"thumbnail": thumbnail(rgba)} | more))


def coat_match(delta_e: float, because: str = "") -> ModelMatch:
    return ModelMatch("coat", "Coat", "R-31", "keeper", "#C8553D", delta_e, 1.5, because)


def off_model(level: str = "A", drawing: str = "7", number: int = 1, **more) -> Fault:
    fault = Fault(
        FaultKind.OFF_MODEL,
        Verdict.RETAKE,
        "Coat is painted 6.1 ΔE00 off the model (allowed 1.5): repaint it with R-31.",
        SendTo.PAINT,
        0.97,
        level,
        drawing,
        (404, 212, 230, 268),
        (470, 350),
        45210,
        FoundColor("#D96A3A", (57.9, 39.6, 45.2)),
        coat_match(6.1),
        coat_match(6.1, "same part on drawings 6 and 8"),
        6.1,
        f"sc012/{level}/{drawing}/{number}",
        (13, 14),
        0.62,
    )
    return replace(fault, **more)


def stray(level: str, drawing: str, number: int, box: tuple[int, int, int, int]) -> Fault:
    text = "A speck of ink stands alone in the clear: take it off, unless it is meant."
    return off_model(
        level, drawing, number, kind=FaultKind.STRAY, verdict=Verdict.QUERY, text=text, confidence=0.55,
        box=box, point=box[:2], area_px=9, found=FoundColor("#262220", (13.6, 1.2, 1.1)), nearest=None,
        expected=None, visibility=0.08,
    )  # fmt: skip


def unpainted(level: str, drawing: str, number: int) -> Fault:
    text = "A spot inside the coat has no paint: fill it with Coat (R-31)."
    match = coat_match(0.0, "all round it is Coat")
    return off_model(
        level, drawing, number, kind=FaultKind.UNPAINTED, text=text, box=(520, 400, 14, 12), point=(526, 405),
        area_px=130, found=None, nearest=None, expected=match, visibility=0.31,
    )  # fmt: skip


def spoil(rgba: np.ndarray) -> np.ndarray:
    rgba[400:412, 520:534] = 0
    rgba[60:63, 120:123] = INK
    return rgba


def missing(level: str = "B", drawing: str = "4") -> Fault:
    text = f"The sheet calls drawing {drawing} of level {level}, and it is not in the folder."
    return Fault(
        FaultKind.MISSING_CEL, Verdict.RETAKE, text, SendTo.SHEET, 1.0, level, drawing,
        id=f"sc012/{level}/{drawing}/1", frames=(15,), visibility=1.0,
    )  # fmt: skip


def uncalled(level: str, drawing: str) -> Fault:
    text = f"The sheet never calls drawing {drawing} of level {level}."
    return Fault(
        FaultKind.UNCALLED_CEL, Verdict.QUERY, text, SendTo.SHEET, 0.9, level, drawing,
        id=f"sc012/{level}/{drawing}/1",
    )  # fmt: skip


def unreadable(level: str, drawing: str) -> Fault:
    text = f"Drawing {drawing} of level {level} ends in the middle of its pixels: save or scan it again."
    return Fault(
        FaultKind.UNREADABLE, Verdict.RETAKE, text, SendTo.SCAN, 1.0, level, drawing,
        id=f"sc012/{level}/{drawing}/1", frames=(16,), visibility=0.4,
    )  # fmt: skip


def scene_of(cels: tuple[CelResult, ...], frames: tuple[FrameResult, ...] = (), **more) -> SceneResult:
    order = [Verdict.RETAKE, Verdict.NOT_CHECKED, Verdict.QUERY, Verdict.PASS]
    verdicts = {cel.verdict for cel in cels} | {frame.verdict for frame in frames} | {Verdict.PASS}
    known = {
        "number": "012",
        "folder": "sc012",
        "source": "digital",
        "levels": ("A", "B"),
        "models": (("Tilda Brake", "../../palettes/tilda.toml"),),
        "condition": "night",
        "fps": 24.0,
        "background": None,
        "verdict": next(verdict for verdict in order if verdict in verdicts),
        "faults": tuple(fault for cel in cels for fault in cel.faults),
    }
    return SceneResult(cels=cels, frames=frames, **(known | more))


def passing_scene(folder: Path, drawings: int = 3) -> SceneResult:
    numbers = range(1, drawings + 1)
    cels = tuple(save_cel(folder, "A", str(n), draw_figure(n), frames=(2 * n - 1, 2 * n)) for n in numbers)
    frames = tuple(
        FrameResult(frame, (("A", str(n)),), Verdict.PASS) for n in numbers for frame in (2 * n - 1, 2 * n)
    )
    return scene_of(cels, frames, levels=("A",))


def unchecked_scene(folder: Path) -> SceneResult:
    cel = save_cel(folder, "A", "1", draw_figure(1), frames=(1, 2), verdict=Verdict.NOT_CHECKED)
    why = "The check ran out of time (60 s). Check it again alone, or raise the limit."
    bare = CelResult("A", "2", "A/A-0002.png", Verdict.NOT_CHECKED, frames=(3,), error="The check crashed.")
    frames = tuple(FrameResult(n, (("A", "1" if n < 3 else "2"),), Verdict.NOT_CHECKED) for n in (1, 2, 3))
    return scene_of((replace(cel, error=why), bare), frames, levels=("A",))


def full_scene(folder: Path) -> SceneResult:
    """Every verdict and every shape of fault once: 8 drawings, 2 levels, a background, 16 frames."""
    _draw_background(folder)
    figures = [save_cel(folder, "A", str(n), draw_figure(n), frames=(2 * n - 1, 2 * n)) for n in range(1, 7)]
    bad = spoil(draw_figure(7, (217, 106, 58, 255)))
    faults = (stray("A", "7", 1, (120, 60, 3, 3)), off_model(number=2), unpainted("A", "7", 3))
    note = "The embedded profile was converted to sRGB."
    figures.append(
        save_cel(folder, "A", "7", bad, frames=(13, 14), verdict=Verdict.RETAKE, faults=faults, notes=(note,))
    )
    broken = (unreadable("A", "8"),)
    figures.append(
        CelResult("A", "8", "A/A-0008.png", Verdict.NOT_CHECKED, broken, frames=(15, 16),
                  error="The file ends in the middle of its pixels.")
    )  # fmt: skip
    lamps = [save_cel(folder, "B", "1", draw_lamp(0), frames=tuple(range(1, 9)))]
    speck = draw_lamp(0)
    speck[100:103, 700:703] = INK
    lamps.append(
        save_cel(folder, "B", "2", speck, frames=tuple(range(9, 15)), verdict=Verdict.QUERY,
                 faults=(stray("B", "2", 1, (700, 100, 3, 3)),))
    )  # fmt: skip
    lamps.append(
        save_cel(folder, "B", "12b", draw_lamp(9), verdict=Verdict.QUERY, faults=(uncalled("B", "12b"),))
    )
    cels = (*figures, *lamps)
    loose = (missing(),)
    return scene_of(
        cels,
        _frames(cels),
        background="bg/harbor.png",
        faults=(*(fault for cel in cels for fault in cel.faults), *loose),
        notes=("The model's Coat and Scarf are 1.1 ΔE00 apart: the check cannot tell them apart.",),
    )


def _draw_background(folder: Path) -> None:
    picture = np.full((HEIGHT, WIDTH, 3), SEA, np.uint8)
    picture[:280] = (178, 190, 196)
    (folder / "bg").mkdir(parents=True, exist_ok=True)
    Image.fromarray(picture).save(folder / "bg" / "harbor.png")


def _frames(cels: tuple[CelResult, ...]) -> tuple[FrameResult, ...]:
    frames = []
    for number in range(1, 17):
        figure = str((number + 1) // 2)
        lamp = "1" if number < 9 else "2" if number < 15 else "4"
        on = {(cel.level, cel.drawing): cel for cel in cels}
        here = [on[key] for key in (("A", figure), ("B", lamp)) if key in on]
        ids = tuple(fault.id for cel in here for fault in cel.faults)
        ids += ("sc012/B/4/1",) if lamp == "4" else ()
        verdicts = {cel.verdict for cel in here} | ({Verdict.RETAKE} if lamp == "4" else set())
        order = (Verdict.RETAKE, Verdict.NOT_CHECKED, Verdict.QUERY, Verdict.PASS)
        remarks = (("camera", "truck in"),) if number == 3 else ()
        verdict = next(verdict for verdict in order if verdict in verdicts)
        frames.append(FrameResult(number, (("A", figure), ("B", lamp)), verdict, ids, remarks))
    return tuple(frames)
