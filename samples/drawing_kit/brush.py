"""A brush line with varying width, as one filled outline: every segment a trapezoid, every bend a dot."""

from dataclasses import dataclass

import numpy as np

from drawing_kit.curves import Array

LIGHT = np.array([-0.55, -0.83])  # lines are thinner on the side that the light comes from
DOT = np.stack([np.cos(np.arange(14) * np.pi / 7), np.sin(np.arange(14) * np.pi / 7)], axis=1)


@dataclass(frozen=True)
class Pen:
    """How a line is drawn, in pixels.

    Attributes:
        width: the middle width.
        swell: the share by which it grows and shrinks with direction and along its way.
        least: a closed line is nowhere thinner.
        taper: length over which each open end runs out; 0 leaves the ends blunt.
        tip: width at a tapered end.
        phase: where the slow swelling along the line starts, in radians.
    """

    width: float = 5.0
    swell: float = 0.3
    least: float = 3.0
    taper: float = 26.0
    tip: float = 1.1
    phase: float = 0.0


def widths(points: Array, pen: Pen, closed: bool) -> Array:
    """The width at each point of a line."""
    steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
    way = np.concatenate([[0.0], np.cumsum(steps)])
    tangent = np.gradient(points, axis=0)
    tangent /= np.maximum(np.linalg.norm(tangent, axis=1, keepdims=True), 1e-9)
    facing = np.abs(tangent @ LIGHT)  # 1 where the line runs along the light
    rounds = max(1.0, np.round(way[-1] / 260.0))
    slow = np.sin(2 * np.pi * rounds * way / max(way[-1], 1e-9) + pen.phase)
    width = pen.width * (1 + pen.swell * (0.55 - 1.1 * facing * 0.6 + 0.45 * slow - 0.2))
    kernel = np.ones(5) / 5  # no sudden steps at corners
    wrap = "wrap" if closed else "edge"
    width = np.convolve(np.pad(width, 2, mode=wrap), kernel, mode="valid")
    width = np.maximum(width, min(pen.least, pen.width))
    if not closed and pen.taper > 0:
        run = min(pen.taper, 0.45 * way[-1])
        ends = np.minimum(way, way[-1] - way) / max(run, 1e-9)
        width = pen.tip + (width - pen.tip) * np.sin(np.clip(ends, 0, 1) * np.pi / 2) ** 0.8
    return width


def outline(points: Array, width: Array) -> str:
    """SVG path data (fill rule nonzero) of the line."""
    half = width / 2
    step = np.diff(points, axis=0)
    length = np.linalg.norm(step, axis=1)
    keep = length > 1e-6
    unit = step / np.maximum(length, 1e-9)[:, None]
    normal = np.stack([-unit[:, 1], unit[:, 0]], axis=1)
    shapes = [
        np.array([points[i] + normal[i] * half[i], points[i] - normal[i] * half[i],
                  points[i + 1] - normal[i] * half[i + 1], points[i + 1] + normal[i] * half[i + 1]])
        for i in np.flatnonzero(keep)
    ]  # fmt: skip
    shapes += [points[i] - DOT[::-1] * half[i] for i in _bends(unit)]
    return "".join("M" + "L".join(f"{x:.2f} {y:.2f}" for x, y in _same_turn(shape)) + "Z" for shape in shapes)


def _bends(unit: Array) -> list[int]:
    turn = np.abs(unit[1:, 0] * unit[:-1, 1] - unit[1:, 1] * unit[:-1, 0]) + (
        np.einsum("ij,ij->i", unit[1:], unit[:-1]) < 0
    )
    return [0, *(np.flatnonzero(turn > 0.03) + 1).tolist(), len(unit)]


def _same_turn(shape: Array) -> Array:
    x, y = shape[:, 0], shape[:, 1]
    area = np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))
    return shape if area > 0 else shape[::-1]
