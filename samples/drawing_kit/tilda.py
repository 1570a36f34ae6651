"""Tilda Brake's body. The hips' middle is (0, 0), y down, the neck at (0, -172), the soles at y = 400."""

from dataclasses import dataclass

import numpy as np

from drawing_kit.brush import Pen
from drawing_kit.cel import Cel
from drawing_kit.curves import Array, Curve, Warp, curve, elbow, limb, oval, place, stroke
from drawing_kit.face import BOLD, FACE, FINE, Head, head
from drawing_kit.props import flag, lamp

SLEEVE = Pen(width=5.2, swell=0.35, taper=30)
UPPER, LOWER = 106.0, 98.0  # bone lengths


@dataclass(frozen=True)
class Arm:
    """The hand's target, which way the elbow bends (+1 or -1), and what is held: "", "lamp" or "flag"."""

    hand: tuple[float, float]
    bend: int
    holds: str = ""
    prop_turn: float = 0.0
    prop_phase: float = 0.0


@dataclass(frozen=True)
class Pose:
    """A pose of the body: `lean` in degrees, `sway` of the hem in units, `wind` of the scarf in radians."""

    left: Arm
    right: Arm
    lean: float = 0.0
    sway: float = 0.0
    wind: float = 0.0
    step: float = 0.0
    head: Head | None = None


def bend(pose: Pose) -> Warp:
    """Leans what is above the hips, sways what is below."""

    def warp(points: Array) -> Array:
        out = np.array(points, dtype=float)
        y = out[:, 1]
        turn = np.radians(pose.lean) * np.clip(-y / 120.0, 0.0, 1.0)
        x, height = out[:, 0].copy(), y.copy()
        up = y < 0
        out[:, 0] = np.where(
            up, x * np.cos(turn) - height * np.sin(turn), x + pose.sway * np.clip(y / 190, 0, 1) ** 1.5
        )
        out[:, 1] = np.where(up, x * np.sin(turn) + height * np.cos(turn), y)
        return out

    return warp


def coat_outline() -> Curve:
    return curve(
        [(-30, -178), (-64, -164), (-78, -140), (-66, -92), (-54, -34), (-72, 40), (-98, 130),
         (-112, 196), (-56, 208),
         (0, 204), (58, 208), (112, 196), (98, 130), (72, 40), (54, -34), (66, -92), (78, -140),
         (64, -164), (30, -178)],
        (0, 7, 11, 18),
    )  # fmt: skip


def neck(pose: Pose) -> Warp:
    """Where the head sits: the skull's middle, turned with half the lean."""
    at = bend(pose)(np.array([[0.0, -262.0]]))[0]
    return place(0.95, at, pose.lean * 0.5)


def figure(cel: Cel, pose: Pose) -> None:
    """The whole body, from back to front; the head only where the pose has one."""
    warp = bend(pose)
    coat = coat_outline().warped(warp)
    _scarf_tail(cel, pose)
    _legs(cel, pose)
    with cel.placed(warp):
        cel.part(curve([(-22, -206), (22, -206), (28, -160), (-28, -160)]), "skin", "face-line", FACE)
    _coat(cel, coat, pose)
    for side, arm in ((-1, pose.left), (1, pose.right)):
        _arm(cel, coat, warp(np.array([[side * 54.0, -142.0]]))[0], arm)
    with cel.placed(warp):
        _scarf(cel)
    if pose.head:
        with cel.placed(neck(pose)):
            head(cel, pose.head)


def _legs(cel: Cel, pose: Pose) -> None:
    for side in (-1, 1):
        hip = np.array([side * 36 + pose.sway * 0.3, 150.0])
        foot = np.array([side * (44 + pose.step * 0.5), 352.0 - max(0.0, side * pose.step) * 0.3])
        knee = (hip + foot) / 2 + [side * 4, 0]
        cel.part(limb((hip, knee, foot), (36, 31, 29)), "trousers", "outline", BOLD)
        cel.ink(stroke(*(knee + np.array([[side * 12, -8], [side * 2, 2], [-side * 4, 0]]))), "outline", FINE)
        with cel.placed(place(1.0, foot, flip=side < 0)):
            _boot(cel)


def _boot(cel: Cel) -> None:
    boot = curve([(-32, -40), (30, -40), (30, -2), (58, 16), (66, 40), (-32, 40), (-34, 10)], (0, 1, 4, 5))
    cel.part(boot, "boot", "outline", BOLD)
    cel.part(curve([(-37, -52), (35, -52), (36, -34), (-38, -34)], (0, 1, 2, 3)), "belt", "outline", BOLD)
    cel.part(curve([(-35, 37), (68, 37), (69, 50), (-36, 50)], (0, 1, 2, 3)), "hair", "outline", BOLD)
    for y in (-14, 2):
        cel.ink(stroke((4, y), (17, y - 4), (28, y + 2)), "outline", FINE)


def _coat(cel: Cel, coat: Curve, pose: Pose) -> None:
    warp = bend(pose)
    cel.fill(coat, paint="coat")
    with cel.inside(coat), cel.placed(warp):
        side = curve(
            [(30, -190), (90, -190), (130, 220), (60, 220), (84, 130), (40, 30), (32, -34), (46, -100)],
            (0, 1, 2, 3),
        )
        cel.fill(side, paint="coat-shade")
        cel.fill(
            curve([(-44, -184), (44, -184), (40, -150), (0, -136), (-42, -150)], (0, 1)), paint="coat-shade"
        )
    cel.ink(coat, "outline", BOLD)
    with cel.placed(warp):
        cel.ink(stroke((16, -34), (20, 40), (24, 120), (26, 205)), "outline", Pen(width=4.4, taper=10))
        cel.ink(stroke((-44, -10), (-56, 50), (-62, 104)), "outline", FINE)
        cel.ink(stroke((62, 10), (72, 60), (76, 110)), "outline", FINE)
        for x in (-52, 58):
            pocket = curve([(x - 24, 58), (x + 22, 52), (x + 23, 72), (x - 24, 78)], (0, 1, 2, 3))
            cel.part(pocket, "coat", "outline", Pen(width=4.2))
        for row, y in enumerate((-106, -72)):
            for x in (-19, 19):
                cel.part(oval((x, y), 8.5, 8.5), "button", "outline", Pen(width=3.6))
                cel.ink(stroke((x - 2, y - 1), (x + 2, y + 1 - row)), "outline", Pen(width=2.6, taper=2))
        for side in (-1, 1):
            lapel = curve(
                [(side * 6, -160), (side * 50, -174), (side * 50, -146), (side * 25, -126)], (0, 1, 2, 3)
            )
            cel.part(lapel, "coat", "outline", Pen(width=4.4))
        _belt(cel)


def _belt(cel: Cel) -> None:
    belt = curve([(-55, -44), (0, -39), (55, -44), (57, -20), (0, -15), (-57, -20)], (0, 2, 3, 5))
    cel.part(belt, "belt", "outline", Pen(width=4.6))
    buckle = curve([(-17, -46), (17, -46), (17, -10), (-17, -10)], (0, 1, 2, 3))
    hole = curve([(-8, -37), (9, -37), (9, -19), (-8, -19)], (0, 1, 2, 3))
    cel.part(buckle, "button", "outline", Pen(width=4.2))
    cel.part(hole, "belt", "outline", Pen(width=3.4))


def _arm(cel: Cel, coat: Curve, shoulder: Array, arm: Arm) -> None:
    joint, hand = elbow(shoulder, np.array(arm.hand), UPPER, LOWER, arm.bend)
    forward = (hand - joint) / np.linalg.norm(hand - joint)
    turn = float(np.degrees(np.arctan2(forward[1], forward[0])))
    grip = tuple(hand + forward * 26)
    if arm.holds == "lamp":
        ring = hand + forward * 36
        lamp(cel, (float(ring[0]), float(ring[1]) + 2), arm.prop_turn, arm.prop_phase)
    if arm.holds == "flag":
        flag(cel, grip, arm.prop_turn, arm.prop_phase)
    with cel.placed(place(1.0, hand, turn, flip=False)):
        _hand(cel, up=-1 if arm.bend > 0 else 1)
    sleeve = limb((shoulder, joint, hand), (28, 26, 25))
    cel.fill(sleeve, paint="coat")
    with cel.inside(sleeve):
        _under_shade(cel, shoulder, joint, hand)
    cel.joined(sleeve, coat, "outline", SLEEVE, overlap=3)
    across = np.array([-forward[1], forward[0]])
    cel.ink(
        stroke(joint + across * 8 - forward * 4, joint + across * 2, joint - across * 8 + forward * 5),
        "outline",
        FINE,
    )
    with cel.placed(place(1.0, hand, turn)):
        cuff = curve([(-18, -30), (8, -31), (10, 0), (8, 31), (-18, 30), (-15, 0)], (0, 1, 3, 4))
        cel.part(cuff, "coat-shade", "outline", BOLD)
        cel.part(oval((-4, 14), 6, 6), "button", "outline", Pen(width=3.4))


def _under_shade(cel: Cel, shoulder: Array, joint: Array, hand: Array) -> None:
    """Shade along the lower side of the sleeve."""
    path = stroke(shoulder, joint + (joint - (shoulder + hand) / 2) * 0.28, hand).samples(12)
    depth = np.linspace(34, 7, len(path))[:, None] * [0.0, 1.0]  # starts below the sleeve and closes in
    band = np.concatenate([path + depth, (path + np.array([4, 70]))[::-1]])
    n = len(band) // 2
    cel.fill(curve(band, (0, n - 1, n, 2 * n - 1)), paint="coat-shade")


def _hand(cel: Cel, up: int) -> None:
    """A loose fist along +x; `up` is the side of the thumb."""
    fist = curve(
        [(-6, -19 * up), (16, -22 * up), (34, -19 * up), (45, -12 * up), (43, -4 * up), (47, 2 * up),
         (43, 8 * up),
         (44, 14 * up), (36, 20 * up), (14, 21 * up), (-6, 17 * up)],
        (4, 6),
    )  # fmt: skip
    cel.part(fist, "skin", "face-line", FACE)
    for y in (-4, 6):
        cel.ink(stroke((43, y * up), (33, y * up + 1), (24, y * up - 1)), "face-line", FINE)
    thumb = curve(
        [(4, -16 * up), (18, -26 * up), (32, -22 * up), (35, -13 * up), (24, -10 * up), (10, -4 * up)]
    )
    cel.fill(thumb, paint="skin")
    cel.ink(thumb.part(0, 5), "face-line", FACE)


def _scarf(cel: Cel) -> None:
    wrap = curve([(-50, -186), (-30, -204), (30, -204), (50, -186), (44, -158), (0, -146), (-44, -158)])
    cel.fill(wrap, paint="scarf")
    with cel.inside(wrap):
        cel.fill(
            curve([(-60, -176), (0, -160), (60, -176), (60, -140), (-60, -140)], (0, 2, 3, 4)),
            paint="scarf-shade",
        )
    cel.ink(wrap, "outline", BOLD)
    cel.ink(stroke((-40, -184), (-10, -172), (24, -174)), "outline", FINE)
    cel.ink(stroke((44, -180), (20, -166), (-6, -162)), "outline", FINE)


def _scarf_tail(cel: Cel, pose: Pose) -> None:
    warp = bend(pose)
    x = np.linspace(0, 138, 6)
    with cel.placed(warp):
        for base, drop, late in ((-172, 0.10, 0.0), (-176, -0.22, 0.9)):
            rise = 11 * np.sin(x / 38 - pose.wind - late) * (x / 138) ** 1.3
            top = np.stack([-30 - x, base - 15 + drop * x + rise], axis=1)
            low = np.stack([-30 - x + 5, base + 17 + drop * x + rise + 5 * x / 138], axis=1)
            tail = curve([*top, *low[::-1]], (0, 5, 6, 11))
            cel.fill(tail, paint="scarf-shade" if drop > 0 else "scarf")
            cel.ink(tail, "outline", Pen(width=4.8))
            for share in (0.3, 0.66):
                end = top[-1] + (low[-1] - top[-1]) * share
                cel.ink(stroke(end, end + np.array([16, -8 * drop])), "outline", FINE)
