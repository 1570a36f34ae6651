"""A figure as the places of its drawings, moved over a level: what the comparison of drawings looks at."""

import numpy as np

from cel_check.drawing.place import OPEN, Place
from cel_check.faults import Verdict
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.scene.results import CelResult, Measured

NAMES = ("coat", "sleeve", "skin", "trousers", "boot", "hair", "scarf")
COLORS = (
    (200, 85, 61), (160, 60, 50), (240, 200, 170), (40, 60, 110), (60, 40, 30), (230, 220, 120), (30, 140, 90)
)  # fmt: skip
LABS = tuple((10.0 + 12 * k, 9.0 * k, 30.0 - 8 * k) for k in range(len(NAMES)))
PALETTE = Palette(
    tuple(
        ModelColor(name, name.title(), Use.PAINT, rgb, LABS[k], 2.0, f"P-{k}", "tilda")
        for k, (name, rgb) in enumerate(zip(NAMES, COLORS, strict=True))
    ),
    ("Tilda",),
)  # fmt: skip
COAT, SLEEVE, SKIN, TROUSERS, BOOT, HAIR, SCARF = range(7)

PARTS = {
    "hair": (HAIR, (0, -220), (60, 25)), "face": (SKIN, (0, -170), (45, 45)),
    "scarf": (SCARF, (0, -110), (50, 14)), "coat": (COAT, (0, -20), (70, 80)),
    "left sleeve": (SLEEVE, (-95, -40), (22, 60)), "right sleeve": (SLEEVE, (95, -40), (22, 60)),
    "left hand": (SKIN, (-100, 40), (16, 16)), "right hand": (SKIN, (100, 40), (16, 16)),
    "left leg": (TROUSERS, (-35, 120), (28, 60)), "right leg": (TROUSERS, (35, 120), (28, 60)),
    "left boot": (BOOT, (-40, 200), (30, 16)), "right boot": (BOOT, (40, 200), (30, 16)),
}  # fmt: skip
BORDERS = {
    "hair": ("face",), "face": ("hair", "scarf"), "scarf": ("face", "coat"),
    "coat": ("scarf", "left sleeve", "right sleeve", "left leg", "right leg"),
    "left sleeve": ("coat", "left hand"), "right sleeve": ("coat", "right hand"),
    "left hand": ("left sleeve",), "right hand": ("right sleeve",),
    "left leg": ("coat", "right leg", "left boot"), "right leg": ("coat", "left leg", "right boot"),
    "left boot": ("left leg",), "right boot": ("right leg",),
}  # fmt: skip


def places(drawing, painted=None, without=()):
    """Return a drawing's places: `painted` maps parts to colors they have instead, `without` are hidden."""
    painted = painted or {}
    names = [name for name in PARTS if name not in without]
    color = {name: painted.get(name, PARTS[name][0]) for name in names}
    made = []
    for name in names:
        _, (x, y), (wide, high) = PARTS[name]
        x, y = 900 + x + 12 * drawing, 500 + y * (1 + 0.01 * drawing) + 6 * np.sin(drawing + x)
        met = [other for other in BORDERS[name] if other in names]
        share = 0.7 / max(1, len(met))
        around = {OPEN: 1.0 - share * len(met)}
        for other in met:
            around[color[other]] = around.get(color[other], 0.0) + share
        made.append(
            Place(
                color=color[name],
                area=round(np.pi * wide * high),
                box=(round(x - wide), round(y - high), 2 * wide, 2 * high),
                center=(float(x), float(y)),
                around=tuple(sorted(around.items(), key=lambda one: -one[1])),
                moments=(wide * wide / 4, 0.0, high * high / 4),
                point=(round(x), round(y)),
                near=tuple((names.index(other), share) for other in met),
                srgb="#{:02X}{:02X}{:02X}".format(*COLORS[color[name]]) if color[name] >= 0 else "#808080",
            )
        )
    return tuple(made)


def cel(drawing, painted=None, without=(), faults=()):
    """Return a checked cel of level A."""
    return CelResult(
        "A", str(drawing), f"A/A-{drawing:04d}.png", Verdict.PASS, faults=tuple(faults),
        places=places(drawing, painted, without), sha256="0" * 64, width=1920, height=1080,
        measured=Measured(),
    )  # fmt: skip


def level(count=12, painted=None, without=None):
    """Return a level's cels; `painted` and `without` hold what differs, by drawing."""
    painted, without = painted or {}, without or {}
    return [cel(k, painted.get(k), without.get(k, ())) for k in range(1, count + 1)]


def box_of(drawing, name):
    """Return a part's box on a drawing."""
    return places(drawing)[list(PARTS).index(name)].box
