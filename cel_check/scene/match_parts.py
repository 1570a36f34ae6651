"""How alike the places of two drawings are, whatever their own color: place, size, shape and surroundings.

The colors of all *other* places take part: they tell the surroundings, and how the drawing has moved around
a place (each place moves as its neighbors do). A few rounds of relaxation settle both: what matches well says
where its neighbors have gone, and neighbors that match speak for a match. All is done for many pairs of
drawings at once (p of them, n and m places).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cel_check.scene.align import fits
from cel_check.scene.stack import Floats, Stack

ROUNDS = 3

OTHER_COLOR = np.float32(1.2)
"""Cost of another color while the drawings are laid over each other: most places are painted right."""

OTHERWISE = 0.7
"""Distance, in slacks, for which moving otherwise than the neighbors counts."""

NOTHING = 5.0
"""Cost at which a place has as good as no partner."""

FRAGMENT = 2.0
"""Cost of being a piece of a larger place, or the place of which one sees only a piece."""

NEVER = np.float32(1e4)
"""Cost of what cannot be; a number, so that differences stay numbers."""

FEW_ENOUGH = 200_000
"""Multiplications that are done on one core (OpenBLAS takes more than one from 262,144 on)."""


@dataclass(frozen=True, eq=False)
class Likeness:
    """Of the places of p pairs of drawings, n and m of them; what only fills a column is like nothing.

    Attributes:
        cost: `(p, n, m)` of being one part, its own color left out; about 1 for a part that moved a little.
        piece: `(p, n, m)` of being one part of which one of the drawings shows a piece only.
        match: `(p, n, m)` 0 to 1: settled matches, colors counted.
        larger: `(p, n, m)` how much larger the first drawing's place is, as a logarithm.
    """

    cost: Floats
    piece: Floats
    match: Floats
    larger: Floats

    @property
    def turned(self) -> "Likeness":
        """The same seen from the other drawings."""
        cost, piece, match, larger = (
            one.transpose(0, 2, 1) for one in (self.cost, self.piece, self.match, self.larger)
        )
        return Likeness(cost, piece, match, -larger)


def likeness(here: Stack, there: Stack) -> Likeness:
    """Return how alike the places of each of `here` and its one of `there` are."""
    laid, *others = fits(here, there)
    center, area = laid.points(here.center), here.area * laid.size[:, None] ** 2
    root = laid.roots(here.root)
    larger = np.log(area[:, :, None] / there.area[:, None])
    looks, piece_looks = _looks(here, there, root, larger)
    other = np.where(here.color[:, :, None] == there.color[:, None], np.float32(0), OTHER_COLOR)
    size = np.sqrt(np.minimum(area[:, :, None], there.area[:, None]))
    bound = _bound(here, center, there.diagonal)
    elsewhere = [
        _apart(motion.points(here.center), there.center)
        + np.where(motion.sure, np.float32(0), np.float32(np.inf))[:, None, None]
        for motion in others
    ]
    length = _length(here.near, there.near)
    flow, match = np.zeros_like(center), np.zeros_like(looks)
    for turn in range(ROUNDS + 1):
        slack = ((0.08, 0.04, 0.025, 0.02)[turn] * there.diagonal)[:, None, None] + 0.15 * size
        moved = _moved(_apart(center + flow, there.center), elsewhere, slack)
        cost = looks + moved
        if turn:  # what the neighbors match is known
            cost += 1.0 - _support(here.near, match, there.near, length)
        match = _settled(cost + other)
        flow = _flow(match, center, there.center, bound)
    inside = _inside(center + flow, there.center, there.root)
    inside += _inside(there.center, center + flow, root).transpose(0, 2, 1)
    piece = FRAGMENT + piece_looks + np.minimum(inside, moved)
    return Likeness(cost, piece, match, larger)


def _looks(here: Stack, there: Stack, root: Floats, larger: Floats) -> tuple[Floats, Floats]:
    """Return the cost of size, shape and surroundings for whole places, and of surroundings for pieces."""
    # Squares of the distance between two half extents, and of the mean size that it is measured by.
    bent = sum(
        times * (root[:, :, None, row, column] - there.root[:, None, :, row, column]) ** 2
        for times, row, column in ((1.0, 0, 0), (2.0, 0, 1), (1.0, 1, 1))
    )
    scale = np.sqrt(_det(root))[:, :, None] * np.sqrt(_det(there.root))[:, None]
    around = _unlike(here.around, there.around)
    # log1p(a) + log1p(b) in one: logarithms are what costs here.
    shape = np.log((1 + (larger / 0.3) ** 2) ** 1.2 * (1 + bent / (scale * 0.35**2)))
    absent = np.where(here.real[:, :, None] & there.real[:, None], np.float32(0), NEVER)
    return shape + 3.0 * around + absent, 1.5 * around + absent


def _moved(away: Floats, elsewhere: Sequence[Floats], slack: Floats) -> Floats:
    """Return the cost of lying so far away, in slacks; `away` is worked in."""
    for apart in elsewhere:
        otherwise = OTHERWISE * slack
        np.minimum(away, np.add(apart, otherwise, out=otherwise), out=away)
    away /= slack
    away *= away
    return np.asarray(np.log1p(away, out=away))


def _unlike(here: Floats, there: Floats) -> Floats:
    """Return the `(p, n, m)` share (0 to 1) of their surroundings that two places do not have in common."""
    far = np.zeros((*here.shape[:2], there.shape[1]), np.float32)
    one = np.empty_like(far)
    beside = np.ascontiguousarray(there.transpose(2, 0, 1))  # a row of places a color: numpy is slow at steps
    for color in np.flatnonzero(here.any(axis=(0, 1)) | there.any(axis=(0, 1))).tolist():
        np.subtract(here[:, :, None, color], beside[color, :, None], out=one)
        far += np.abs(one, out=one)
    far /= 2
    return far


def _apart(here: Floats, there: Floats) -> Floats:
    """Return the `(p, n, m)` distances of points."""
    x, y = _off(here, there)
    x *= x
    y *= y
    x += y
    return np.asarray(np.sqrt(x, out=x))


def _off(here: Floats, there: Floats) -> tuple[Floats, Floats]:
    """Return how far points lie to the right of others and below them, `(p, n, m)` each."""
    x, y = np.ascontiguousarray(there.transpose(2, 0, 1))
    return here[:, :, None, 0] - x[:, None], here[:, :, None, 1] - y[:, None]


def _det(root: Floats) -> Floats:
    """Return the determinants of `(..., 2, 2)` symmetric matrices."""
    det: Floats = root[..., 0, 0] * root[..., 1, 1] - root[..., 0, 1] ** 2
    return det


def _bound(here: Stack, center: Floats, diagonal: Floats) -> Floats:
    """Return how much each place moves with each other one: near ones and those it borders on."""
    apart = _apart(center, center) / (0.12 * diagonal)[:, None, None]
    bound: Floats = np.exp(-(apart**2)) + here.near + here.near.transpose(0, 2, 1)
    bound *= (np.sqrt(np.sqrt(here.area)) * here.real)[:, None]
    rows = np.arange(bound.shape[1])
    bound[:, rows, rows] = 0.0
    return bound


def _settled(cost: Floats) -> Floats:
    """Return how sure each match is: the best for both, and better than nothing."""
    good = np.negative(cost)
    np.exp(good, out=good)
    nothing = math.exp(-NOTHING)
    rows = 1.0 / (good.sum(axis=2, keepdims=True) + nothing)
    columns = 1.0 / (good.sum(axis=1, keepdims=True) + nothing)
    good *= good
    good *= rows
    good *= columns
    return np.asarray(good)


def _flow(match: Floats, center: Floats, there: Floats, bound: Floats) -> Floats:
    """Return how each place moves by what its neighbors do, its own match left out."""
    sure = match.sum(axis=2)
    to = match @ there / np.maximum(sure, 1e-9)[..., None]
    moved = np.where(sure[..., None] > 1e-6, to - center, 0.0)
    pull = bound * (sure**2)[:, None]
    # A little weight on standing still keeps places without sure neighbors where the fit puts them.
    flow: Floats = (pull @ moved) / (pull.sum(axis=2, keepdims=True) + 0.3)
    return flow


def _length(near: Floats, there: Floats) -> Floats:
    """Return `(p, n, m)` the lengths of two places' borders on others, multiplied; infinite where it is 0."""
    one, two = (np.sqrt(np.einsum("pij,pij->pi", own, own)) for own in (near, there))
    length = one[:, :, None] * two[:, None]
    length[length <= 1e-6] = np.inf
    return np.asarray(length)


def _support(near: Floats, match: Floats, there: Floats, length: Floats) -> Floats:
    """Return how well the neighbors of two places match (0 to 1); 0.5 where they have none."""
    alike = product(product(near, match), there.transpose(0, 2, 1))
    alike /= length
    np.minimum(alike, 1.0, out=alike)
    alike[np.isinf(length)] = 0.5
    return alike


def product(one: Floats, two: Floats) -> Floats:
    """Return `(p, n, m)` matrix products, a few rows at a time.

    OpenBLAS hands larger ones to all cores, and on a busy machine waits for them fifty times as long as the
    product takes (measured here: 5 ms against 0.1).
    """
    rows = max(1, FEW_ENOUGH // max(1, two.shape[1] * two.shape[2]))
    if one.shape[1] <= rows:
        return one @ two
    return np.concatenate([one[:, at : at + rows] @ two for at in range(0, one.shape[1], rows)], axis=1)


def _inside(points: Floats, center: Floats, root: Floats) -> Floats:
    """Return the `(p, n, m)` cost of a point's lying in a place: 0 inside its ellipse, then growing."""
    det = _det(root)
    xx, xy, yy = (root[..., row, column] / det for row, column in ((0, 0), (0, 1), (1, 1)))
    x, y = _off(points, center)
    xx, xy, yy = xx[:, None], xy[:, None], yy[:, None]
    across, down = yy * x - xy * y, xx * y - xy * x
    across *= across
    down *= down
    across += down
    np.sqrt(across, out=across)
    across -= 1.8
    return np.asarray(np.maximum(0.0, across, out=across))
