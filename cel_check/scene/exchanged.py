"""Two parts that have each other's paint: a left boot and a right one, exchanged on a drawing.

Each finds its own paint on the other drawings, a step aside, so neither misses it. Only both together tell:
as they are painted, both must have gone to where the other was before and where it is after.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.scene.art import Ints
from cel_check.scene.match_parts import NEVER, Likeness
from cel_check.scene.stack import Stack
from cel_check.scene.votes import LEAST, Own

FAR = 18.0
"""Cost of both parts' being where the other is: more, and they are not there.

Exchanged ones cost up to 16 on the nearest drawings; a part painted wrong and any odd patch, 23 and more.
"""

UNLIKE = 2.0
"""Logarithm of the areas' ratio up to which two parts may be exchanged: of one, little may show."""

POSSIBLE = -1.5
"""Cost that an exchange may add on any of the nearest drawings."""

TOLD = -1.0
"""Mean cost that it saves over the nearest drawings, from which it is worth a question.

On the benchmark's figures that were tuned on, no two parts of 321 drawings painted right save more than -3.5,
and exchanged ones save 0.2 and more.
"""

TOLD_AT_END = 1.5
"""The same where the drawings lie on one side only: legs that pass each other look exchanged from there."""

NEAREST = 2
"""Drawings on either side that are asked; twice as many where there is one side only."""

Pair = tuple[int, int]


@dataclass(frozen=True, eq=False)
class Exchanges:
    """What one drawing says of the exchange of two parts of another.

    Attributes:
        known: `(n,)` whether a part's color is there at all.
        partner: `(n,)` the part of that color that is most like it.
        saved: by two parts of different paints, the cost that their exchange saves; where it is worth a look.
    """

    known: NDArray[np.bool_]
    partner: Ints
    saved: Mapping[Pair, float]


def exchanges(here: Stack, there: Stack, like: Likeness, own: Own) -> list[Exchanges]:
    """Return for p pairs of drawings what each of `there` says of the parts of its one of `here`.

    Args:
        here: the drawings whose parts are asked about, n parts.
        there: the others, m parts.
        like: how alike their parts are.
        own: where parts are found in their own color there.
    """
    partner, known = own.place, own.cost < NEVER
    known &= here.real & (here.area >= LEAST)
    crossed = np.take_along_axis(like.cost, partner[:, None], axis=2)
    kept = np.einsum("pii->pi", crossed)
    crossed = crossed + crossed.transpose(0, 2, 1)
    saved = kept[:, :, None] + kept[:, None] - crossed
    area = np.log(here.area)
    fit = known[:, :, None] & known[:, None] & (here.color[:, :, None] != here.color[:, None])
    fit &= (saved > POSSIBLE) & (crossed < FAR) & (np.abs(area[:, :, None] - area[:, None]) < UNLIKE)
    told: list[dict[Pair, float]] = [{} for _ in range(len(known))]
    for pair, one, two in zip(*(some.tolist() for some in np.nonzero(fit)), strict=True):
        if one < two:
            told[pair][one, two] = float(saved[pair, one, two])
    return [Exchanges(*row) for row in zip(known, partner, told, strict=True)]


@dataclass(frozen=True)
class Exchanged:
    """Two parts of a drawing that have each other's paint.

    Attributes:
        parts: both.
        seen: for each, where the other's color is on the nearest drawings: `(drawing, part)`.
        saved: mean cost that the exchange saves.
    """

    parts: Pair
    seen: tuple[tuple[Pair, ...], tuple[Pair, ...]]
    saved: float


def exchanged(number: int, asked: Ints, said: Sequence[Exchanges]) -> tuple[Exchanged, ...]:
    """Return which parts of a drawing are exchanged.

    Args:
        number: the drawing.
        asked: the level's other drawings that were asked.
        said: what each of them says.
    """
    by = dict(zip(asked.tolist(), said, strict=True))
    found = []
    for pair in sorted({pair for own in said for pair in own.saved}):
        one, two = pair
        near, least = _nearest(number, [k for k, own in by.items() if own.known[one] and own.known[two]])
        saved = [by[other].saved.get(pair, -np.inf) for other in near]
        if saved and float(np.mean(saved)) >= least:
            seen = tuple((other, int(by[other].partner[two])) for other in near)
            back = tuple((other, int(by[other].partner[one])) for other in near)
            found.append(Exchanged(pair, (seen, back), float(np.mean(saved))))
    return tuple(found)


def _nearest(number: int, others: Sequence[int]) -> tuple[list[int], float]:
    """Return the nearest drawings on both sides and what they must save; none where they are too few."""
    before = sorted((k for k in others if k < number), reverse=True)
    after = sorted(k for k in others if k > number)
    if before and after:
        return [*before[:NEAREST], *after[:NEAREST]], TOLD
    one_side = (before or after)[: 2 * NEAREST]
    return (one_side if len(one_side) == 2 * NEAREST else []), TOLD_AT_END
