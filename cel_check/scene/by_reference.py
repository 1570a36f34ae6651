"""Judges a part's paint by the model's reference cel, where the level's drawings agree among themselves.

The part must be known on the reference from most of the drawings that show it; what it says of those holds
for the same part on drawings whose pose is too far from the cel's.
"""

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import replace

from cel_check.scene.by_mates import BY_REFERENCE
from cel_check.scene.finding import SMALL, Finding, Part, Polled
from cel_check.scene.votes import LEAST

SURE_HEARD = 0.5
"""Mean vote of the reference cel from which it is surely the level that is wrong."""

HEARD = 0.35
"""Share of all drawings that show the part on which the reference cel must speak: some poses are too far."""

PLAINLY = 0.85
"""Share of the reference cel's votes on a part, over the drawings that show it, that must be against."""

KNOWN = 0.3
"""Mean vote of the reference cel for the part's paint from which it does not contradict."""


def by_reference(
    level: Polled, parts: Collection[Part], known: Mapping[Part, Finding]
) -> dict[Part, Finding]:
    """Return which parts the reference cels have in another paint; those known already are left out."""
    found: dict[Part, Finding] = {}
    # A part is heard on each drawing once: where no drawing's loudest votes add up, no part's do.
    if sum(max(said.against, default=0.0) for said in level.said) < BY_REFERENCE:
        return found
    for part in parts:
        finding = None if part in known else _by_reference(level, part)
        if finding is not None:
            found[part] = finding
    return found | _spread(level, found, known)


def _by_reference(level: Polled, part: Part) -> Finding | None:
    """Judge a part that the drawings agree on by the reference cel."""
    own, place = level.said[part[0]], part[1]
    if own.against[place] < BY_REFERENCE and own.agree[place] >= KNOWN:
        return None
    same = level.mates(part)
    if own.against[place] < BY_REFERENCE and not same:
        return None
    shown = [part, *same]
    against: dict[int, float] = defaultdict(float)
    for art, where in shown:
        against[level.said[art].color[where]] += level.said[art].against[where]
    color, weight = max(against.items(), key=lambda one: (one[1], -one[0]))
    agree = sum(level.said[art].agree[where] for art, where in shown)
    if weight < max(BY_REFERENCE, HEARD * len(shown)) or weight < PLAINLY * (weight + agree) or color < 0:
        return None
    wrong = level.others(part)
    share = weight / (weight + agree)
    sure = len(shown) > 1 and weight >= SURE_HEARD * len(shown) and level.area(part) >= SMALL
    art, where = max(shown, key=lambda one: level.said[one[0]].against[one[1]])
    cel = level.said[art].cel[where]
    return Finding(*part, color, (), wrong, share, weight, len(shown), reference=True, cel=cel, sure=sure)


def _spread(
    level: Polled, found: Mapping[Part, Finding], known: Mapping[Part, Finding]
) -> dict[Part, Finding]:
    """Return the same parts on those drawings whose pose is too far from the reference cel to tell by it."""
    more: dict[Part, Finding] = {}
    reached: Mapping[Part, Finding] = found
    while reached:
        told: dict[Part, list[Finding]] = defaultdict(list)
        for part, finding in reached.items():
            for mate in level.mates(part):
                told[mate].append(finding)
        every = {**found, **more}
        reached = {
            part: replace(from_there[0], art=part[0], part=part[1], wrong=level.others(part))
            for part, from_there in told.items()
            if part not in every
            and part not in known
            and _unknown(level, part)
            and _agreed(level, part, every)
        }
        more.update(reached)
    return more


def _unknown(level: Polled, part: Part) -> bool:
    """Return whether the reference cel does not know a part in its paint, so that others may tell."""
    return level.said[part[0]].agree[part[1]] < KNOWN and level.area(part) >= LEAST


def _agreed(level: Polled, part: Part, found: Mapping[Part, Finding]) -> bool:
    """Return whether enough of the same parts are wrong, all for one color."""
    same = level.mates(part)
    told = [found[mate] for mate in same if mate in found]
    return len(told) >= min(2, len(same)) and len({one.color for one in told}) == 1
