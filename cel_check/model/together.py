"""Which color models meet: on one level, in one scene, or never; and which inks border which paints."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import IntEnum
from types import MappingProxyType
from typing import Any


class Meeting(IntEnum):
    """How near two models come; the nearer, the higher."""

    NEVER = 0
    SCENE = 1
    LEVEL = 2


Pair = frozenset[str]
"""Two models' keys, in no order."""


def _nothing() -> Mapping[Any, Any]:
    return MappingProxyType({})


@dataclass(frozen=True)
class Together:
    """What is known of how models are used.

    Attributes:
        known: whether scenes were looked at; else every two models may meet in a scene.
        levels: pairs that share a level, with the names of the scenes.
        scenes: pairs that share a scene, with the names of the scenes.
        borders: by model's key the `(ink's id, paint's id)` that border on each other in its reference cels;
            a model that is not in it was not looked at.
    """

    known: bool = False
    levels: Mapping[Pair, tuple[str, ...]] = field(default_factory=_nothing)
    scenes: Mapping[Pair, tuple[str, ...]] = field(default_factory=_nothing)
    borders: Mapping[str, frozenset[tuple[str, str]]] = field(default_factory=_nothing)

    def meeting(self, first: str, second: str) -> Meeting:
        """Return how near two models come; a model always shares a level with itself."""
        pair = frozenset((first, second))
        if first == second or pair in self.levels:
            return Meeting.LEVEL
        return Meeting.SCENE if not self.known or pair in self.scenes else Meeting.NEVER

    def where(self, first: str, second: str) -> tuple[str, ...]:
        """Return the scenes in which two models meet, those on one level first."""
        pair = frozenset((first, second))
        return self.levels.get(pair) or self.scenes.get(pair, ())

    def border(self, model: str, ink: str, paint: str) -> bool | None:
        """Return whether an ink borders a paint in the model's reference cels; None where nobody looked."""
        if model not in self.borders:
            return None
        return (ink, paint) in self.borders[model]


UNKNOWN = Together()
"""No scene and no reference cel was looked at."""
