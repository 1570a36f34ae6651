"""Scene 015: its cels are right; a blind of stripes, a hold and a title are planted in its frames."""

from collections.abc import Sequence

from drawing_kit.brush import Pen
from drawing_kit.cel import Cel
from drawing_kit.curves import Curve, curve, place
from drawing_kit.paintshop import LAMP
from drawing_kit.props import flag
from drawing_kit.scenes import Draw, Level, Scene, hung_lamp
from drawing_kit.sheets import every

SLATS = 8
"""Light slats of the blind, with dark gaps between them."""

LETTERS = {
    "S": ((0, 0), (4, 0), (4, 1), (1, 1), (1, 3), (4, 3), (4, 7), (0, 7), (0, 6), (3, 6), (3, 4), (0, 4)),
    "I": ((0, 0), (1, 0), (1, 7), (0, 7)),
    "G": ((0, 0), (4, 0), (4, 1), (1, 1), (1, 6), (3, 6), (3, 4), (2, 4), (2, 3), (4, 3), (4, 7), (0, 7)),
    "N": ((0, 0), (1, 0), (3, 4), (3, 0), (4, 0), (4, 7), (3, 7), (1, 3), (1, 7), (0, 7)),
    "A": ((0, 7), (1.4, 0), (2.6, 0), (4, 7), (3, 7), (2.6, 5), (1.4, 5), (1, 7)),
    "L": ((0, 0), (1, 0), (1, 6), (4, 6), (4, 7), (0, 7)),
    "H": ((0, 0), (1, 0), (1, 3), (3, 3), (3, 0), (4, 0), (4, 7), (3, 7), (3, 4), (1, 4), (1, 7), (0, 7)),
}
"""Outlines on a grid of 4 by 7."""


def scene_15() -> Scene:
    lamps = [(0.0, 0.0), (7.0, 1.0), (12.0, 2.0), (6.0, 3.0)]
    levels = {
        "A": Level(1, (LAMP,), {"1": _blind}),
        "B": Level(2, (LAMP,), {str(i + 1): _flag(i) for i in range(9)}),
        "C": Level(3, (LAMP,), {str(i + 1): hung_lamp(*row) for i, row in enumerate(lamps)}, 1.1),
        "title": Level(4, (LAMP,), {"1": _title}),
    }
    exposure = {
        "A": {1: "1", 25: "x"},
        "B": {**every(1, 2, *"1234"), **every(13, 2, *"78987654321")},
        "C": every(1, 2, *"123432123432123432123432"),
        "title": {1: "x", 31: "1"},
    }
    notes = {"camera": {1: "12F"}, "notes": {1: "day, the blind is down", 25: "the harbor", 31: "title"}}
    return Scene("015", None, 48, levels, exposure, notes)


PLANTED_15: Sequence[tuple[str | None, str | None, list[int], str]] = (
    ("flash", None, list(range(1, 25)), "The blind's slats are eight light stripes, for a second."),
    ("missing-cel", "B", list(range(7, 13)), "B 4 is held for B 5 and B 6, which are skipped."),
    (None, "title", list(range(31, 49)), "The title reaches past the title safe area: a remark, no fault."),
)
"""Kind (none for a remark), level, frames and what is wrong."""


def _box(left: float, top: float, right: float, bottom: float) -> Curve:
    return curve([(left, top), (right, top), (right, bottom), (left, bottom)], (0, 1, 2, 3))


def _blind(cel: Cel) -> None:
    """A blind with flat slats before the window, its rail on top."""
    window = _box(200, 96, 1560, 1004)
    cel.fill(window, paint="lamp-brass-shade")
    pitch = 900 / SLATS
    for row in range(SLATS):
        top = 104 + row * pitch + 46
        cel.part(_box(214, top, 1546, top + 58), "lamp-glass", "lamp-line", Pen(width=4.6, swell=0.15))
    cel.ink(window, "lamp-line", Pen(width=7))
    cel.part(_box(184, 70, 1576, 116), "lamp-brass", "lamp-line", Pen(width=6))


def _flag(step: int) -> Draw:
    """The signal flag in its stand: the cloth goes through one wave in nine drawings."""

    def draw(cel: Cel) -> None:
        with cel.placed(place(1.9, (150, 960), 5.0)):
            flag(cel, (0, 0), 0.0, 0.7 * step)

    return draw


def _title(cel: Cel) -> None:
    """The show's name on a board, too far to the right and below."""
    with cel.placed(place(1.0, (1150, 892))):
        cel.part(_box(0, 0, 730, 150), "flag-bar", "flag-line", Pen(width=6))
        left = 34.0
        for letter in "SIGNAL HILL":
            points = LETTERS.get(letter, ())
            if points:
                shape = curve([(left + 12.5 * x, 31 + 12.5 * y) for x, y in points], range(len(points)))
                cel.part(shape, "flag-field", "flag-line", Pen(width=3.6, swell=0.15))
            left += 12.5 * (max(x for x, _ in points) if points else 1.5) + 22
