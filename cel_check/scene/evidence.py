"""What the level's other drawings say about a fault that one drawing alone cannot decide.

A clear place inside closed lines that the other drawings have too is meant; where they have paint, it was
left out. A speck that the other drawings have too is drawn; where no other has it, it is dirt. The same place
is known by its surroundings first, then by its size and by where it lies in the art.
"""

import math
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from cel_check.checks.common import model_match, named
from cel_check.drawing.place import OPEN, Place
from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.model.colormodel import Palette
from cel_check.scene.art import around_of
from cel_check.scene.results import CelResult

SAME_AROUND = 0.6
"""Share of their surroundings that two views of one place have in common at least."""

SIZE = 4.0
"""Ratio of areas within which two places can be one."""

FAR = 0.35
"""Distance within which two places can be one, in diagonals of the art and from its middle."""

MANY = 4
"""Times more drawings with paint in a place than with clear cel, from which the clear ones are wrong."""

COMMON = 0.4
"""Share of the level's other drawings that show a speck from which it is drawn on purpose."""

ENOUGH = 3
"""Other drawings from which the lack of a speck on all of them tells that it is dirt."""

UNSURE = 0.6
"""Confidence from which a lone speck is taken for dirt on that evidence; dots of a pattern are below."""


@dataclass(frozen=True, eq=False)
class _Art:
    """One drawing as the others look at it: its places, the middle of its art, and its diagonal."""

    drawing: str
    places: tuple[Place, ...]
    faults: tuple[Fault, ...]
    middle: tuple[float, float]
    diagonal: float
    colors: int

    @cached_property
    def columns(self) -> NDArray[np.float64]:
        """`(3, n)` the places' x, y and area."""
        return np.array([(*place.center, place.area) for place in self.places], np.float64).T

    @cached_property
    def around(self) -> NDArray[np.float64]:
        """`(n, colors + 2)` the share of their borders on every color."""
        return around_of(self.places, self.colors)


def with_evidence(cels: Sequence[CelResult], palettes: Mapping[str, Palette]) -> tuple[CelResult, ...]:
    """Decide what a level's drawings decide together.

    Args:
        cels: a scene's cels, each checked alone.
        palettes: by level name, the colors it was held against.

    Returns:
        The cels with faults dropped that the other drawings show to be meant, and made retakes where they
        show the contrary. The order of the cels does not matter.
    """
    levels: dict[str, list[_Art]] = defaultdict(list)
    faulty = {cel.level for cel in cels if cel.faults}
    for cel in cels:
        if cel.places and cel.level in faulty:
            levels[cel.level].append(_art(cel, len(palettes[cel.level].colors)))
    return tuple(_decided(cel, levels[cel.level], palettes) if cel.faults else cel for cel in cels)


def _art(cel: CelResult, colors: int) -> _Art:
    left = min(place.box[0] for place in cel.places)
    top = min(place.box[1] for place in cel.places)
    right = max(place.box[0] + place.box[2] for place in cel.places)
    bottom = max(place.box[1] + place.box[3] for place in cel.places)
    weight = sum(place.area for place in cel.places)
    middle = tuple(sum(place.center[axis] * place.area for place in cel.places) / weight for axis in (0, 1))
    diagonal = max(1.0, math.hypot(right - left, bottom - top))
    return _Art(cel.drawing, cel.places, cel.faults, (middle[0], middle[1]), diagonal, colors)


def _decided(cel: CelResult, level: Sequence[_Art], palettes: Mapping[str, Palette]) -> CelResult:
    own = next((art for art in level if art.drawing == cel.drawing), None)
    others = [art for art in level if art.drawing != cel.drawing]
    if own is None or not others:
        return cel
    faults = []
    for fault in cel.faults:
        kept: Fault | None = fault
        if fault.kind is FaultKind.UNPAINTED and fault.verdict is Verdict.QUERY:
            kept = _clear_place(fault, own, others, palettes[cel.level])
        elif fault.kind is FaultKind.STRAY and fault.expected is None:
            kept = _speck(fault, own, others)
        if kept is not None:
            faults.append(kept)
    return replace(cel, faults=tuple(faults))


def _clear_place(fault: Fault, own: _Art, others: Sequence[_Art], palette: Palette) -> Fault | None:
    """Decide a clear place that closed lines surround."""
    rows = (row for row, place in enumerate(own.places) if place.color == OPEN and place.box == fault.box)
    row = next(rows, None)
    if row is None:
        return fault
    there = {art.drawing: _same_place(row, own, art) for art in others}
    clear = [drawing for drawing, place in there.items() if place is not None and place.color == OPEN]
    paint = {
        drawing: place.color for drawing, place in there.items() if place is not None and place.color >= 0
    }
    if clear and len(paint) < MANY * len(clear):
        return None
    if len(paint) < 2:
        return fault
    color, _ = Counter(paint.values()).most_common(1)[0]
    drawings = [drawing for drawing, painted in paint.items() if painted == color]
    return _left_out(fault, palette, color, drawings)


def _left_out(fault: Fault, palette: Palette, color: int, drawings: Sequence[str]) -> Fault:
    """Make a retake of a clear place that other drawings have paint in."""
    paint = palette.colors[color]
    seen = ", ".join(drawings[:3]) + (f" and {len(drawings) - 3} more" if len(drawings) > 3 else "")
    because = f"the same part on drawing{'s' if len(drawings) > 1 else ''} {seen}"
    expected = model_match(paint, 0.0, because)
    return replace(
        fault,
        verdict=Verdict.RETAKE,
        text=f"This part is left without paint; it is {paint.name} on {because[9:].replace('part on ', '')}. "
        f"Paint it with {named(expected)}.",
        send_to=SendTo.PAINT,
        confidence=0.92,
        expected=expected,
    )


def _same_place(row: int, own: _Art, art: _Art) -> Place | None:
    """Return the place of another drawing that is most likely the same as one here; None where none is."""
    here = own.places[row]
    # Where it would lie on the other drawing, both seen from the middle of their art in its diagonals.
    x, y = (
        art.middle[axis] + (here.center[axis] - own.middle[axis]) * art.diagonal / own.diagonal
        for axis in (0, 1)
    )
    ratio = art.columns[2] / here.area
    away = np.hypot(art.columns[0] - x, art.columns[1] - y) / art.diagonal
    less = away + 0.15 * np.abs(np.log(ratio))
    shared = np.minimum(art.around, own.around[row]).sum(axis=1)
    fits = (ratio >= 1.0 / SIZE) & (ratio <= SIZE) & (away <= FAR) & (shared >= SAME_AROUND)
    alike = np.where(fits, shared - less, 0.0)
    best = int(alike.argmax())
    return art.places[best] if alike[best] > 0 else None


def _speck(fault: Fault, own: _Art, others: Sequence[_Art]) -> Fault | None:
    """Decide a speck on the clear cel."""
    with_it = sum(any(_same_speck(fault, own, other, art) for other in art.faults) for art in others)
    if with_it >= COMMON * len(others):
        return None
    sure = len(others) >= ENOUGH and not with_it and fault.confidence >= UNSURE
    if fault.verdict is Verdict.RETAKE or not sure:
        return fault
    text = fault.text.replace(", unless it is drawn on purpose.", ": no other drawing of the level has it.")
    return replace(fault, verdict=Verdict.RETAKE, text=text, confidence=0.85)


def _same_speck(fault: Fault, own: _Art, other: Fault, art: _Art) -> bool:
    """Tell whether two specks of two drawings are one drawn detail: alike in size, color and place."""
    if other.kind is not FaultKind.STRAY or other.box is None or fault.box is None:
        return False
    if fault.nearest is None or other.nearest is None or fault.nearest.color != other.nearest.color:
        return False
    if not 0.4 <= (other.area_px or 1) / (fault.area_px or 1) <= 2.5:
        return False
    dx = (other.box[0] - art.middle[0]) / art.diagonal - (fault.box[0] - own.middle[0]) / own.diagonal
    dy = (other.box[1] - art.middle[1]) / art.diagonal - (fault.box[1] - own.middle[1]) / own.diagonal
    return math.hypot(dx, dy) <= FAR
