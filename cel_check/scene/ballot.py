"""Counts what all drawings of a level say of each part's paint, and what a model's reference cel says."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from cel_check.scene.art import Art, Floats
from cel_check.scene.match_parts import likeness
from cel_check.scene.votes import Votes, votes

STEPS = (1, 2, 4, 8, 16)
"""How far apart in the level the drawings lie that are compared: a run of wrong ones has right ones near."""

FEW = 15
"""Drawings of a level up to which all are compared with all."""

SURE = 0.5
"""Strength from which a vote is named as evidence."""


@dataclass(frozen=True)
class Witness:
    """One drawing's vote against a part's paint: there the part (a place of its list) has that color."""

    art: int
    place: int
    color: int
    strength: float


@dataclass(eq=False)
class Ballot:
    """The votes on the n parts of one drawing.

    Attributes:
        agree: `(n,)` sum of the votes for its paint.
        against: by part, the votes against.
        same: by part, `(drawing, part)` of itself in the same paint.
        asked: drawings that were asked.
    """

    agree: Floats
    against: dict[int, list[Witness]] = field(default_factory=lambda: defaultdict(list))
    same: dict[int, list[tuple[int, int]]] = field(default_factory=lambda: defaultdict(list))
    asked: int = 0

    def add(self, other: int, art: Art, said: Votes) -> None:
        """Count one drawing's votes."""
        self.agree += said.agree
        self.asked += 1
        for part in np.flatnonzero(said.against > 0.05).tolist():
            partner = int(said.partner[part])
            self.against[part].append(
                Witness(other, partner, int(art.color[partner]), float(said.against[part]))
            )
        for part in np.flatnonzero(said.same >= 0).tolist():
            self.same[part].append((other, int(said.same[part])))


def count(arts: Sequence[Art]) -> list[Ballot]:
    """Return the votes on every drawing's parts by the level's other drawings, in number order."""
    ballots = [Ballot(np.zeros(len(art.color))) for art in arts]
    steps = range(1, len(arts)) if len(arts) <= FEW else STEPS
    for one in range(len(arts)):
        for two in (one + step for step in steps if one + step < len(arts)):
            like = likeness(arts[one], arts[two])
            ballots[one].add(two, arts[two], votes(arts[one], arts[two], like))
            ballots[two].add(one, arts[one], votes(arts[two], arts[one], like.turned))
    return ballots
