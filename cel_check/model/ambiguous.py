"""Finds colors of a palette that the checks cannot tell apart."""

from dataclasses import dataclass
from itertools import combinations

import numpy as np

from cel_check.color.difference import ciede2000
from cel_check.model.colormodel import ModelColor, Palette, Use


@dataclass(frozen=True)
class AmbiguousPair:
    """Two colors of a palette so near to each other that a painted color may be within tolerance of both.

    Attributes:
        first: the color that stands first in the palette.
        second: the other.
        delta_e: CIEDE2000 between them.
        within: the sum of their tolerances, which `delta_e` is below.
    """

    first: ModelColor
    second: ModelColor
    delta_e: float
    within: float

    def note(self) -> str:
        """Return the pair as one sentence for a person."""
        names = f"{self.first.model}/{self.first.id} and {self.second.model}/{self.second.id}"
        if self.delta_e == 0.0:
            return f"{names} are the same color: one painted for the other cannot be seen."
        return (
            f"{names} cannot be told apart for certain: they are {self.delta_e:.1f} ΔE00 apart, "
            f"and their tolerances add up to {self.within:.1f}."
        )


def ambiguous_pairs(palette: Palette) -> tuple[AmbiguousPair, ...]:
    """Return the pairs whose ΔE00 is below the sum of their tolerances, or nil, in the palette's order.

    A paint and an ink are no pair: what is ink and what is paint is told by shape as well.
    """
    colors = palette.colors
    if len(colors) < 2:
        return ()
    lab = np.array([color.lab for color in colors])
    delta_e = ciede2000(lab[:, None], lab)
    pairs = []
    for i, j in combinations(range(len(colors)), 2):
        within = colors[i].tolerance + colors[j].tolerance
        if _compete(colors[i], colors[j]) and (delta_e[i, j] < within or delta_e[i, j] == 0.0):
            pairs.append(AmbiguousPair(colors[i], colors[j], float(delta_e[i, j]), within))
    return tuple(pairs)


def _compete(first: ModelColor, second: ModelColor) -> bool:
    return Use.BOTH in {first.use, second.use} or first.use is second.use
