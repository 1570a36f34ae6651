"""Judges each part's paint by what the level's other drawings say of it, and the model's reference cels."""

from collections.abc import Sequence

from cel_check.scene.art import Art
from cel_check.scene.by_mates import by_mates
from cel_check.scene.by_reference import by_reference
from cel_check.scene.finding import Finding, Part, poll
from cel_check.scene.votes import LEAST


def judge(arts: Sequence[Art], references: Sequence[Art] = ()) -> tuple[Finding, ...]:
    """Return the parts of a level whose paint is wrong, in the order of the drawings.

    Args:
        arts: the level's drawings in number order.
        references: the reference cels of its models.
    """
    level = poll(arts, references)
    parts = dict.fromkeys(_parts(arts))
    mates = by_mates(level, parts.keys())
    found = mates | by_reference(level, parts.keys(), mates)
    return tuple(found[part] for part in sorted(found))


def _parts(arts: Sequence[Art]) -> list[Part]:
    """Return the parts whose paint is judged: painted, and not too small."""
    return [
        (number, part)
        for number, art in enumerate(arts)
        for part in range(len(art.color))
        if art.area[part] >= LEAST and art.color[part] >= -1
    ]
