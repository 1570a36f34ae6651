"""Judges each part's paint by what the level's other drawings say of it, and the model's reference cels.

A paint is wrong where most of the drawings that know the part have it in one other color. Where a level is
wrong throughout, its drawings agree, and only a reference cel says otherwise: then the part must be known on
the reference from most of the drawings that show it.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cel_check.scene.art import Art
from cel_check.scene.ballot import Ballot, Witness, polled
from cel_check.scene.votes import LEAST

ODD_ONE_OUT = 0.52
"""Share of the votes on a part that must be for one other color."""

ENOUGH = 1.3
"""Sum of the votes for another color from which a paint is wrong: more than one drawing must say so."""

SMALL = 300
"""Pixels of a part below which its shape says less of what it is."""

SURE_SMALL = 2.0
"""Sum of the votes from which such a part is surely wrong."""

SURE_SHARE = 0.58
"""Share of the votes from which a paint is surely wrong; near one half the others may be."""

SURE_HEARD = 0.5
"""Mean vote of the reference cel from which it is surely the level that is wrong."""

ONLY_ONE = 0.9
"""Strength of the vote of the only other drawing from which it is worth a question."""

BY_REFERENCE = 0.6
"""Mean vote of the reference cel against a part, over the drawings that show it."""

HEARD = 0.35
"""The same as a share of all drawings that show the part: some poses are too far from the reference's."""

PLAINLY = 0.85
"""Share of the reference cel's votes on a part, over the drawings that show it, that must be against."""

KNOWN = 0.3
"""Mean vote of the reference cel for the part's paint from which it does not contradict."""


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
        sure: whether that is enough to send the cel back.
    """

    art: int
    part: int
    color: int
    right: tuple[tuple[int, int], ...]
    wrong: tuple[int, ...]
    share: float
    weight: float
    asked: int
    reference: bool = False
    sure: bool = False


def judge(arts: Sequence[Art], references: Sequence[Art] = ()) -> tuple[Finding, ...]:
    """Return the parts of a level whose paint is wrong, in the order of the drawings.

    Args:
        arts: the level's drawings in number order.
        references: the reference cels of its models.
    """
    ballots, models = polled(arts, references)
    said = [_said(ballot) for ballot in models]
    found = []
    for number, (art, ballot) in enumerate(zip(arts, ballots, strict=True)):
        for part in range(len(art.color)):
            area = float(art.area[part])
            if area < LEAST or art.color[part] < -1:
                continue
            finding = _by_mates(number, part, ballot, said, area) or _by_reference(
                number, part, ballots, said, area
            )
            if finding is not None:
                found.append(finding)
    return tuple(sorted((*found, *_spread(found, arts, ballots, said)), key=lambda one: (one.art, one.part)))


@dataclass(frozen=True)
class _Said:
    """What the reference cels say of one drawing's parts: for, against, and the color that it should be."""

    agree: tuple[float, ...]
    against: tuple[float, ...]
    color: tuple[int, ...]


def _said(ballot: Ballot) -> _Said:
    """Read what the reference cels say; of several, those that know a part in its paint count first."""
    count = ballot.agree.shape[1]
    if not len(ballot.asked):
        return _Said((0.0,) * count, (0.0,) * count, (-1,) * count)
    agree, loudest = ballot.agree.max(axis=0), ballot.against.argmax(axis=0)
    columns = np.arange(count)
    against = ballot.against[loudest, columns]
    color = np.where(against > 0, ballot.color[loudest, columns], -1)
    return _Said(tuple(agree.tolist()), tuple((against * (1 - agree)).tolist()), tuple(color.tolist()))


def _by_mates(number: int, part: int, ballot: Ballot, said: Sequence[_Said], area: float) -> Finding | None:
    """Judge a part by the level's other drawings."""
    witnesses = ballot.witnesses(part)
    if not witnesses:
        return None
    weights: dict[int, float] = defaultdict(float)
    for witness in witnesses:
        weights[witness.color] += witness.strength
    color, weight = max(weights.items(), key=lambda one: (one[1], -one[0]))
    share = weight / (sum(weights.values()) + float(ballot.agree[:, part].sum()))
    least = ENOUGH if len(ballot.asked) > 1 else ONLY_ONE
    if weight < least or share < ODD_ONE_OUT:
        return None
    named = [one for one in witnesses if one.color == color and one.strength >= 0.5]
    if _reference_stands_by(number, part, named, said):
        return None
    right = tuple((one.art, one.place) for one in sorted(named, key=lambda one: abs(one.art - number)))
    wrong = tuple(sorted({art for art, _ in ballot.mates(part)}))
    sure = (
        len(ballot.asked) > 1 and share >= SURE_SHARE and weight >= (ENOUGH if area >= SMALL else SURE_SMALL)
    )
    return Finding(number, part, color, right, wrong, share, weight, len(ballot.asked), sure=sure)


def _reference_stands_by(number: int, part: int, named: Sequence[Witness], said: Sequence[_Said]) -> bool:
    """Return whether the reference cel has the part as it is, and not as most drawings have it."""
    if not named or said[number].agree[part] < 0.8:
        return False
    return float(np.mean([said[one.art].against[one.place] for one in named])) >= BY_REFERENCE


def _by_reference(
    number: int, part: int, ballots: Sequence[Ballot], said: Sequence[_Said], area: float
) -> Finding | None:
    """Judge a part that the drawings agree on by the reference cel."""
    own = said[number]
    if own.against[part] < BY_REFERENCE and own.agree[part] >= KNOWN:
        return None
    same = ballots[number].mates(part)
    if own.against[part] < BY_REFERENCE and not same:
        return None
    shown = [(number, part), *same]
    against: dict[int, float] = defaultdict(float)
    for art, place in shown:
        against[said[art].color[place]] += said[art].against[place]
    color, weight = max(against.items(), key=lambda one: (one[1], -one[0]))
    agree = sum(said[art].agree[place] for art, place in shown)
    if weight < max(BY_REFERENCE, HEARD * len(shown)) or weight < PLAINLY * (weight + agree) or color < 0:
        return None
    wrong = tuple(sorted({art for art, _ in same}))
    share = weight / (weight + agree)
    sure = len(shown) > 1 and weight >= SURE_HEARD * len(shown) and area >= SMALL
    return Finding(number, part, color, (), wrong, share, weight, len(shown), reference=True, sure=sure)


def _spread(
    found: Sequence[Finding], arts: Sequence[Art], ballots: Sequence[Ballot], said: Sequence[_Said]
) -> list[Finding]:
    """Return the same parts on those drawings whose pose is too far from the reference cel to tell by it."""
    known = {(one.art, one.part): one for one in found}
    by_reference = {key: one for key, one in known.items() if one.reference}
    more: list[Finding] = []
    while by_reference:
        reached: dict[tuple[int, int], list[Finding]] = defaultdict(list)
        for (art, part), finding in by_reference.items():
            for key in ballots[art].mates(part):
                reached[key].append(finding)
        by_reference = {}
        for (art, part), from_there in reached.items():
            same = ballots[art].mates(part)
            told = [known[key] for key in same if key in known and known[key].reference]
            if (art, part) in known or said[art].agree[part] >= KNOWN or arts[art].area[part] < LEAST:
                continue
            if len(told) >= min(2, len(same)) and len({one.color for one in told}) == 1:
                new = replace(
                    from_there[0], art=art, part=part, wrong=tuple(sorted({one for one, _ in same}))
                )
                by_reference[art, part] = known[art, part] = new
                more.append(new)
    return more
