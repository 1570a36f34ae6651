"""Scene 014: its cels are right one by one, its frames are not: what is planted shows in frames only."""

from collections.abc import Sequence

from drawing_kit.brush import Pen
from drawing_kit.cel import Cel, Pixels
from drawing_kit.curves import oval, place
from drawing_kit.face import Head, mouth
from drawing_kit.paintshop import LAMP, ROOK, TILDA
from drawing_kit.rook import Bird
from drawing_kit.scenes import PERCH_13, STAGE_13, Draw, Level, Scene, bird_at, hung_lamp, signal
from drawing_kit.sheets import every
from drawing_kit.tilda import Arm, Pose, neck

CUT = 860
"""The column from which on Tilda's flag is cut off on B 3."""


def scene_14() -> Scene:
    rook = [Bird(), Bird(beak=14, nod=-3), Bird(beak=30, nod=-8), Bird(shut=True, nod=5)]
    lamps = [(0.0, 0.0), (7.0, 1.0), (12.0, 2.0), (6.0, 3.0)]
    levels = {
        "A": Level(1, (TILDA,), {"1": _mouth("oh"), "2": _mouth("eh")}),
        "B": Level(2, (TILDA, LAMP), {str(i + 1): draw for i, draw in enumerate(_signals())}),
        "C": Level(3, (ROOK,), {str(i + 1): bird_at(PERCH_13, pose) for i, pose in enumerate(rook)}, 1.1),
        "D": Level(4, (LAMP,), {str(i + 1): _disk(turn) for i, turn in enumerate((0.0, 20.0, 40.0))}),
        "E": Level(
            5,
            (LAMP,),
            {str(i + 1): hung_lamp(*row) for i, row in enumerate(lamps)} | {"5": _disk(20.0)},
            1.1,
        ),
        "F": Level(6, (LAMP,), {"1": _flash}),
    }
    exposure = {
        "A": {1: "1", 4: "2", 7: "1", 25: "x"},
        "B": {1: "1", 5: "2", 10: "3", 14: "4", 40: "2"},
        "C": {1: "1", **every(13, 3, "2", "3", "2"), 22: "4", 24: "1", 42: "x", 46: "1"},
        "D": every(1, 4, *"1232123212321"),
        "E": {**every(1, 4, *"1234321"), 29: "1", 33: "x", 34: "1", 38: "2", 48: "5", 50: "3"},
        "F": {1: "x", **every(20, 2, *["1", "x"] * 5)},
    }
    notes = {"camera": {1: "12F"}, "notes": {1: "day", 20: "a mirror flashes"}}
    return Scene("014", None, 52, levels, exposure, notes)


PLANTED_14: Sequence[tuple[str, str | None, list[int], str]] = (
    (
        "missing-cel",
        "A",
        list(range(1, 25)),
        "Level A's mouths lie below level B's head: two columns exchanged.",
    ),
    ("short-of-field", "B", [10, 11, 12, 13], "On B 3 the flag is cut off straight inside the field."),
    ("missing-cel", "D", [42, 43, 44, 45], "Rook's signal disk is there without Rook."),
    ("missing-cel", "E", [33], "The hung lamp is gone on one frame."),
    ("missing-cel", "E", [48, 49], "E 5 is Rook's disk, which belongs to level D."),
    ("flash", None, list(range(20, 39)), "The mirror's flash comes and goes on twos over half the picture."),
)
"""Kind, level, frames and what is wrong."""


def planted_14(level: str, drawing: str, pixels: Pixels) -> Pixels:
    """The drawing with its fault, where it has one of its own."""
    after = pixels.copy()
    if (level, drawing) == ("B", "3"):
        after[:, CUT:] = 0
    return after


def _signals() -> tuple[Draw, ...]:
    flags = [
        ((150, -206), -4, 0.0, 0.0, {"yaw": 10, "mouth": "shut"}),
        ((160, -204), 4, 0.8, 1.0, {"yaw": 12, "mouth": "eh"}),
        ((176, -194), 16, 1.6, 2.0, {"yaw": 15, "mouth": "ah"}),
        ((190, -176), 28, 2.4, 3.0, {"yaw": 18, "mouth": "oh"}),
    ]
    return tuple(
        signal(hand, turn, wave, lean=lean, sway=lean * 3, step=4 * lean, head=mood)
        for hand, turn, wave, lean, mood in flags
    )


def _mouth(shape: str) -> Draw:
    def draw(cel: Cel) -> None:
        pose = Pose(Arm((-66, -24), 1), Arm((150, -206), 1), head=Head(yaw=10))
        with cel.placed(STAGE_13), cel.placed(neck(pose)):
            mouth(cel, shape, 10)

    return draw


def _disk(turn: float) -> Draw:
    """A signal disk on Rook's satchel: well inside the bird."""

    def draw(cel: Cel) -> None:
        with cel.placed(place(1.0, (PERCH_13[0] + 36, PERCH_13[1] - 4), turn)):
            cel.part(oval((0, 0), 54, 50), "flag-field", "flag-line", Pen(width=4.5))
            cel.part(oval((0, 0), 34, 30), "flag-bar", "flag-line", Pen(width=4))
            cel.part(oval((0, 0), 15, 13), "lamp-flame", "flag-line", Pen(width=3.6))

    return draw


def _flash(cel: Cel) -> None:
    with cel.placed(place(1.0, (960, 540))):
        cel.part(oval((0, 0), 720, 440), "lamp-glass", "lamp-line", Pen(width=8))
