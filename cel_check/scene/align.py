"""Lays one drawing over another: the shift, turn and size change that most of their like places agree on.

Places of one color and of like size vote for a shift; those that agree are fitted by a similarity transform
(least squares, Umeyama 1991), a few times over, each time with the weight of how well they fit.
"""

from dataclasses import dataclass

import numpy as np

from cel_check.scene.art import Art, Floats, Ints

LARGEST = 32
"""Places of a drawing that vote, the largest."""

NEAR = 0.06
"""Shifts within which two votes agree, in diagonals of the art."""

ROUNDS = 3

MOTIONS = 2
"""Motions that are looked for: of the figure, and of what it holds or what passes it."""

HEARD = 0.05
"""Weight of a second motion, of that of the first."""

RESIZED = 0.3
"""Logarithm of the size from which it is tried whether one drawing is larger throughout."""

OTHER_PAINT = 0.3
"""Weight of a pair of one size and shape in two paints."""

TURN = 0.6
"""Radians of turn that the fit may find: more is a fit of noise."""


@dataclass(frozen=True, eq=False)
class Fit:
    """`x' = matrix x + shift`; the matrix turns and sizes."""

    matrix: Floats
    shift: Floats

    def points(self, points: Floats) -> Floats:
        """Return `(n, 2)` points as they lie in the other drawing."""
        return points @ self.matrix.T + self.shift

    @property
    def size(self) -> float:
        """How many times larger the other drawing is."""
        return float(np.sqrt(max(np.linalg.det(self.matrix), 1e-9)))

    def roots(self, root: Floats) -> Floats:
        """Return half extents (`Art.root`) as they lie in the other drawing."""
        turned: Floats = self.matrix @ root @ self.matrix.T / self.size
        return turned


def fits(here: Art, there: Art) -> tuple[Fit, ...]:
    """Return how `here` is laid over `there`: as most of it moves, then as what moves otherwise does.

    Where nothing of theirs is alike, their middles lie on each other.
    """
    size = _size(here, there)
    # Where parts are hidden or painted wrong, areas tell a false size: it must fit better than none.
    found, score = _fits(here, there, 1.0)
    if abs(np.log(size)) > RESIZED:
        other, more = _fits(here, there, size)
        found = other if more > 1.2 * score else found
    return found


def _fits(here: Art, there: Art, size: float) -> tuple[tuple[Fit, ...], float]:
    """Return the fits of drawings of which one is `size` times larger, and the weight behind the first."""
    one, two, kin = _pairs(here, there, size)
    if not len(one):
        middle = there.center.mean(axis=0) - size * here.center.mean(axis=0)
        return (Fit(np.eye(2) * size, middle),), 0.0
    start, end = here.center[one], there.center[two]
    # A place with many of its kind on the other drawing has one right partner among them.
    weight = kin * np.sqrt(np.minimum(here.area[one], there.area[two] / size**2))
    weight = weight / np.bincount(one, minlength=len(here.area))[one]
    reach = NEAR * there.diagonal
    votes = end - size * start
    x, y = votes.T / reach
    close = np.exp(-((x[:, None] - x[None]) ** 2) - (y[:, None] - y[None]) ** 2)
    found, score, left = [], 0.0, weight.copy()
    for _ in range(MOTIONS):
        heard = close @ left
        best = int(heard.argmax())
        if heard[best] < HEARD * score or heard[best] <= 0:
            break
        score = max(score, float(heard[best]))
        fit = _refined(start, end, left, Fit(np.eye(2) * size, votes[best]), reach)
        found.append(fit)
        left = left * (np.hypot(*(fit.points(start) - end).T) > reach)
    return tuple(found), score


def _refined(start: Floats, end: Floats, weight: Floats, found: Fit, reach: float) -> Fit:
    """Return the fit of the pairs that lie near it, a few times over."""
    size = found.size
    for _ in range(ROUNDS):
        off = np.hypot(*(found.points(start) - end).T)
        found = _similar(start, end, weight / (1 + (off / reach) ** 2) ** 2, size)
    return found


def _size(here: Art, there: Art) -> float:
    """Return how many times larger the other drawing is, by the areas of the colors on both."""
    ratios, weights = [], []
    for color in np.intersect1d(here.color[here.color >= 0], there.color[there.color >= 0]).tolist():
        one, two = here.area[here.color == color].sum(), there.area[there.color == color].sum()
        ratios.append(np.log(two / one) / 2)
        weights.append(np.sqrt(min(one, two)))
    if not ratios:
        return 1.0
    order = np.argsort(ratios)
    total = np.cumsum(np.array(weights)[order])
    middle = float(np.array(ratios)[order][int(np.searchsorted(total, total[-1] / 2))])
    return float(np.exp(np.clip(middle, -1.5, 1.5)))


def _pairs(here: Art, there: Art, size: float) -> tuple[Ints, Ints, Floats]:
    """Return the pairs of places of one color and like size, or of like size and shape, with their weight."""
    some = slice(0, LARGEST)
    same = here.color[some, None] == there.color[None, some]
    ratio = np.abs(np.log(there.area[None, some] / (here.area[some, None] * size**2)))
    kin = np.where(same, ratio < np.log(2.0), OTHER_PAINT * (ratio < 0.15))
    rows, columns = np.nonzero(kin)
    off = size * here.root[rows] - there.root[columns]
    bent = np.sqrt((off**2).sum(axis=(1, 2)) / np.linalg.det(there.root[columns]))
    keep = same[rows, columns] | (bent < 0.3)
    rows, columns = rows[keep], columns[keep]
    return rows, columns, kin[rows, columns].astype(np.float64)


def _similar(start: Floats, end: Floats, weight: Floats, size: float) -> Fit:
    """Return the weighted least-squares similarity transform, held near `size` and upright."""
    share = weight / weight.sum()
    mid_start, mid_end = share @ start, share @ end
    x, y = start - mid_start, end - mid_end
    spread = float(share @ (x**2).sum(axis=1))
    if spread < 1.0:
        return Fit(np.eye(2) * size, mid_end - size * mid_start)
    along = float(share @ (x * y).sum(axis=1)) / spread
    across = float(share @ (x[:, 0] * y[:, 1] - x[:, 1] * y[:, 0])) / spread
    # A fit of few places may collapse: those in doubt keep the size that the areas tell.
    scale = float(np.clip(np.hypot(along, across), 0.7 * size, 1.4 * size))
    turn = float(np.clip(np.arctan2(across, along), -TURN, TURN))
    matrix = scale * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return Fit(matrix, mid_end - matrix @ mid_start)
