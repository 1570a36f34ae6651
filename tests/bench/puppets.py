"""Own characters moved by real poses, for the benchmark of wrong parts: drawn by code, nobody's art.

A figure walks, swings its arms across its body, turns its head and shoulders, squashes, blinks, talks, and
may leave the picture. Proportions, colors, pen and motion depend on its number alone.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import cv2
import numpy as np
from art import digest, straight
from colors import delta_e, lab_of
from numpy.typing import NDArray

from cel_check.model.colormodel import ModelColor, Palette, Use

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]
Color = tuple[int, int, int]

WIDE, HIGH = 560, 640
OVER = 2
"""Times larger that a drawing is made before it is brought to its size, for soft edges."""

STYLES = ("thick black ink", "thin colored ink", "no ink", "tapering brush")
APART = 12.0
"""ΔE00 between any two paints of a figure."""

PAINTS = (
    "coat", "sleeves", "trousers", "left boot", "right boot", "skin", "hair", "cap", "scarf", "belt", "eyes",
    "mouth", "left glove", "right glove", "pocket",
)  # fmt: skip
PAINT_OF = {
    "torso": "coat", "left sleeve": "sleeves", "right sleeve": "sleeves", "left leg": "trousers",
    "right leg": "trousers", "left boot": "left boot", "right boot": "right boot", "face": "skin",
    "hair": "hair", "cap": "cap", "scarf": "scarf", "belt": "belt", "left eye": "eyes", "right eye": "eyes",
    "mouth": "mouth", "left glove": "left glove", "right glove": "right glove", "pocket": "pocket",
}  # fmt: skip
FACE = ("left eye", "right eye", "mouth")
"""Parts that blink and talk, which a scene may have on a level of their own."""

JUDGED = tuple(part for part in PAINT_OF if part not in FACE)
"""Parts that are painted wrong: those that do not come and go."""


@dataclass(frozen=True)
class _Pose:
    """Where everything is on a drawing, from smooth waves of its number."""

    at: tuple[float, float]
    yaw: float
    squash: float
    stride: float
    swing: float
    shut: bool
    talk: float


class Puppet:
    """A figure: `count` drawings, and drawing -1, the model cel."""

    def __init__(self, number: int) -> None:
        """Make a figure of a number."""
        self.name = f"figure {number}"
        self.rng = np.random.default_rng(digest("puppet", number))
        self.style = STYLES[number % len(STYLES)]
        self.count = int(self.rng.integers(12, 41))
        self.size = {
            key: float(self.rng.uniform(0.8, 1.25)) for key in ("torso", "head", "limb", "hand", "boot")
        }
        self.wave = self.rng.uniform(0, 6.28, size=5)
        self.leaves = bool(self.rng.random() < 0.25)
        self.squashes = float(self.rng.uniform(0.0, 0.12))
        self.turns = float(self.rng.uniform(0.2, 1.0))
        self.colors = _colors(self.rng, len(PAINTS) + 1)
        self.ink: Color = (16, 16, 16) if self.style != "thin colored ink" else self.colors[-1]
        self.pen = {"thick black ink": 6.0, "thin colored ink": 2.5, "no ink": 0.0, "tapering brush": 5.0}[
            self.style
        ]
        self.palette = _palette((*self.colors[:-1], self.ink))

    def paint(self, part: str) -> int:
        """Return the palette color that a part should have."""
        return PAINTS.index(PAINT_OF[part])

    def drawing(
        self,
        number: int,
        painted: Mapping[str, int] | None = None,
        scale: int = 1,
        only: Collection[str] = (),
    ) -> tuple[NDArray[np.uint8], dict[str, Mask]]:
        """Return a drawing's cel, and what shows of each part.

        Args:
            number: of the drawing.
            painted: parts in other colors.
            scale: times its usual size.
            only: the parts of the level that is drawn; all where it is empty.
        """
        over = OVER * scale
        canvas = np.zeros((HIGH * over, WIDE * over, 4), np.uint8)
        seen = np.zeros(canvas.shape[:2], np.int32)
        shapes = [shape for shape in self._shapes(self._pose(number)) if not only or shape[0] in only]
        for place, (part, outline) in enumerate(shapes, start=1):
            color = self.colors[(painted or {}).get(part, self.paint(part))]
            points = np.rint(outline * over).astype(np.int32)
            cv2.fillPoly(canvas, [points], (*color, 255))
            cv2.fillPoly(seen, [points], place)
            self._line(canvas, seen, points, over)
        # All is opaque or nothing, so that a mean of pixels is premultiplied.
        size = (WIDE * scale, HIGH * scale)
        small = cv2.resize(canvas, size, interpolation=cv2.INTER_AREA).astype(np.float64)
        names = [part for part, _ in shapes]
        masks = {part: seen[::OVER, ::OVER] == place for place, part in enumerate(names, start=1)}
        return straight(small), masks

    def _line(
        self, canvas: NDArray[np.uint8], seen: NDArray[np.int32], points: NDArray[np.int32], over: int
    ) -> None:
        if not self.pen:
            return
        closed = np.concatenate([points, points[:1]])
        for number in range(len(points)):
            share = 1.0
            if self.style == "tapering brush":
                share = 0.45 + 0.55 * abs(np.sin(np.pi * number / len(points) * 2))
            width = max(2, round(self.pen * over * share))
            one, two = (tuple(int(v) for v in closed[number + step]) for step in (0, 1))
            cv2.line(canvas, one, two, (*self.ink, 255), width)
            cv2.line(seen, one, two, 0, width)

    def _pose(self, number: int) -> _Pose:
        if number < 0:
            return _Pose((WIDE / 2, 300.0), 0.0, 0.0, 0.15, 0.5, False, 0.5)
        t = 2 * np.pi * number / max(12, self.count - 1)
        a, b, c, d, e = self.wave
        away = 420.0 * max(0.0, number / (self.count - 1) - 0.75) * 4 if self.leaves else 0.0
        return _Pose(
            (WIDE / 2 + 40 * np.sin(t + a) + away, 300 + 10 * np.sin(2 * t + b)),
            0.9 * self.turns * np.sin(t + c),
            self.squashes * np.sin(2 * t + d),
            0.5 * np.sin(2 * t + e),
            0.9 * np.sin(t + a) + 0.3,
            number % 9 in (4, 5),
            (0.2, 0.7, 1.0, 0.5)[number % 4],
        )

    def _shapes(self, pose: _Pose) -> list[tuple[str, Points]]:
        """Return `(part, outline)` from the back to the front."""
        shapes = [*self._back(pose), *self._head(pose), *self._front_arm(pose)]
        wide, tall = 1 + pose.squash, 1 - pose.squash
        middle = np.array(pose.at)
        return [(part, middle + outline * (wide, tall)) for part, outline in shapes]

    def _back(self, pose: _Pose) -> list[tuple[str, Points]]:
        torso, limb, boot = self.size["torso"], self.size["limb"], self.size["boot"]
        half, hip = 62 * torso * (0.75 + 0.25 * np.cos(pose.yaw)), 75.0
        shapes: list[tuple[str, Points]] = []
        shapes += self._arm("right", (half * 0.8, -65.0), 0.9 - 0.5 * pose.swing)
        for side, sign in (("right", 1.0), ("left", -1.0)):
            top = np.array([sign * half * 0.42, hip])
            angle = sign * 0.08 + sign * pose.stride * 0.5
            foot = top + 125 * np.array([np.sin(angle), np.cos(angle)])
            toe = foot + np.array([8 * np.sin(pose.yaw) + 3 * sign, 22])
            shapes.append((f"{side} leg", _capsule(top, foot, 23 * limb)))
            shapes.append((f"{side} boot", _oval(toe, 30 * boot, 19 * boot)))
        body = [(-half, -85), (half, -85), (half * 1.12, 95), (-half * 1.12, 95)]
        shapes.append(("torso", _rounded(np.array(body, float))))
        belt = [(-half * 1.02, 30), (half * 1.02, 30), (half * 1.05, 50), (-half * 1.05, 50)]
        shapes.append(("belt", np.array(belt, float)))
        x = 14 * np.sin(pose.yaw) - half * 0.45
        shapes.append(("pocket", np.array([(x - 15, 58), (x + 15, 58), (x + 15, 82), (x - 15, 82)], float)))
        return shapes

    def _head(self, pose: _Pose) -> list[tuple[str, Points]]:
        r = 54 * self.size["head"]
        turn = np.sin(pose.yaw)
        top = -85.0 - r * 0.85
        shapes = [
            ("hair", _oval(np.array([-10 * turn, top - 6]), r * 1.22, r * 1.16)),
            ("face", _oval(np.array([12 * turn, top + 6]), r * 0.95, r)),
            ("cap", _half(np.array([4 * turn, top - r * 0.42]), r * 1.16, r * 0.72)),
            ("scarf", _oval(np.array([2 * turn, -84.0]), 52 * self.size["torso"], 15)),
        ]
        if not pose.shut:
            for side, sign in (("right", 1.0), ("left", -1.0)):
                near = 1 - 0.35 * sign * turn
                at = np.array([12 * turn + r * (0.42 * sign + 0.25 * turn), top + 4])
                shapes.append((f"{side} eye", _oval(at, r * 0.19 * near, r * 0.2)))
        at = np.array([12 * turn + r * 0.25 * turn, top + r * 0.62])
        shapes.append(("mouth", _oval(at, r * 0.28, r * 0.04 + r * 0.14 * pose.talk)))
        return shapes

    def _front_arm(self, pose: _Pose) -> list[tuple[str, Points]]:
        half = 62 * self.size["torso"] * (0.75 + 0.25 * np.cos(pose.yaw))
        return self._arm("left", (-half * 0.85, -65.0), -0.9 + 1.1 * pose.swing)

    def _arm(self, side: str, shoulder: tuple[float, float], angle: float) -> list[tuple[str, Points]]:
        start = np.array(shoulder)
        hand = start + 118 * np.array([np.sin(angle), np.cos(angle)])
        return [
            (f"{side} sleeve", _capsule(start, hand, 20 * self.size["limb"])),
            (f"{side} glove", _oval(hand, 22 * self.size["hand"], 20 * self.size["hand"])),
        ]


def _colors(rng: np.random.Generator, count: int) -> tuple[Color, ...]:
    """Return paints that can all be told from one another and from black."""
    found: list[Color] = []
    while len(found) < count:
        red, green, blue = (int(v) for v in rng.integers(40, 250, size=3))
        if all(delta_e((red, green, blue), other) >= APART for other in (*found, (16, 16, 16))):
            found.append((red, green, blue))
    return tuple(found)


def _palette(colors: tuple[Color, ...]) -> Palette:
    names = (*PAINTS, "outline")
    made = []
    for name, color in zip(names, colors, strict=True):
        low, a, b = (float(v) for v in lab_of(color))
        key = name.replace(" ", "-")
        use = Use.INK if name == "outline" else Use.PAINT
        made.append(ModelColor(key, name.title(), use, color, (low, a, b), 2.0, None, "figure"))
    return Palette(tuple(made), ("Figure",))


def _oval(middle: Points, wide: float, high: float) -> Points:
    angle = np.linspace(0, 2 * np.pi, 48, endpoint=False)
    return middle + np.stack([wide * np.cos(angle), high * np.sin(angle)], axis=1)


def _half(middle: Points, wide: float, high: float) -> Points:
    angle = np.linspace(np.pi, 2 * np.pi, 32)
    return middle + np.stack([wide * np.cos(angle), high * np.sin(angle)], axis=1)


def _capsule(one: Points, two: Points, radius: float) -> Points:
    along = np.arctan2(*(two - one)[::-1])
    caps = []
    for end, turn in ((two, -np.pi / 2), (one, np.pi / 2)):
        angle = along + turn + np.linspace(0, np.pi, 16)
        caps.append(end + radius * np.stack([np.cos(angle), np.sin(angle)], axis=1))
    return np.concatenate(caps)


def _rounded(corners: Points) -> Points:
    """Return a polygon with its corners cut, as cloth is."""
    beside = np.roll(corners, -1, axis=0)
    cut = [corners + share * (beside - corners) for share in (0.12, 0.5, 0.88)]
    return np.stack(cut, axis=1).reshape(-1, 2)
