"""Lays drawings over others: the shift, turn and size change that most of their like places agree on.

Places of one color and of like size vote for a shift; those that agree are fitted by a similarity transform
(least squares, Umeyama 1991), a few times over, each time with the weight of how well they fit.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.scene.art import Ints
from cel_check.scene.stack import Floats, Stack

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

BETTER = 1.2
"""Times more weight that a size must find than none: where parts are hidden, areas tell a false one."""

OTHER_PAINT = 0.3
"""Weight of a pair of one size and shape in two paints."""

TURN = 0.6
"""Radians of turn that the fit may find: more is a fit of noise."""

AT_ONCE = 1 << 20
"""Pairs of votes that are held against each other at a time: 4 MiB."""


@dataclass(frozen=True, eq=False)
class Fit:
    """`x' = matrix x + shift`, for p pairs of drawings; the matrix turns and sizes.

    Attributes:
        matrix: `(p, 2, 2)`.
        shift: `(p, 2)`.
        sure: `(p,)` whether there is such a motion.
    """

    matrix: Floats
    shift: Floats
    sure: NDArray[np.bool_]

    def points(self, points: Floats) -> Floats:
        """Return `(p, n, 2)` points as they lie in the other drawing."""
        laid: Floats = points @ self.matrix.transpose(0, 2, 1) + self.shift[:, None]
        return laid

    @property
    def size(self) -> Floats:
        """`(p,)` how many times larger the other drawing is."""
        (one, two), (three, four) = self.matrix.transpose(1, 2, 0)
        size: Floats = np.sqrt(np.maximum(one * four - two * three, 1e-9))
        return size

    def roots(self, root: Floats) -> Floats:
        """Return `(p, n, 2, 2)` half extents (`Stack.root`) as they lie in the other drawing."""
        matrix = (self.matrix / np.sqrt(self.size)[:, None, None])[:, None]
        turned: Floats = matrix @ root @ matrix.transpose(0, 1, 3, 2)
        return turned


@dataclass(frozen=True, eq=False)
class _Votes:
    """Pairs of places that may be one, up to k of each pair of drawings, with their weight (0: no pair)."""

    start: Floats
    end: Floats
    weight: Floats


def fits(here: Stack, there: Stack) -> tuple[Fit, ...]:
    """Return how each of `here` is laid over its one of `there`.

    First as most of it moves, then as what moves otherwise does. Where nothing of theirs is alike, their
    middles lie on each other.
    """
    size = _size(here, there)
    found, score = _fits(here, there, np.ones_like(size))
    resized = np.flatnonzero(np.abs(np.log(size)) > RESIZED)
    if len(resized):
        other, more = _fits(here.pick(resized), there.pick(resized), size[resized])
        better = more > BETTER * score[resized]
        for one, two in zip(found, other, strict=True):
            one.matrix[resized[better]] = two.matrix[better]
            one.shift[resized[better]] = two.shift[better]
            one.sure[resized[better]] = two.sure[better]
    return found


def _fits(here: Stack, there: Stack, size: Floats) -> tuple[tuple[Fit, ...], Floats]:
    """Return the fits of drawings of which one is `size` times larger, and the weight behind the first."""
    votes = _votes(here, there, size)
    reach = NEAR * there.diagonal
    shifts = votes.end - size[:, None, None] * votes.start
    rows = np.arange(len(size))
    found, score, left = [], np.zeros_like(size), votes.weight
    for _ in range(MOTIONS):
        heard = _heard(shifts / reach[:, None, None], left)
        best = heard.argmax(axis=1)
        most = heard[rows, best]
        sure = (most > 0) & (most >= HEARD * score)
        score = np.maximum(score, most)
        at = Fit(size[:, None, None] * np.eye(2, dtype=np.float32), shifts[rows, best], sure)
        fit = _refined(_Votes(votes.start, votes.end, left), at, reach)
        found.append(fit)
        left = left * (_off(fit, votes) > reach[:, None])
    alone = ~found[0].sure
    middles = _middle(there) - size[:, None] * _middle(here)
    found[0].shift[alone] = middles[alone]
    found[0].sure[alone] = True
    return tuple(found), score


def _middle(stack: Stack) -> Floats:
    middle: Floats = stack.center.sum(axis=1) / stack.real.sum(axis=1)[:, None]
    return middle


def _heard(votes: Floats, weight: Floats) -> Floats:
    """Return `(p, k)` the weight of the votes that agree with each vote, itself counted."""
    heard = np.zeros_like(weight)
    step = max(1, AT_ONCE // max(1, weight.shape[1] ** 2))
    x, y = votes.transpose(2, 0, 1)
    for at in range(0, len(weight), step):
        some = slice(at, at + step)
        apart = (x[some, :, None] - x[some, None]) ** 2 + (y[some, :, None] - y[some, None]) ** 2
        heard[some] = (np.exp(-apart) @ weight[some, :, None])[..., 0]
    return heard


def _refined(votes: _Votes, found: Fit, reach: Floats) -> Fit:
    """Return the fit of the pairs that lie near it, a few times over."""
    size = found.size
    for _ in range(ROUNDS):
        off = _off(found, votes) / reach[:, None]
        found = _similar(_Votes(votes.start, votes.end, votes.weight / (1 + off**2) ** 2), size, found.sure)
    return found


def _off(fit: Fit, votes: _Votes) -> Floats:
    """Return `(p, k)` how far from their ends the starts are laid, px."""
    x, y = (fit.points(votes.start) - votes.end).transpose(2, 0, 1)
    off: Floats = np.sqrt(x**2 + y**2)
    return off


def _size(here: Stack, there: Stack) -> Floats:
    """Return `(p,)` how many times larger the other drawing is, by the areas of the colors on both."""
    both = (here.paint > 0) & (there.paint > 0)
    ratio = np.log(np.where(both, there.paint, 1.0) / np.where(both, here.paint, 1.0)) / 2
    weight = np.where(both, np.sqrt(np.minimum(here.paint, there.paint)), 0.0)
    order = np.argsort(np.where(both, ratio, np.inf), axis=1, kind="stable")
    total = np.cumsum(np.take_along_axis(weight, order, axis=1), axis=1)
    middle = (total >= total[:, -1:] / 2).argmax(axis=1)
    rows = np.arange(len(ratio))
    size: Floats = np.exp(np.clip(ratio[rows, order[rows, middle]], -1.5, 1.5))
    return size


def _votes(here: Stack, there: Stack, size: Floats) -> _Votes:
    """Return the pairs of places of one color and like size, or of like size and shape."""
    pair, one, two, kin = _pairs(here, there, size)
    areas = np.minimum(here.area[pair, one], there.area[pair, two] / size[pair] ** 2)
    # A place with many of its kind on the other drawing has one right partner among them.
    own = pair * here.color.shape[1] + one
    weight = kin * np.sqrt(areas) / np.bincount(own)[own].astype(np.float32)
    count = np.bincount(pair, minlength=len(size))
    slot = np.arange(len(pair)) - (np.cumsum(count) - count)[pair]
    longest = max(1, int(count.max()))
    weights = np.zeros((len(size), longest), np.float32)
    start = np.zeros((len(size), longest, 2), np.float32)
    end = np.zeros_like(start)
    weights[pair, slot] = weight
    start[pair, slot], end[pair, slot] = here.center[pair, one], there.center[pair, two]
    return _Votes(start, end, weights)


def _pairs(here: Stack, there: Stack, size: Floats) -> tuple[Ints, Ints, Ints, Floats]:
    """Return the pair of drawings, the place of each and the weight of places that may be one."""
    one, two = here.color[:, :LARGEST, None], there.color[:, None, :LARGEST]
    real = here.real[:, :LARGEST, None] & there.real[:, None, :LARGEST]
    area = here.area[:, :LARGEST, None] * size[:, None, None] ** 2
    ratio = np.abs(np.log(there.area[:, None, :LARGEST] / area))
    same = one == two
    kin = np.where(same, ratio < np.log(2.0), (ratio < 0.15) * np.float32(OTHER_PAINT)) * real
    pair, rows, columns = np.nonzero(kin)
    root = there.root[pair, columns]
    off = size[pair, None, None] * here.root[pair, rows] - root
    extent = root[:, 0, 0] * root[:, 1, 1] - root[:, 0, 1] ** 2
    bent = np.sqrt((off**2).sum(axis=(1, 2)) / extent)
    keep = same[pair, rows, columns] | (bent < 0.3)
    pair, rows, columns = pair[keep], rows[keep], columns[keep]
    return pair, rows, columns, kin[pair, rows, columns]


def _similar(votes: _Votes, size: Floats, sure: NDArray[np.bool_]) -> Fit:
    """Return the weighted least-squares similarity transforms, held near `size` and upright."""
    total = votes.weight.sum(axis=1, keepdims=True)
    share = (votes.weight / np.where(total > 0, total, 1.0))[:, None]
    mid_start, mid_end = share @ votes.start, share @ votes.end
    x, y = votes.start - mid_start, votes.end - mid_end
    spread, along, across = (
        (share @ term[..., None])[:, 0, 0]
        for term in (
            (x**2).sum(axis=2),
            (x * y).sum(axis=2),
            x[..., 0] * y[..., 1] - x[..., 1] * y[..., 0],
        )
    )
    # A fit of few places may collapse: those in doubt keep the size that the areas tell.
    wide = spread >= 1.0
    along, across = (np.where(wide, term / np.where(wide, spread, 1.0), 0.0) for term in (along, across))
    scale = np.where(wide, np.clip(np.hypot(along, across), 0.7 * size, 1.4 * size), size)
    turn = np.clip(np.arctan2(across, along), -TURN, TURN)
    cos, sin = scale * np.cos(turn), scale * np.sin(turn)
    matrix = np.stack([np.stack([cos, -sin], axis=-1), np.stack([sin, cos], axis=-1)], axis=-2)
    return Fit(matrix, mid_end[:, 0] - (matrix @ mid_start.transpose(0, 2, 1))[..., 0], sure)
