"""Judges a part's paint by the level's other drawings: wrong where most that know it have it in one other.

A run of wrong drawings speaks for itself. So what is found on one of them is taken off the votes for the same
part in the same paint on the others, which then are judged again.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence

import numpy as np

from cel_check.scene.ballot import Witness
from cel_check.scene.exchanged import exchanged
from cel_check.scene.finding import SMALL, Finding, Part, Polled

ODD_ONE_OUT = 0.52
"""Share of the votes on a part that must be for one other color."""

ENOUGH = 1.3
"""Sum of the votes for another color from which a paint is wrong: more than one drawing must say so."""

IN_A_RUN = 0.5
"""The same for a part that is wrong on the drawings beside, by the votes of others."""

SURE_SMALL = 2.0
"""Sum of the votes from which a small part is surely wrong."""

SURE_SHARE = 0.58
"""Share of the votes from which a paint is surely wrong; near one half the others may be."""

ONLY_ONE = 0.9
"""Strength of the vote of the only other drawing from which it is worth a question."""

NAMED = 0.5
"""Strength from which a vote is named as evidence."""

STANDS_BY = 0.8
"""Vote of the reference cel for a part's paint from which the other drawings' parts are looked at."""

BY_REFERENCE = 0.6
"""Mean vote of the reference cel against them from which it is they that are wrong."""

SURELY_EXCHANGED = 0.0
"""Mean cost that an exchange saves (`exchanged.TOLD`) from which it is sure."""


def by_mates(level: Polled, parts: Collection[Part]) -> dict[Part, Finding]:
    """Return which parts the other drawings have in one other paint.

    Args:
        level: the drawings with what they said.
        parts: those whose paint is judged.
    """
    found: dict[Part, Finding] = {}
    while new := _more(level, parts, found):
        found.update(new)
    for number in range(len(level.arts)):
        found.update(_by_exchange(level, number, parts, found))
    return found


def _more(level: Polled, parts: Collection[Part], found: Mapping[Part, Finding]) -> dict[Part, Finding]:
    """Judge all parts that are not found yet."""
    new = {}
    for part in parts:
        if part not in found:
            finding = _odd_one_out(level, part, found)
            if finding is not None:
                new[part] = finding
    return new


def _odd_one_out(level: Polled, part: Part, found: Mapping[Part, Finding]) -> Finding | None:
    ballot, said = level.ballots[part[0]], level.said[part[0]]
    witnesses = ballot.witnesses(part[1])
    if not witnesses:
        return None
    weights: dict[int, float] = defaultdict(float)
    for witness in witnesses:
        weights[witness.color] += witness.strength
    # A reference cel is one drawing more, but none that can be shown beside the others.
    weights[said.color[part[1]]] += said.against[part[1]]
    color, weight = max(weights.items(), key=lambda one: (one[1], -one[0]))
    named = [one for one in witnesses if one.color == color and one.strength >= NAMED]
    if not named or _reference_stands_by(level, part, named):
        return None
    run = [mate for mate in level.mates(part) if mate in found and found[mate].color == color]
    agree = float(ballot.agree[:, part[1]].sum()) + said.agree[part[1]] - _votes_of(level, part, run)
    share = weight / (sum(weights.values()) + max(0.0, agree))
    alone = len(ballot.asked) == 1
    least = ONLY_ONE if alone else IN_A_RUN if run else ENOUGH
    if weight < least or share < ODD_ONE_OUT:
        return None
    enough = IN_A_RUN if run else ENOUGH if level.area(part) >= SMALL else SURE_SMALL
    sure = not alone and share >= SURE_SHARE and weight >= enough
    right = tuple((one.art, one.place) for one in sorted(named, key=lambda one: abs(one.art - part[0])))
    return Finding(*part, color, right, level.others(part), share, weight, len(ballot.asked), sure=sure)


def _votes_of(level: Polled, part: Part, run: Sequence[Part]) -> float:
    """Return the votes for a part's paint by drawings on which it is wrong as well."""
    ballot = level.ballots[part[0]]
    by = np.isin(ballot.asked, [art for art, _ in run])
    return float(ballot.agree[by, part[1]].sum())


def _reference_stands_by(level: Polled, part: Part, named: Sequence[Witness]) -> bool:
    """Return whether the reference cel has the part as it is, and not as most drawings have it."""
    if level.said[part[0]].agree[part[1]] < STANDS_BY:
        return False
    return float(np.mean([level.said[one.art].against[one.place] for one in named])) >= BY_REFERENCE


def _by_exchange(
    level: Polled, number: int, parts: Collection[Part], found: Mapping[Part, Finding]
) -> dict[Part, Finding]:
    """Return the parts of a drawing that have each other's paint."""
    ballot, color = level.ballots[number], level.arts[number].color
    new = {}
    for one in exchanged(number, ballot.asked, ballot.exchanges):
        sure = one.saved >= SURELY_EXCHANGED
        for own, other, seen in zip(one.parts, reversed(one.parts), one.seen, strict=True):
            part = (number, own)
            if part in parts and part not in found:
                asked = len(ballot.asked)
                new[part] = Finding(*part, int(color[other]), seen, (), 1.0, one.saved, asked, sure=sure)
    return new
