"""The signal lamp (hangs from its ring) and the signal flag. Units are Tilda's, see `tilda`."""

import numpy as np

from drawing_kit.brush import Pen
from drawing_kit.cel import Cel
from drawing_kit.curves import curve, oval, place, stroke

THIN = Pen(width=3.6, swell=0.25, taper=14)


def lamp(cel: Cel, grip: tuple[float, float], swing: float, flame: float = 0.0) -> None:
    """A lamp 170 units long under `grip`, swung by degrees; the ring's hole is a meant see-through."""
    with cel.placed(place(1.0, grip, swing)):
        _ring(cel)
        _body(cel, flame)
        _roof(cel)


def _ring(cel: Cel) -> None:
    outer, inner = oval((0, 18), 30, 30), oval((0, 18), 20, 20)
    cel.fill(outer, inner, paint="lamp-base")
    cel.ink(outer, "lamp-line", Pen(width=4.4))
    cel.ink(inner, "lamp-line", Pen(width=3.6))


def _body(cel: Cel, flame: float) -> None:
    glass = curve([(-27, 74), (27, 74), (33, 108), (28, 138), (-28, 138), (-33, 108)], (0, 1, 3, 4))
    cel.fill(glass, paint="lamp-glass")
    lean = 7 * np.sin(flame)
    tongue = curve([(lean, 86 + 3 * np.cos(flame)), (9, 110), (7, 127), (-7, 127), (-9, 112)], (0,))
    cel.part(tongue, "lamp-flame", "lamp-line", Pen(width=3.0, swell=0.1))
    cel.ink(glass, "lamp-line", Pen(width=4.6))
    for x in (-17, 17):
        bar = curve([(x - 4, 74), (x + 4, 74), (x * 1.18 + 4, 108), (x + 4, 138), (x - 4, 138),
                     (x * 1.18 - 4, 108)],
                    (0, 1, 3, 4))  # fmt: skip
        cel.part(bar, "lamp-brass-shade", "lamp-line", Pen(width=3.0, swell=0.1))
    base = curve([(-34, 136), (34, 136), (38, 158), (-38, 158)], (0, 1, 2, 3))
    cel.part(base, "lamp-base", "lamp-line", Pen(width=5))
    foot = curve([(-42, 156), (42, 156), (43, 168), (0, 171), (-43, 168)], (0, 1, 2, 4))
    cel.part(foot, "lamp-brass", "lamp-line", Pen(width=5))


def _roof(cel: Cel) -> None:
    roof = curve([(-11, 46), (11, 46), (20, 60), (38, 76), (-38, 76), (-20, 60)], (0, 1, 3, 4))
    cel.fill(roof, paint="lamp-brass")
    with cel.inside(roof):
        cel.fill(curve([(4, 40), (40, 40), (46, 82), (12, 82)], (0, 1, 2, 3)), paint="lamp-brass-shade")
    cel.ink(roof, "lamp-line", Pen(width=5))
    cel.part(
        curve([(-14, 42), (14, 42), (14, 50), (-14, 50)], (0, 1, 2, 3)), "lamp-brass", "lamp-line", Pen(3.4)
    )
    cel.ink(stroke((-22, 68), (-10, 62), (2, 61)), "lamp-line", THIN)


def flag(cel: Cel, grip: tuple[float, float], turn: float, wave: float) -> None:
    """A flag on a pole held at `grip`; at `turn` 0 the pole stands upright, the cloth flies to the right."""
    with cel.placed(place(1.0, grip, turn)):
        pole = curve([(-5, 46), (5, 46), (4, -262), (-4, -262)], (0, 1, 2, 3))
        _cloth(cel, wave)
        cel.part(pole, "flag-pole", "flag-line", Pen(width=4))
        cel.part(oval((0, -268), 9, 9), "flag-bar", "flag-line", Pen(width=3.8))


def _cloth(cel: Cel, wave: float) -> None:
    x = np.linspace(0, 178, 7)
    lift = 15 * np.sin(x / 178 * 1.7 * np.pi - wave) * (x / 178) ** 0.7
    drop = x * 0.10
    far = x * (0.95 + 0.03 * np.sin(wave))

    def edge(share: float) -> list[tuple[float, float]]:
        ripple = lift * (1 + 0.25 * share) + 5 * share * np.sin(wave + x / 40)
        return list(zip(far, -252 + 118 * share + drop + ripple, strict=True))

    whole = curve([*edge(0.0), *edge(1.0)[::-1]], (0, 6, 7, 13))
    bar = curve([*edge(0.34), *edge(0.66)[::-1]], (0, 6, 7, 13))
    cel.fill(whole, paint="flag-field")
    cel.part(bar, "flag-bar", "flag-line", Pen(width=3.6))
    cel.ink(whole, "flag-line", Pen(width=5))
    for k in (2, 4):
        fold = [edge(0.04)[k], (edge(0.15)[k][0] + 5, edge(0.15)[k][1]), edge(0.25)[k]]
        cel.ink(stroke(*fold), "flag-line", THIN)
