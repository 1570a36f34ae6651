"""A part whose paint is wrong, and what all drawings of its level and the reference cels have said."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from cel_check.scene.art import Art
from cel_check.scene.ballot import Ballot, polled

Part = tuple[int, int]
"""A drawing of the level, and one of its places (row of its columns)."""

SMALL = 300
"""Pixels of a part below which its shape says less of what it is."""


@dataclass(frozen=True)
class Finding:
    """A part whose paint is wrong.

    Attributes:
        art: which drawing of the level.
        part: which of its places (row of its columns).
        color: the palette color it should have.
        right: `(drawing, place)` where it has that color, the nearest drawings first; none by reference.
        wrong: other drawings on which it is painted as here.
        share: of the votes on it, those for the other color.
        weight: sum of those votes.
        asked: drawings that were asked.
        reference: whether the reference cel says so.
        cel: `(reference cel, its place)` where it has that color; None where the drawings say so.
        sure: whether that is enough to send the cel back.
    """

    art: int
    part: int
    color: int
    right: tuple[Part, ...]
    wrong: tuple[int, ...]
    share: float
    weight: float
    asked: int
    reference: bool = False
    cel: Part | None = None
    sure: bool = False


@dataclass(frozen=True)
class Said:
    """What the reference cels say of one drawing's parts: for, against, the color it should be, and where."""

    agree: tuple[float, ...]
    against: tuple[float, ...]
    color: tuple[int, ...]
    cel: tuple[Part, ...]


@dataclass(frozen=True)
class Polled:
    """A level with all that was said, by drawing."""

    arts: tuple[Art, ...]
    ballots: tuple[Ballot, ...]
    said: tuple[Said, ...]

    def area(self, part: Part) -> float:
        """Return a part's size, px."""
        return float(self.arts[part[0]].area[part[1]])

    def mates(self, part: Part) -> list[Part]:
        """Return a part in the same paint on the other drawings."""
        return self.ballots[part[0]].mates(part[1])

    def others(self, part: Part) -> tuple[int, ...]:
        """Return the other drawings that have a part in the same paint, in number order."""
        return tuple(sorted({art for art, _ in self.mates(part)}))


def poll(arts: Sequence[Art], references: Sequence[Art]) -> Polled:
    """Ask a level's drawings and its models' reference cels about one another."""
    ballots, models = polled(arts, references)
    return Polled(tuple(arts), tuple(ballots), tuple(_said(ballot) for ballot in models))


def _said(ballot: Ballot) -> Said:
    """Read what the reference cels say; of several, those that know a part in its paint count first."""
    count = ballot.agree.shape[1]
    if not len(ballot.asked):
        return Said((0.0,) * count, (0.0,) * count, (-1,) * count, ((0, -1),) * count)
    agree, loudest = ballot.agree.max(axis=0), ballot.against.argmax(axis=0)
    columns = np.arange(count)
    against = ballot.against[loudest, columns]
    color = np.where(against > 0, ballot.color[loudest, columns], -1)
    cel = zip(ballot.asked[loudest].tolist(), ballot.partner[loudest, columns].tolist(), strict=True)
    return Said(
        tuple(agree.tolist()), tuple((against * (1 - agree)).tolist()), tuple(color.tolist()), tuple(cel)
    )
