"""Rook, the gull who keeps the harbor's books. The breast's middle is (0, 0), y down; he looks left."""

from dataclasses import dataclass

import numpy as np

from drawing_kit.brush import Pen
from drawing_kit.cel import Cel
from drawing_kit.curves import Curve, curve, oval, place, rotate, stroke

BOLD = Pen(width=5.2, swell=0.35)
MID = Pen(width=4.2, swell=0.3)
FINE = Pen(width=3.4, swell=0.25, taper=14)


@dataclass(frozen=True)
class Bird:
    """A pose: angles in degrees.

    Attributes:
        turn: the body's pitch.
        nod: the head's own pitch.
        beak: how far it is open.
        wing: None folds the wings; else the near wing's angle above the back.
        curl: how far the wing's tip lags behind its root.
        legs: 0 standing to 1 tucked up.
        step: the near foot's step, in units.
        shut: whether the eye blinks.
        swing: the satchel's swing.
    """

    turn: float = 0.0
    nod: float = 0.0
    beak: float = 0.0
    wing: float | None = None
    curl: float = 0.0
    legs: float = 0.0
    step: float = 0.0
    shut: bool = False
    swing: float = 0.0


def bird(cel: Cel, pose: Bird) -> None:
    if pose.wing is not None:
        with cel.placed(place(0.92, rotate(pose.turn)((16, -40)))):
            _spread_wing(cel, pose.turn + pose.wing * 0.8 + 14, pose.curl, far=True)
    _legs(cel, pose)
    with cel.placed(rotate(pose.turn)):
        _body(cel)
        if pose.wing is None:
            _folded_wing(cel)
        _strap(cel)
    if pose.wing is not None:
        with cel.placed(place(1.0, rotate(pose.turn)((34, -28)))):
            _spread_wing(cel, pose.turn + pose.wing, pose.curl, far=False)
    with cel.placed(place(1.0, rotate(pose.turn)((30, 44)), pose.swing)):
        _satchel(cel)
    with cel.placed(place(1.0, rotate(pose.turn)((-58, -92)), pose.nod)):
        _head(cel, pose)


def _body(cel: Cel) -> None:
    tail = curve([(92, 20), (176, 40), (188, 54), (176, 60), (184, 70), (168, 76), (84, 66)], (1, 3, 5))
    cel.part(tail, "wing-tip", "rook-line", BOLD)
    body = curve([(-88, -92), (-92, -30), (-74, 34), (-24, 76), (46, 78), (104, 60), (128, 42), (104, 4),
                  (44, -38),
                  (-10, -64), (-30, -104), (-60, -124)])  # fmt: skip
    cel.fill(body, paint="body")
    with cel.inside(body):
        cel.fill(curve([(-100, 0), (-62, 26), (-8, 52), (60, 50), (140, 34), (140, 100), (-100, 100)],
                        (0, 4, 5, 6)),
                 paint="body-shade")  # fmt: skip
    cel.ink(body, "body-line", BOLD)
    for x, y in ((-66, 4), (-48, 24), (-58, -22)):
        cel.ink(stroke((x - 8, y), (x, y + 7), (x + 9, y + 3)), "body-line", FINE)


def _folded_wing(cel: Cel) -> None:
    tip = curve([(84, 8), (150, 22), (206, 44), (152, 52), (176, 66), (118, 60), (60, 44)], (2, 3, 4))
    cel.part(tip, "wing-tip", "rook-line", BOLD)
    wing = curve([(-26, -42), (28, -42), (88, -10), (128, 22), (112, 34), (104, 30), (92, 48), (78, 40),
                  (62, 58),
                  (46, 46), (18, 54), (-18, 30), (-36, -6)], (3, 5, 7, 9))  # fmt: skip
    cel.part(wing, "wing", "body-line", BOLD)
    for dx in (0, 26, 50):
        cel.ink(
            stroke((22 + dx, 8 + dx * 0.2), (36 + dx, 20 + dx * 0.1), (46 + dx * 0.95, 38 - dx * 0.1)),
            "body-line",
            FINE,
        )


def _spread_wing(cel: Cel, lift: float, curl: float, far: bool) -> None:
    """A spread wing along +x; its outer half is bent back by `curl`."""

    def curled(points: np.ndarray) -> np.ndarray:
        out = np.array(points, dtype=float)
        out[:, 1] += curl * np.clip(out[:, 0] / 250.0, 0, 1.2) ** 2
        return out

    with cel.placed(rotate(-lift)), cel.placed(curled):
        wing = curve([(-34, 8), (10, -34), (84, -52), (158, -44), (232, -26), (268, 4), (238, 12),
                      (226, 10), (206, 30),
                      (188, 22), (166, 44), (146, 34), (122, 56), (98, 44), (64, 62), (28, 48), (-20, 44)],
                     (5, 7, 9, 11, 13, 15))  # fmt: skip
        cel.fill(wing, paint="wing")
        with cel.inside(wing):
            cel.part(curve([(196, -80), (188, -30), (170, -2), (180, 60), (300, 60), (300, -80)],
                            (0, 3, 4, 5)),
                     "wing-tip", "rook-line", MID)  # fmt: skip
            if far:
                cel.fill(
                    curve([(-60, 20), (60, 26), (160, 14), (160, 80), (-60, 80)], (0, 2, 3, 4)),
                    paint="body-shade",
                )
        cel.ink(wing, "rook-line", BOLD)
        for x in (28, 66, 104):
            cel.ink(stroke((x + 2, -12), (x + 10, 6), (x + 12, 26)), "body-line", FINE)


def _legs(cel: Cel, pose: Bird) -> None:
    for far in (True, False):
        hip = np.array([46.0 if far else -8.0, 62.0])
        with cel.placed(
            place(1.0, rotate(pose.turn)(hip), pose.legs * -62 + (pose.turn if pose.legs else 0))
        ):
            shift = (pose.step if far else -pose.step) * 0.6
            _leg(cel, shift, 64 - (8 if far else 0) - 18 * pose.legs)


def _leg(cel: Cel, shift: float, length: float) -> None:
    foot = curve([(shift + 14, length - 4), (shift - 2, length - 10), (shift - 34, length + 12),
                  (shift - 22, length + 10),
                  (shift - 14, length + 17), (shift - 4, length + 10), (shift + 8, length + 16),
                  (shift + 14, length + 8)],
                 (2, 3, 4, 5, 6))  # fmt: skip
    cel.part(foot, "leg", "beak-line", MID)
    shank = curve([(-8, -8), (8, -8), (shift + 8, length - 2), (shift - 7, length - 2)], (0, 1, 2, 3))
    cel.part(shank, "leg", "beak-line", MID)


def _head(cel: Cel, pose: Bird) -> None:
    low, high = pose.beak * 0.6, -pose.beak * 0.4
    if pose.beak > 3:
        gape = curve([(-30, 0), rotate(-low * 0.9)((-86, 13)), (-46, 24), (-20, 18)], (1,))
        cel.part(gape, "rook-mouth", "beak-line", Pen(3.4))
    with cel.placed(rotate(-low)):
        lower = curve([(-20, 6), (-58, 9), (-96, 13), (-74, 24), (-34, 30), (-18, 22)], (2,))
        cel.part(lower, "beak", "beak-line", MID)
        cel.part(oval((-66, 17), 8, 4.8), "beak-spot", "beak-line", Pen(3.0, swell=0.1))
    skull = curve([(-46, 2), (-40, -32), (-6, -50), (30, -38), (46, -6), (42, 32), (10, 44), (-30, 30)])
    cel.fill(skull, paint="body")
    with cel.inside(skull):
        cel.fill(
            curve([(-60, 16), (-10, 30), (24, 22), (60, -8), (60, 60), (-60, 60)], (0, 3, 4, 5)),
            paint="body-shade",
        )
    cel.ink(skull.part(5, 15), "body-line", BOLD)
    with cel.placed(rotate(-high)):
        upper = curve([(-24, -16), (-60, -14), (-100, -2), (-112, 18), (-98, 14), (-60, 13), (-28, 15)], (3,))
        cel.part(upper, "beak", "beak-line", BOLD)
        cel.ink(stroke((-54, -4), (-62, -3), (-70, 0)), "beak-line", FINE)
    _eye(cel, pose.shut)
    _cap(cel)


def _eye(cel: Cel, shut: bool) -> None:
    if shut:
        cel.ink(stroke((-32, -12), (-20, -6), (-6, -11)), "rook-line", Pen(width=5, taper=10))
        return
    cel.part(oval((-19, -13), 12, 13), "rook-eye", "rook-line", Pen(width=3.8))
    cel.fill(oval((-22, -12), 5.4, 6.4), paint="rook-line")
    cel.fill(oval((-24.5, -15), 2.6, 2.6), paint="body")


def _cap(cel: Cel) -> None:
    crown = curve(
        [(-44, -38), (-54, -60), (-36, -80), (10, -84), (52, -70), (56, -46), (44, -28), (0, -42)], (0, 6)
    )
    cel.part(crown, "rook-cap", "cap-line", BOLD)
    cel.ink(stroke((-24, -76), (-6, -68), (16, -66)), "cap-line", FINE)
    band = curve([(-46, -34), (0, -45), (44, -34), (46, -20), (0, -31), (-43, -20)], (0, 2, 3, 5))
    cel.part(band, "badge", "satchel-line", MID)
    peak = curve([(-38, -33), (-62, -36), (-84, -27), (-62, -24), (-36, -22)], (2,))
    cel.part(peak, "rook-peak", "rook-line", MID)
    cel.part(oval((-20, -58), 9, 10), "badge", "satchel-line", Pen(3.6))


def _strap(cel: Cel) -> None:
    strap = curve([(-62, -58), (-48, -64), (-6, -10), (40, 40), (30, 50), (-18, 2)], (0, 1, 3, 4))
    cel.part(strap, "rook-peak", "rook-line", MID)


def _satchel(cel: Cel) -> None:
    bag = curve([(-38, -10), (38, -10), (40, 44), (0, 49), (-40, 44)], (0, 1, 2, 4))
    cel.part(bag, "satchel", "satchel-line", BOLD)
    flap = curve([(-40, -14), (40, -14), (38, 12), (0, 26), (-38, 12)], (0, 1))
    cel.part(flap, "satchel-flap", "satchel-line", BOLD)
    cel.part(buckle_outline(), "badge", "satchel-line", Pen(3.6))
    cel.ink(stroke((0, 16), (0, 28)), "satchel-line", Pen(width=3.6, taper=4))


def buckle_outline() -> Curve:
    return curve([(-10, 12), (10, 12), (10, 33), (-10, 33)], (0, 1, 2, 3))
