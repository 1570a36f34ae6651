"""Counts what all drawings of a level say of each part's paint, and what a model's reference cel says."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cel_check.scene.art import Art, Floats, Ints
from cel_check.scene.exchanged import Exchanges, exchanges
from cel_check.scene.match_parts import likeness
from cel_check.scene.stack import Stack, stacked
from cel_check.scene.votes import Votes, found_own, votes

STEPS = (1, 2, 4, 8, 16)
"""How far apart in the level the drawings lie that are compared: a run of wrong ones has right ones near."""

FEW = 15
"""Drawings of a level up to which all are compared with all."""

AUDIBLE = 0.05
"""Strength from which a vote counts."""

AT_ONCE = 1 << 16
"""Pairs of places that are compared at a time: an array of them is 256 KiB, and some twenty are in use."""


@dataclass(frozen=True)
class Witness:
    """One drawing's vote against a part's paint: there the part (a place of its list) has that color."""

    art: int
    place: int
    color: int
    strength: float


@dataclass(frozen=True, eq=False)
class Ballot:
    """The votes of k drawings on the n parts of one drawing.

    Attributes:
        asked: `(k,)` the drawings, in the order asked.
        agree: `(k, n)` votes for its paint.
        against: `(k, n)` votes for another color.
        color: `(k, n)` that color.
        partner: `(k, n)` the part that has it.
        same: `(k, n)` which part is the same in the same paint; -1 where none is.
        exchanges: what each says of two parts' having each other's paint; reference cels are not asked that.
    """

    asked: Ints
    agree: Floats
    against: Floats
    color: Ints
    partner: Ints
    same: Ints
    exchanges: tuple[Exchanges, ...]

    def witnesses(self, part: int) -> list[Witness]:
        """Return the votes against a part's paint."""
        return [
            Witness(int(self.asked[row]), int(self.partner[row, part]), int(self.color[row, part]), strength)
            for row, strength in enumerate(self.against[:, part].tolist())
            if strength > AUDIBLE
        ]

    def mates(self, part: int) -> list[tuple[int, int]]:
        """Return `(drawing, part)` of a part in the same paint on the other drawings."""
        rows = np.flatnonzero(self.same[:, part] >= 0)
        return list(zip(self.asked[rows].tolist(), self.same[rows, part].tolist(), strict=True))


def polled(arts: Sequence[Art], references: Sequence[Art]) -> tuple[list[Ballot], list[Ballot]]:
    """Return the votes on every drawing's parts, by the level's other drawings and by the reference cels.

    Reference cels are numbered from 0 on in their ballots.
    """
    if not arts:
        return [], []
    stack, count = stacked((*arts, *references)), len(arts)
    mates: list[list[_Heard]] = [[] for _ in arts]
    for one, two, said, answer in _asked(stack, list(_mates(count))):
        mates[one].append(said)
        mates[two].append(answer)
    models: list[list[_Heard]] = [[] for _ in arts]
    by_model = [(one, count + two) for two in range(len(references)) for one in range(count)]
    for one, said in _told(stack, by_model):
        models[one].append(said)
    return (
        [_ballot(own, 0, art) for own, art in zip(mates, arts, strict=True)],
        [_ballot(own, count, art) for own, art in zip(models, arts, strict=True)],
    )


def _mates(count: int) -> Iterator[tuple[int, int]]:
    """Yield which drawings of a level are compared."""
    steps = range(1, count) if count <= FEW else STEPS
    for one in range(count):
        yield from ((one, one + step) for step in steps if one + step < count)


@dataclass(frozen=True, eq=False)
class _Heard:
    """What one drawing said, and its places' colors."""

    by: int
    said: Votes
    exchanges: Exchanges | None
    color: Ints


def _asked(stack: Stack, pairs: Sequence[tuple[int, int]]) -> Iterator[tuple[int, int, _Heard, _Heard]]:
    """Yield for each pair what the second says of the first, and the other way round."""
    for ones, twos in _chunks(stack, pairs):
        here, there = stack.pick(ones), stack.pick(twos)
        like = likeness(here, there)
        own, theirs = found_own(here, there, like)
        said = _heard(twos, stack, votes(here, there, like, own, theirs), exchanges(here, there, like, own))
        back = like.turned
        answers = _heard(
            ones, stack, votes(there, here, back, theirs, own), exchanges(there, here, back, theirs)
        )
        yield from zip(ones.tolist(), twos.tolist(), said, answers, strict=True)


def _told(stack: Stack, pairs: Sequence[tuple[int, int]]) -> Iterator[tuple[int, _Heard]]:
    """Yield for each pair what the second, a reference cel, says of the paints of the first."""
    for ones, twos in _chunks(stack, pairs):
        here, there = stack.pick(ones), stack.pick(twos)
        like = likeness(here, there)
        said = votes(here, there, like, *found_own(here, there, like))
        yield from zip(ones.tolist(), _heard(twos, stack, said, [None] * len(twos)), strict=True)


def _chunks(stack: Stack, pairs: Sequence[tuple[int, int]]) -> Iterator[tuple[Ints, Ints]]:
    """Yield pairs of drawings as two columns, as many as hold about `AT_ONCE` pairs of places."""
    step = max(1, AT_ONCE // stack.real.shape[1] ** 2)
    for at in range(0, len(pairs), step):
        ones, twos = np.array(pairs[at : at + step], np.int64).T
        yield ones, twos


def _heard(by: Ints, stack: Stack, said: Votes, swaps: Sequence[Exchanges | None]) -> Iterator[_Heard]:
    for row, (one, own) in enumerate(zip(by.tolist(), swaps, strict=True)):
        yield _Heard(one, said.row(row), own, stack.color[one])


def _ballot(heard: Sequence[_Heard], first: int, art: Art) -> Ballot:
    """Lay what was heard of one drawing's parts on one another."""
    some = slice(0, len(art.color))

    def column(of: Callable[[_Heard], NDArray[Any]], kind: type) -> NDArray[Any]:
        rows = [of(one)[some] for one in heard]
        return np.stack(rows) if rows else np.zeros((0, len(art.color)), kind)

    return Ballot(
        asked=np.array([one.by - first for one in heard], np.int64),
        agree=column(lambda one: one.said.agree, np.float64),
        against=column(lambda one: one.said.against, np.float64),
        color=column(lambda one: one.color[one.said.partner], np.int64),
        partner=column(lambda one: one.said.partner, np.int64),
        same=column(lambda one: one.said.same, np.int64),
        exchanges=tuple(one.exchanges for one in heard if one.exchanges is not None),
    )
