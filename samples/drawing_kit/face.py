"""Tilda's head and mouths. The skull's middle is (0, 0), the chin lies at (0, 91)."""

from dataclasses import dataclass

import numpy as np

from drawing_kit.brush import Pen
from drawing_kit.cel import Cel
from drawing_kit.curves import Array, Curve, curve, oval, place, stroke

RADIUS = 84.0
FACE = Pen(width=4.4, swell=0.35, taper=24)
FINE = Pen(width=3.4, swell=0.25, taper=14)
BOLD = Pen(width=5.4, swell=0.35)


@dataclass(frozen=True)
class Head:
    """A pose of the head: `yaw` and `tilt` in degrees (right is +), `lids` 0 open to 1 shut, `brow` up."""

    yaw: float = 0.0
    tilt: float = 0.0
    lids: float = 0.0
    brow: float = 0.0
    look: float = 0.0
    breeze: float = 0.0
    mouth: str | None = None


@dataclass(frozen=True)
class Turn:
    """Moves what is drawn on the front of the head round the skull."""

    yaw: float
    depth: float = 1.0

    def __call__(self, points: Array) -> Array:
        out = np.array(points, dtype=float)
        x = np.clip(out[..., 0] / (RADIUS * 1.22), -0.98, 0.98)
        out[..., 0] = RADIUS * 1.22 * np.sin(np.arcsin(x) + np.radians(self.yaw) * self.depth)
        return out


def head(cel: Cel, pose: Head) -> None:
    with cel.placed(place(1.0, (0, 0), pose.tilt)):
        _back_hair(cel, pose)
        _ears(cel, pose)
        _skin(cel, pose)
        with cel.placed(Turn(pose.yaw)):
            for side in (-1, 1):
                _eye(cel, side, pose)
            _nose(cel)
        if pose.mouth:
            mouth(cel, pose.mouth, pose.yaw)
        _fringe(cel, pose)
        _cap(cel, pose)


def _back_hair(cel: Cel, pose: Head) -> None:
    b, s = pose.breeze, -pose.yaw * 0.35
    shape = curve(
        [(s, -88), (74 + s, -54), (95 + s, 10), (99 + s + 4 * b, 56), (88 + s + 7 * b, 90),
         (46 + s + 3 * b, 84),
         (s, 86), (-46 + s + 3 * b, 84), (-88 + s + 6 * b, 88), (-99 + s + 3 * b, 54), (-95 + s, 8),
         (-74 + s, -54)],
        (4, 8),
    )  # fmt: skip
    cel.part(shape, "hair", "outline", BOLD)


def _ears(cel: Cel, pose: Head) -> None:
    for side in (-1, 1):
        x = side * 80 - pose.yaw * 0.42
        if side * pose.yaw < 25:
            ear = curve([(x - side * 6, 0), (x + side * 13, -4), (x + side * 13, 20), (x - side * 2, 34)])
            cel.part(ear, "skin", "face-line", FACE)
            cel.ink(stroke((x + side * 8, 6), (x + side * 1, 10), (x + side * 3, 20)), "face-line", FINE)


def _skin(cel: Cel, pose: Head) -> None:
    y = pose.yaw / 40.0
    face = curve(
        [(-79 + 3 * y, -30), (-76 + 4 * y, 22), (-56 + 13 * y, 64), (-20 + 22 * y, 88), (20 + 22 * y, 88),
         (56 + 13 * y, 64), (76 + 4 * y, 22), (79 + 3 * y, -30), (50, -80), (-50, -80)],
    )  # fmt: skip
    cel.fill(face, paint="skin")
    with cel.inside(face):
        shade = curve(
            [(-90, -62), (90, -62), (90, -34 + 4 * y), (40, -22), (0, -27), (-44, -20), (-90, -32)], (0, 1)
        )
        cel.fill(shade, paint="skin-shade")
        with cel.placed(Turn(pose.yaw)):
            for side in (-1, 1):
                cel.fill(oval((side * 52, 36), 17, 11), paint="cheek")
    cel.ink(face, "face-line", FACE)


def _eye(cel: Cel, side: int, pose: Head) -> None:
    with cel.placed(place(1.0, (side * 35, 4), flip=side < 0)):
        top = 17 - 30 * pose.lids
        lid = [(-19, 5 + 3 * pose.lids), (-9, -top * 0.8 + 2), (6, -top), (19, 1 + 4 * pose.lids)]
        if pose.lids < 0.85:
            white = curve([*lid, (13, 17), (-4, 20)], (0, 3))
            cel.fill(white, paint="eye-white")
            gaze = side * pose.look
            with cel.inside(white):
                iris = oval((-1 + gaze, 2), 12.5, 15)
                cel.part(iris, "iris", "outline", Pen(width=3.2, swell=0.1))
                cel.fill(oval((-1 + gaze, 3), 6.2, 8), paint="outline")
                cel.fill(oval((-1 + gaze + side * -5, -4), 4.6, 4.8), paint="eye-white")
            cel.ink(white, "outline", Pen(width=3.2, swell=0.1))
        else:
            lid = [(-19, 8), (-9, 14), (6, 15), (20, 7)]
        cel.ink(stroke(*lid, (26, lid[3][1] - 3)), "outline", Pen(width=6.0, swell=0.2, taper=12))
        if pose.lids >= 0.85:
            cel.ink(stroke((-12, 3), (2, 5), (14, 1)), "face-line", FINE)
        up = -30 - pose.brow
        cel.ink(
            stroke((-20, up + 5), (0, up - 3), (22, up + 3)), "outline", Pen(width=6.4, swell=0.2, taper=30)
        )


def _nose(cel: Cel) -> None:
    cel.ink(stroke((2, 12), (8, 30), (10, 36), (-3, 39)), "face-line", FINE)


def _fringe(cel: Cel, pose: Head) -> None:
    b = pose.breeze * 3
    with cel.placed(Turn(pose.yaw, 0.6)):
        lock = curve(
            [(-84, -56), (-40, -74), (30, -76), (84, -56), (89, 0), (80, 34 + b), (72, -4), (58, -24),
             (36, -14),
             (30, -30), (8, -20 + b), (-4, -16 + b), (-8, -34), (-36, -16), (-58, -10), (-70, 4),
             (-80, 38 + b), (-89, 0)],
            (5, 8, 9, 11, 12, 14, 16),
        )  # fmt: skip
        cel.fill(lock, paint="hair")
        with cel.inside(lock):
            cel.fill(
                curve([(-66, -40), (-20, -50), (30, -50), (64, -38), (62, -30), (24, -39), (-22, -38),
                       (-62, -29)],
                      (0, 3, 4, 7)), paint="hair-shine")  # fmt: skip
        cel.ink(lock, "outline", Pen(width=4.6))
        cel.ink(stroke((-52, -52), (-50, -36), (-44, -24)), "outline", FINE)
        cel.ink(stroke((44, -56), (48, -40), (52, -32)), "outline", FINE)


def _cap(cel: Cel, pose: Head) -> None:
    with cel.placed(Turn(pose.yaw, 0.35)):
        dome = curve(
            [(-88, -68), (-84, -96), (-46, -134), (6, -144), (54, -130), (86, -94), (88, -68)], (0, 6)
        )
        cel.part(oval((10, -150), 17, 15), "cap-band", "outline", BOLD)
        cel.part(dome, "cap", "outline", BOLD)
        for x in (-44, 4, 50):
            cel.ink(stroke((x * 1.15, -84), (x, -112), (x * 0.6, -130)), "outline", FINE)
        band = curve(
            [(-93, -44), (-95, -66), (-86, -84), (-44, -95), (0, -99), (44, -95), (86, -84), (95, -66),
             (93, -44),
             (44, -58), (0, -62), (-44, -58)], (0, 2, 6, 8),
        )  # fmt: skip
        cel.part(band, "cap-band", "outline", BOLD)
    with cel.placed(Turn(pose.yaw)):
        cel.part(oval((0, -80), 13, 14), "button", "outline", Pen(width=3.8))
        cel.part(
            curve([(0, -89), (5, -79), (0, -73), (-5, -79)], (0,)), "scarf", "face-line", Pen(3.0, swell=0.1)
        )


MOUTHS: dict[str, tuple[tuple[float, float], ...]] = {
    "ah": ((-23, 48), (0, 45), (23, 48), (17, 68), (0, 77), (-17, 68)),
    "ee": ((-27, 50), (0, 49), (27, 50), (18, 63), (0, 66), (-18, 63)),
    "oh": ((-12, 50), (0, 46), (12, 50), (13, 64), (0, 71), (-13, 64)),
    "eh": ((-20, 50), (0, 48), (20, 50), (14, 63), (0, 67), (-14, 63)),
}


def mouth(cel: Cel, shape: str, yaw: float = 0.0) -> None:
    """One mouth: an open one of `MOUTHS`, `shut`, `smile` or `press`."""
    with cel.placed(Turn(yaw)):
        if shape in MOUTHS:
            corners = () if shape == "oh" else (0, 2)
            _open_mouth(cel, curve(MOUTHS[shape], corners), shape)
            return
        lines = {
            "shut": stroke((-19, 57), (-4, 60), (19, 56)),
            "smile": stroke((-27, 50), (-12, 59), (4, 61), (26, 49)),
            "press": stroke((-13, 58), (0, 56), (13, 59)),
        }
        cel.ink(lines[shape], "face-line", Pen(width=5.0, swell=0.2, taper=16))
        cel.ink(stroke((-11, 70), (0, 73), (11, 70)), "face-line", FACE)


def _open_mouth(cel: Cel, lips: Curve, shape: str) -> None:
    cel.fill(lips, paint="mouth")
    low = float(lips.pieces[:, :, 1].max())
    with cel.inside(lips):
        if shape == "ah":
            cel.part(oval((1, low + 1), 14, 11), "tongue", "face-line", Pen(3.0, swell=0.1))
        if shape != "oh":
            teeth = curve([(-40, 36), (40, 36), (40, 53), (0, 55), (-40, 53)], (0, 1, 2, 4))
            cel.part(teeth, "eye-white", "face-line", Pen(3.0, swell=0.1))
    cel.ink(lips, "face-line", Pen(width=4.6, swell=0.25))
