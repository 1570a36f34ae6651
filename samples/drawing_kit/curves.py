"""Bezier curves through points, affine places, limbs with two bones; in the caller's units, y down."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Warp = Callable[[Array], Array]
HANDLE = 0.37  # of a segment's length; 0.39 would draw four points of a circle as a circle


@dataclass(frozen=True)
class Curve:
    """A chain of cubic Bezier pieces: `pieces` is (n, 4, 2)."""

    pieces: Array
    closed: bool

    def warped(self, warp: Warp) -> "Curve":
        shape = self.pieces.shape
        return Curve(warp(self.pieces.reshape(-1, 2)).reshape(shape), self.closed)

    def part(self, first: int, last: int) -> "Curve":
        """The open chain from point `first` to point `last` (counted on past the end of a closed curve)."""
        index = np.arange(first, last) % len(self.pieces)
        return Curve(self.pieces[index], closed=False)

    def samples(self, step: float = 4.0) -> Array:
        """Points some `step` apart, (n, 2); a closed curve's first point is repeated at the end."""
        rows = []
        for a, b, c, d in self.pieces:
            length = np.linalg.norm(b - a) + np.linalg.norm(c - b) + np.linalg.norm(d - c)
            t = np.linspace(0.0, 1.0, max(2, int(length / step)), endpoint=False)[:, None]
            rows.append((1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d)
        rows.append(self.pieces[-1, 3:4])
        return np.concatenate(rows)

    def path(self) -> str:
        """The curve as SVG path data."""
        start = self.pieces[0, 0]
        text = [f"M{start[0]:.2f} {start[1]:.2f}"]
        text += ["C" + " ".join(f"{v:.2f}" for v in piece[1:].ravel()) for piece in self.pieces]
        return "".join(text) + ("Z" if self.closed else "")


def curve(points: Sequence[Sequence[float]], corners: Sequence[int] = (), closed: bool = True) -> Curve:
    """A smooth curve through `points`, with a corner at the points numbered in `corners`."""
    knots = np.asarray(points, dtype=float)
    n = len(knots)
    before, after = np.roll(knots, 1, axis=0), np.roll(knots, -1, axis=0)
    if not closed:
        before[0], after[-1] = knots[0], knots[-1]
    along = after - before
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    sharp = set(corners) if closed else set(corners) | {0, n - 1}
    pieces = []
    for i in range(n if closed else n - 1):
        j = (i + 1) % n
        reach = np.linalg.norm(knots[j] - knots[i]) * HANDLE
        straight = (knots[j] - knots[i]) / 3
        leave = knots[i] + (straight if i in sharp else along[i] * reach)
        arrive = knots[j] - (straight if j in sharp else along[j] * reach)
        pieces.append((knots[i], leave, arrive, knots[j]))
    return Curve(np.array(pieces), closed)


def stroke(*points: Sequence[float]) -> Curve:
    """An open smooth curve through `points`."""
    return curve(points, closed=False)


def oval(center: Sequence[float], rx: float, ry: float, turn: float = 0.0) -> Curve:
    angles = np.arange(8) * np.pi / 4
    points = np.stack([rx * np.cos(angles), ry * np.sin(angles)], axis=1)
    return curve(rotate(turn)(points) + np.asarray(center))


def place(scale: float, at: Sequence[float], turn: float = 0.0, flip: bool = False) -> Warp:
    """Scales, mirrors, turns by `turn` degrees (clockwise on the screen), then moves the origin to `at`."""
    spin, origin = rotate(turn), np.asarray(at, dtype=float)
    size = np.array([-scale if flip else scale, scale])
    return lambda p: spin(np.asarray(p, dtype=float) * size) + origin


def rotate(degrees: float) -> Warp:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return lambda p: np.asarray(p, dtype=float) @ np.array([[c, s], [-s, c]])


def chain(*warps: Warp) -> Warp:
    """The warps one after the other, the first one first."""

    def run(points: Array) -> Array:
        for warp in warps:
            points = warp(points)
        return points

    return run


def elbow(start: Array, end: Array, upper: float, lower: float, side: float) -> tuple[Array, Array]:
    """The middle joint of a two-bone limb, and the end it can reach; `side` (+1, -1) is where it bends to."""
    reach = np.asarray(end, dtype=float) - start
    far = max(float(np.linalg.norm(reach)), 1e-6)
    near = float(np.clip(far, abs(upper - lower) + 1.0, upper + lower - 1.0))
    axis = reach / far
    along = (upper**2 - lower**2 + near**2) / (2 * near)
    out = np.sqrt(max(upper**2 - along**2, 0.0))
    normal = np.array([-axis[1], axis[0]]) * side
    return start + axis * along + normal * out, start + axis * near


def limb(joints: Sequence[Sequence[float]], radii: Sequence[float], round_end: bool = False) -> Curve:
    """A closed outline around a bent limb: start, middle joint, end; radii at start, joint and end.

    Points 0 to 6 run along the left side, then comes the end, 7 more run back, then comes the start's cap.
    """
    start, middle, end = (np.asarray(j, dtype=float) for j in joints)
    t = np.linspace(0.0, 1.0, 7)[:, None]
    bend = middle + (middle - (start + end) / 2) * 0.55
    spine = (1 - t) ** 2 * start + 2 * (1 - t) * t * bend + t**2 * end
    head = np.gradient(spine, axis=0)
    head /= np.linalg.norm(head, axis=1, keepdims=True)
    side = np.stack([head[:, 1], -head[:, 0]], axis=1)
    r = np.interp(t[:, 0], [0.0, 0.5, 1.0], radii)[:, None]
    left, right = spine + side * r, spine - side * r
    cap = start - head[0] * radii[0] * 0.9
    tip = [end + head[-1] * radii[2] * 0.9] if round_end else []
    corners = () if round_end else (6, 7)
    return curve([*left, *tip, *right[::-1], cap], corners)


def depth_inside(points: Array, outline: Array) -> Array:
    """How far each point lies inside a closed outline (negative outside)."""
    shape = outline.astype(np.float32).reshape(-1, 1, 2)
    return np.array([cv2.pointPolygonTest(shape, (float(x), float(y)), True) for x, y in points])
