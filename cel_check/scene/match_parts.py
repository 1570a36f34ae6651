"""How alike the places of two drawings are, whatever their own color: place, size, shape and surroundings.

The colors of all *other* places take part: they tell the surroundings, and how the drawing has moved around
a place (each place moves as its neighbors do). A few rounds of relaxation settle both: what matches well says
where its neighbors have gone, and neighbors that match speak for a match.
"""

from dataclasses import dataclass

import numpy as np

from cel_check.scene.align import fits
from cel_check.scene.art import Art, Floats

ROUNDS = 3

OTHER_COLOR = 1.2
"""Cost of another color while the drawings are laid over each other: most places are painted right."""

OTHERWISE = 0.7
"""Distance, in slacks, for which moving otherwise than the neighbors counts."""

NOTHING = 5.0
"""Cost at which a place has as good as no partner."""

FRAGMENT = 2.0
"""Cost of being a piece of a larger place, or the place of which one sees only a piece."""

FEW_ENOUGH = 200_000
"""Multiplications that are done on one core (OpenBLAS takes more than one from 262,144 on)."""


@dataclass(frozen=True, eq=False)
class Likeness:
    """Of the places of two drawings, n and m of them.

    Attributes:
        cost: `(n, m)` of being one part, its own color left out; about 1 for a part that moved a little.
        piece: `(n, m)` of being one part of which one of the drawings shows a piece only.
        match: `(n, m)` 0 to 1: settled matches, colors counted.
        larger: `(n, m)` how much larger the first drawing's place is, as a logarithm.
    """

    cost: Floats
    piece: Floats
    match: Floats
    larger: Floats

    @property
    def turned(self) -> "Likeness":
        """The same seen from the other drawing."""
        return Likeness(self.cost.T, self.piece.T, self.match.T, -self.larger.T)


def likeness(here: Art, there: Art) -> Likeness:
    """Return how alike the places of two drawings are."""
    laid, *others = fits(here, there)
    center, area = laid.points(here.center), here.area * laid.size**2
    looks, piece_looks = _looks(here, there, laid.roots(here.root), area)
    other = np.where(here.color[:, None] == there.color[None], 0.0, OTHER_COLOR)
    size = np.sqrt(np.minimum(area[:, None], there.area[None]))
    bound = _bound(here, center, there.diagonal)
    elsewhere = [_apart(motion.points(here.center), there.center) for motion in others]
    flow = np.zeros_like(center)
    support = np.zeros_like(looks)
    for turn in range(ROUNDS + 1):
        slack = (0.08, 0.04, 0.025, 0.02)[turn] * there.diagonal + 0.15 * size
        away = _apart(center + flow, there.center)
        for apart in elsewhere:
            away = np.minimum(away, apart + OTHERWISE * slack)
        cost = looks + np.log1p((away / slack) ** 2) + (1.0 - support if turn else 0.0)
        match = _settled(cost + other)
        flow = _flow(match, center, there.center, bound)
        support = _support(here.near, match, there.near)
    inside = (
        _inside(center + flow, there) + _inside(there.center, here, center + flow, laid.roots(here.root)).T
    )
    piece = FRAGMENT + piece_looks + np.minimum(inside, np.log1p((away / slack) ** 2))
    return Likeness(cost, piece, match, np.log(area[:, None] / there.area[None]))


def _looks(here: Art, there: Art, root: Floats, area: Floats) -> tuple[Floats, Floats]:
    """Return the cost of size, shape and surroundings for whole places, and of surroundings for pieces."""
    ratio = np.abs(np.log(area[:, None] / there.area[None]))
    # Squares of the distance between two half extents, and of the mean size that it is measured by.
    bent = sum(
        times * (root[:, None, row, column] - there.root[None, :, row, column]) ** 2
        for times, row, column in ((1.0, 0, 0), (2.0, 0, 1), (1.0, 1, 1))
    )
    scale = np.sqrt(_det(root)[:, None] * _det(there.root)[None])
    known = here.around.any(axis=0) | there.around.any(axis=0)
    around = _unlike(here.around[:, known], there.around[:, known])
    # log1p(a) + log1p(b) in one: logarithms are what costs here.
    shape = np.log((1 + (ratio / 0.3) ** 2) ** 1.2 * (1 + bent / (scale * 0.35**2)))
    return shape + 3.0 * around, 1.5 * around


def _unlike(here: Floats, there: Floats) -> Floats:
    """Return the `(n, m)` share (0 to 1) of their surroundings that two places do not have in common."""
    far = np.zeros((len(here), len(there)))
    for one, two in zip(here.T, there.T, strict=True):
        far += np.abs(one[:, None] - two[None])
    return far / 2


def _apart(here: Floats, there: Floats) -> Floats:
    """Return the `(n, m)` distances of points."""
    return np.sqrt((here[:, None, 0] - there[None, :, 0]) ** 2 + (here[:, None, 1] - there[None, :, 1]) ** 2)


def _det(root: Floats) -> Floats:
    """Return the determinants of `(n, 2, 2)` symmetric matrices."""
    return root[:, 0, 0] * root[:, 1, 1] - root[:, 0, 1] ** 2


def _bound(here: Art, center: Floats, diagonal: float) -> Floats:
    """Return how much each place moves with each other one: near ones and those it borders on."""
    apart = _apart(center, center)
    bound = np.exp(-((apart / (0.12 * diagonal)) ** 2)) + here.near + here.near.T
    np.fill_diagonal(bound, 0.0)
    return bound * np.sqrt(np.sqrt(here.area))[None]


def _settled(cost: Floats) -> Floats:
    """Return how sure each match is: the best for both, and better than nothing."""
    good = np.exp(-cost)
    nothing = np.exp(-NOTHING)
    rows = good / (good.sum(axis=1, keepdims=True) + nothing)
    columns = good / (good.sum(axis=0, keepdims=True) + nothing)
    settled: Floats = rows * columns
    return settled


def _flow(match: Floats, center: Floats, there: Floats, bound: Floats) -> Floats:
    """Return how each place moves by what its neighbors do, its own match left out."""
    sure = match.sum(axis=1)
    to = match @ there / np.maximum(sure, 1e-9)[:, None]
    moved = np.where(sure[:, None] > 1e-6, to - center, 0.0)
    pull = bound * (sure**2)[None]
    # A little weight on standing still keeps places without sure neighbors where the fit puts them.
    flow: Floats = (pull @ moved) / (pull.sum(axis=1, keepdims=True) + 0.3)
    return flow


def _support(near: Floats, match: Floats, there: Floats) -> Floats:
    """Return how well the neighbors of two places match (0 to 1); 0.5 where they have none."""
    carried = product(near, match)
    length = np.sqrt((near**2).sum(axis=1))[:, None] * np.sqrt((there**2).sum(axis=1))[None]
    alike = product(carried, there.T) / np.maximum(length, 1e-9)
    return np.where(length > 1e-6, np.minimum(alike, 1.0), 0.5)


def product(one: Floats, two: Floats) -> Floats:
    """Return a matrix product, a few rows at a time.

    OpenBLAS hands larger ones to all cores, and on a busy machine waits for them fifty times as long as the
    product takes (measured here: 5 ms against 0.1).
    """
    rows = max(1, FEW_ENOUGH // max(1, two.size))
    if len(one) <= rows:
        return one @ two
    return np.concatenate([one[at : at + rows] @ two for at in range(0, len(one), rows)])


def _inside(points: Floats, art: Art, center: Floats | None = None, root: Floats | None = None) -> Floats:
    """Return the `(n, m)` cost of a point's lying in a place: 0 inside its ellipse, then growing."""
    center = art.center if center is None else center
    root = art.root if root is None else root
    xx, xy, yy, det = root[:, 0, 0], root[:, 0, 1], root[:, 1, 1], _det(root)
    x, y = (points[:, None, axis] - center[None, :, axis] for axis in (0, 1))
    along, across = (yy * x - xy * y) / det, (xx * y - xy * x) / det
    return np.maximum(0.0, np.sqrt(along**2 + across**2) - 1.8)
