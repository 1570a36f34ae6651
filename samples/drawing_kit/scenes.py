"""What is on the cels of scenes 012 and 013, and on the model cels."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from drawing_kit.cel import Cel
from drawing_kit.curves import place
from drawing_kit.face import Head, head, mouth
from drawing_kit.paintshop import LAMP, ROOK, TILDA, Model
from drawing_kit.props import flag, lamp
from drawing_kit.rook import Bird, bird
from drawing_kit.sheets import every
from drawing_kit.tilda import Arm, Pose, figure, neck

Draw = Callable[[Cel], None]


@dataclass(frozen=True)
class Level:
    """One level: its number from the bottom (1), its models, its drawings by number."""

    number: int
    models: tuple[Model, ...]
    drawings: dict[str, Draw]
    pen: float = 1.0
    hard: bool = False

    def cel(self, drawing: str, condition: str | None) -> Cel:
        cel = blank(self.models, condition, self.number, self.hard)
        cel.pen_scale = self.pen
        self.drawings[drawing](cel)
        return cel


@dataclass(frozen=True)
class Scene:
    """A scene; `field` is in inches, `scan` the [scan] table of one whose cels were scanned."""

    number: str
    condition: str | None
    frames: int
    levels: dict[str, Level]
    exposure: dict[str, dict[int, str]]
    remarks: dict[str, dict[int, str]]
    field: float = 12
    scan: Mapping[str, str | int] | None = None


def blank(models: tuple[Model, ...], condition: str | None, level: int = 1, hard: bool = False) -> Cel:
    colors: dict[str, str] = {}
    for model in models:
        colors |= model.mixed(condition, level)
    return Cel(colors, frozenset().union(*(model.inks for model in models)), hard)


STAGE_12 = place(1.75, (760, 832))
STAGE_13 = place(1.05, (600, 604))
PERCH_13 = (1320, 690)
HIP = Arm((-66, -24), 1)


def _body(pose: Pose) -> Draw:
    def draw(cel: Cel) -> None:
        with cel.placed(STAGE_12):
            figure(cel, pose)

    return draw


def _bodies() -> dict[str, Pose]:
    def pose(hand: tuple[float, float], lean: float, turn: float, wind: float) -> Pose:
        bend = -1 if hand[1] > 0 else 1
        return Pose(HIP, Arm(hand, bend, "lamp", turn, wind), lean, sway=lean * 2.2, wind=wind)

    return {
        "1": pose((146, 24), 0.0, 2, 0.0),
        "2": pose((192, -26), 1.0, -7, 0.9),
        "3": pose((216, -92), 2.0, -12, 1.8),
        "4": pose((218, -124), 3.0, -12, 2.7),
        "4b": pose((220, -132), 3.0, -4, 3.3),
        "5": pose((220, -136), 3.0, 6, 3.9),
        "6": pose((220, -136), 3.0, 3, 4.7),
        "7": pose((220, -136), 3.0, -3, 5.5),
        "8": pose((220, -136), 3.0, 1, 6.1),
    }


def _heads() -> dict[str, tuple[Head, float]]:
    """Each head with the lean of the body that it sits on."""
    rest = Head(yaw=18, look=2.0, tilt=1)
    return {
        "1": (Head(yaw=-16, look=-2, tilt=-2), 0.0),
        "2": (Head(yaw=-4, lids=0.5, tilt=-1, breeze=0.3), 1.0),
        "3": (Head(yaw=9, look=1, breeze=0.8), 2.0),
        "4": (rest, 3.0),
        "5": (replace(rest, lids=0.5, breeze=0.4), 3.0),
        "6": (replace(rest, lids=1.0, breeze=0.6), 3.0),
        "7": (replace(rest, brow=7, tilt=3, breeze=1.0), 3.0),
    }


def _on_neck(lean: float, draw: Draw) -> Draw:
    def run(cel: Cel) -> None:
        with cel.placed(STAGE_12), cel.placed(neck(Pose(HIP, HIP, lean))):
            draw(cel)

    return run


def _mouth(shape: str, pose: Head) -> Draw:
    def run(cel: Cel) -> None:
        with cel.placed(place(1.0, (0, 0), pose.tilt)):
            mouth(cel, shape, pose.yaw)

    return run


def _mouths() -> dict[str, Draw]:
    heads = _heads()
    said = [("1", "shut"), ("2", "press"), ("3", "smile"), ("4", "shut"), ("4", "ah"), ("4", "ee"),
            ("4", "oh"),
            ("4", "eh"), ("4", "press"), ("7", "smile"), ("7", "ah")]  # fmt: skip
    return {
        str(i + 1): _on_neck(heads[on][1], _mouth(shape, heads[on][0])) for i, (on, shape) in enumerate(said)
    }


def bird_at(at: tuple[float, float], pose: Bird, size: float = 1.3) -> Draw:
    def draw(cel: Cel) -> None:
        with cel.placed(place(size, at)):
            bird(cel, pose)

    return draw


def scene_12() -> Scene:
    perch = (1500, 600)
    birds = {
        "1": bird_at((1690, 262), Bird(turn=10, wing=46, curl=34, legs=1, swing=-8)),
        "2": bird_at((1610, 330), Bird(turn=8, wing=4, curl=-10, legs=1, swing=-12)),
        "3": bird_at((1560, 420), Bird(turn=4, wing=-22, curl=-30, legs=1, swing=-6, nod=-4)),
        "4": bird_at((1530, 490), Bird(turn=-8, wing=38, curl=30, legs=0.4, swing=10)),
        "5": bird_at((1508, 570), Bird(turn=-10, wing=62, curl=12, swing=14, step=6)),
        "6": bird_at(perch, Bird()),
        "7": bird_at(perch, Bird(beak=26, nod=-6)),
        "8": bird_at(perch, Bird(shut=True, nod=3)),
    }
    levels = {
        "A": Level(1, (TILDA, LAMP), {key: _body(pose) for key, pose in _bodies().items()}, 1.2),
        "B": Level(
            2,
            (TILDA,),
            {k: _on_neck(lean, lambda c, p=p: head(c, p)) for k, (p, lean) in _heads().items()},
            1.2,
        ),
        "C": Level(3, (TILDA,), _mouths(), 1.2),
        "D": Level(4, (ROOK,), birds, 1.1),
    }
    exposure = {
        "A": {1: "1", **every(9, 3, "2", "3", "4", "4b"), 21: "5",
              **every(37, 4, "6", "7", "8", "5"), 57: "6"},
        "B": {1: "1", 9: "2", 12: "3", 15: "4", **every(31, 1, "5", "6"), 34: "5", 35: "4", 51: "7"},
        "C": {1: "1", 9: "2", 12: "3", 15: "4", 23: "5", 25: "6", 27: "8", 29: "4", 33: "7", 36: "5", 38: "9",
              40: "6", 43: "8", 46: "4", 51: "10", 54: "11", 57: "10"},
        "D": {1: "x", **every(25, 2, "1", "2", "3", "4", "5"), 35: "6", 45: "7", 49: "6", 53: "8", 55: "6"},
    }  # fmt: skip
    remarks = {
        "dialogue": {23: "Lamp's lit!", 36: "Who's late tonight, Rook?", 54: "Ha!"},
        "notes": {
            1: "hold",
            9: "lifts the lamp",
            25: "Rook comes in from the right",
            31: "blink",
            57: "hold to end",
        },
    }
    return Scene("012", None, 60, levels, exposure, remarks)


def signal(hand: tuple[float, float], turn: float, wave: float, **more: object) -> Draw:
    mood = Head(**more.pop("head"))  # type: ignore[arg-type]
    pose = Pose(Arm((-66, -24), 1), Arm(hand, 1, "flag", turn, wave), wind=wave, head=mood, **more)  # type: ignore[arg-type]

    def draw(cel: Cel) -> None:
        with cel.placed(STAGE_13):
            figure(cel, pose)

    return draw


def scene_13() -> Scene:
    flags = [
        ((150, -206), -4, 0.0, 0.0, {"yaw": 10, "mouth": "shut"}),
        ((160, -204), 4, 0.8, 1.0, {"yaw": 12, "mouth": "eh"}),
        ((176, -194), 16, 1.6, 2.0, {"yaw": 15, "mouth": "ah"}),
        ((190, -176), 28, 2.4, 3.0, {"yaw": 18, "mouth": "oh"}),
        ((196, -160), 37, 3.2, 4.0, {"yaw": 20, "mouth": "ee", "lids": 0.5}),
        ((190, -172), 29, 4.0, 3.0, {"yaw": 18, "mouth": "shut", "lids": 1.0}),
        ((176, -192), 17, 4.8, 2.0, {"yaw": 15, "mouth": "smile"}),
        ((160, -206), 5, 5.5, 0.5, {"yaw": 6, "mouth": "smile", "brow": 5}),
        ((150, -210), -3, 6.1, -1.0, {"yaw": -4, "mouth": "ah", "brow": 7}),
        ((146, -212), -7, 6.9, -2.0, {"yaw": -10, "mouth": "press"}),
        ((148, -210), -5, 7.5, -1.0, {"yaw": -6, "mouth": "oh"}),
    ]
    tilda = {
        str(i + 1): signal(hand, turn, wave, lean=lean, sway=lean * 3, step=4 * lean, head=mood)
        for i, (hand, turn, wave, lean, mood) in enumerate(flags)
    }
    rook = [
        Bird(), Bird(beak=14, nod=-3), Bird(beak=30, nod=-8), Bird(wing=30, curl=20, nod=-4, swing=4),
        Bird(wing=58, curl=-16, beak=22, swing=8, turn=-4), Bird(wing=16, curl=36, swing=-5),
        Bird(shut=True, nod=5),
        Bird(nod=8, step=5),
    ]  # fmt: skip
    lamps = [(0.0, 0.0), (7.0, 1.0), (12.0, 2.0), (6.0, 3.0), (-5.0, 4.0), (-11.0, 5.0)]
    levels = {
        "A": Level(1, (TILDA, LAMP), tilda),
        "B": Level(
            2, (ROOK,), {str(i + 1): bird_at(PERCH_13, pose) for i, pose in enumerate(rook)}, 1.1, hard=True
        ),
        "C": Level(3, (LAMP,), {str(i + 1): hung_lamp(*row) for i, row in enumerate(lamps)}, 1.1),
    }
    exposure = {
        "A": {1: "1", **every(7, 3, "2", "3", "4", "5", "6", "7", "8", "9", "10"), 40: "9"},
        "B": {
            1: "1",
            **every(13, 3, "2", "3", "2"),
            22: "7",
            24: "1",
            **every(31, 3, "4", "5", "6", "9", "8"),
        },
        "C": every(1, 4, *"1234321561234"),
    }
    remarks = {
        "dialogue": {7: "Harbor, ho!", 13: "(Rook) Two short, one long.", 37: "Again!"},
        "notes": {1: "night", 7: "signals on threes", 22: "blink", 31: "Rook waves back"},
    }
    return Scene("013", "night", 52, levels, exposure, remarks)


def hung_lamp(swing: float, flame: float) -> Draw:
    def draw(cel: Cel) -> None:
        with cel.placed(place(1.55, (1700, 196))):
            lamp(cel, (0, 0), swing, flame)

    return draw


def _tilda_model(cel: Cel) -> None:
    with cel.placed(place(1.12, (960, 602))):
        figure(cel, Pose(HIP, Arm((118, -4), -1), head=Head(mouth="ah")))


def _rook_model(cel: Cel) -> None:
    with cel.placed(place(2.1, (560, 560))):
        bird(cel, Bird(beak=26))
    with cel.placed(place(1.3, (1400, 640))):
        bird(cel, Bird(wing=40, curl=20))


def _lamp_model(cel: Cel) -> None:
    with cel.placed(place(3.2, (620, 240))):
        lamp(cel, (0, 0), 0)
    with cel.placed(place(2.4, (1180, 820))):
        flag(cel, (0, 0), 0, 0.6)


MODEL_CELS: dict[str, tuple[Model, Draw]] = {
    "tilda-model.png": (TILDA, _tilda_model),
    "rook-model.png": (ROOK, _rook_model),
    "lamp-model.png": (LAMP, _lamp_model),
}
