"""What the level's other drawings say of a line that is open with the same on both sides.

Where they have a part past the line that this drawing lacks, the line is closed there and the paint ran
through here, or the part was left clear. Where they have the one part whole, the line is drawn open.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cel_check.checks.common import model_match, named
from cel_check.checks.leaked import WOULD_PART
from cel_check.drawing.place import OPEN
from cel_check.faults import Fault, FaultKind, Verdict
from cel_check.model.colormodel import Palette
from cel_check.scene.align import Fit, fits
from cel_check.scene.art import Art, Floats, Ints, arts_of
from cel_check.scene.names import listed, shown
from cel_check.scene.results import CelResult
from cel_check.scene.stack import stacked

MOST = 12
"""Other drawings that are asked, the nearest."""

AWAY = 0.06
"""Distance, in diagonals of the art, within which two places are one."""

RESIZED = 0.4
"""Logarithm of the ratio of their areas within which they are."""

WHOLE = 0.12
"""The same for a part that another drawing has whole: less is parted from it there."""

REACH = 0.03
"""Diagonals of the art by which the gap may lie outside the box of a part that it opens."""

ENOUGH = 2
"""Drawings that must have the line closed, and times more than have it open."""

NAMED = 3
"""Drawings that are named as evidence."""

SURE = 0.95
"""Confidence of what the other drawings bear out."""

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class _Laid:
    """Another drawing's places as they lie on this one.

    Attributes:
        drawing: its number.
        color: `(n,)` as in `Art`.
        center: `(n, 2)` x, y.
        area: `(n,)` px.
        low: `(n, 2)` left and top of the box.
        high: `(n, 2)` right and bottom.
    """

    drawing: str
    color: Ints
    center: Floats
    area: Floats
    low: Floats
    high: Floats


def with_closed_lines(cels: Sequence[CelResult], palette: Palette) -> tuple[CelResult, ...]:
    """Decide the open lines that one drawing alone cannot decide.

    Args:
        cels: a level's cels in number order.
        palette: the level's colors.

    Returns:
        The cels with such queries made retakes where the other drawings have the line closed, and dropped
        where they have it open.
    """
    if not any(_asks(fault) for cel in cels for fault in cel.faults):
        return tuple(cels)
    arts = {
        cel.drawing: art for cel in cels for art in arts_of([(cel.drawing, cel.places)], len(palette.colors))
    }
    return tuple(_decided(cel, arts, palette) for cel in cels)


def _asks(fault: Fault) -> bool:
    return fault.kind is FaultKind.OPEN_LINE and WOULD_PART in fault.text and fault.verdict is Verdict.QUERY


def _decided(cel: CelResult, arts: dict[str, Art], palette: Palette) -> CelResult:
    own = arts.get(cel.drawing)
    if own is None or len(arts) < 2 or not any(_asks(fault) for fault in cel.faults):
        return cel
    order = list(arts)
    at = order.index(cel.drawing)
    near = sorted(
        (name for name in order if name != cel.drawing), key=lambda name: abs(order.index(name) - at)
    )
    asked = sorted(near[:MOST], key=order.index)
    others = _laid(own, [arts[name] for name in asked])
    faults = []
    for fault in cel.faults:
        kept = _judged(fault, own, others, palette) if _asks(fault) else fault
        if kept is not None:
            faults.append(kept)
    return replace(cel, faults=tuple(faults))


def _laid(own: Art, others: Sequence[Art]) -> list[tuple[_Laid, ...]]:
    """Lay the other drawings over this one, each by every motion that some of it makes."""
    stack = stacked((own, *others))
    many = np.arange(1, len(others) + 1)
    motions = fits(stack.pick(many), stack.pick(np.zeros(len(others), np.int64)))
    return [
        tuple(_by(art, row, motion) for motion in motions if motion.sure[row])
        for row, art in enumerate(others)
    ]


def _by(art: Art, row: int, motion: Fit) -> _Laid:
    """Lay one drawing by one motion."""
    matrix, shift, size = motion.matrix[row].T, motion.shift[row], float(motion.size[row])
    box = np.array([art.place(k).box for k in range(len(art.color))], np.float64).reshape(-1, 4)
    middle, half = (box[:, :2] + box[:, 2:] / 2) @ matrix + shift, box[:, 2:] * size / 2
    center = art.center @ matrix + shift
    return _Laid(art.drawing, art.color, center, art.area * size**2, middle - half, middle + half)


def _judged(fault: Fault, own: Art, others: Sequence[tuple[_Laid, ...]], palette: Palette) -> Fault | None:
    """Decide one line; None where it is drawn open."""
    color = OPEN
    if fault.nearest is not None:
        ids = [(paint.model, paint.id) for paint in palette.colors]
        color = ids.index((fault.nearest.model, fault.nearest.color))
    past: dict[str, int] = {}
    whole = 0
    for other in others:
        parts = [part for laid in other if (part := _past(fault, color, own, laid)) is not None]
        if parts:
            # In another paint it tells more than in this one, of which here a larger fill is part.
            past[other[0].drawing] = next((part for part in parts if part != color), color)
        elif color != OPEN and any(_has_whole(fault, color, own, laid) for laid in other):
            whole += 1
    if len(past) >= ENOUGH and len(past) >= ENOUGH * whole:
        return _closed(fault, past, color, palette)
    return None if whole >= ENOUGH and not past else fault


def _past(fault: Fault, color: int, own: Art, other: _Laid) -> int | None:
    """Return the color of the part past the line on another drawing that this drawing lacks."""
    reach = REACH * own.diagonal
    here = np.flatnonzero(_around(fault, own, color))
    there = _at(fault, other, reach) & (other.color != OPEN)
    lacking = np.flatnonzero(there & ~_known(own, other))
    order = np.lexsort((-other.area[lacking], other.color[lacking] == color))
    for part in lacking[order].tolist():
        if color == OPEN or any(_in_box(own, row, other.center[part]) for row in here.tolist()):
            return int(other.color[part])
    return None


def _known(own: Art, other: _Laid) -> Flags:
    """Tell which of another drawing's places this drawing has too."""
    away = np.hypot(*(own.center[:, None] - other.center[None]).transpose(2, 0, 1))
    ratio = np.abs(np.log(own.area[:, None] / other.area[None]))
    same = own.color[:, None] == other.color[None]
    return np.asarray((same & (away <= AWAY * own.diagonal) & (ratio <= RESIZED)).any(axis=0))


def _at(fault: Fault, other: _Laid, reach: float) -> Flags:
    """Tell which places of another drawing a gap lies in or beside."""
    point = np.array(fault.point, np.float64)
    return np.asarray(((point >= other.low - reach) & (point <= other.high + reach)).all(axis=1))


def _around(fault: Fault, own: Art, color: int) -> Flags:
    """Tell which places of this drawing in a color a gap lies in."""
    point = np.array(fault.point, np.float64)
    box = np.array([own.place(row).box for row in range(len(own.color))], np.float64).reshape(-1, 4)
    inside = (point >= box[:, :2]) & (point <= box[:, :2] + box[:, 2:])
    return np.asarray(inside.all(axis=1) & (own.color == color))


def _in_box(own: Art, row: int, point: Floats) -> bool:
    x, y, wide, high = own.place(row).box
    return bool(x <= point[0] <= x + wide and y <= point[1] <= y + high)


def _has_whole(fault: Fault, color: int, own: Art, other: _Laid) -> bool:
    """Tell whether another drawing has the part whole that the gap lies in here."""
    for row in np.flatnonzero(_around(fault, own, color)).tolist():
        away = np.hypot(*(other.center - own.center[row]).T)
        ratio = np.abs(np.log(other.area / own.area[row]))
        if ((other.color == color) & (away <= AWAY * own.diagonal) & (ratio <= WHOLE)).any():
            return True
    return False


def _closed(fault: Fault, past: dict[str, int], color: int, palette: Palette) -> Fault:
    """Make a retake of a line that the other drawings have closed."""
    counts = Counter(past.values())
    elsewhere = [(count, part) for part, count in counts.items() if part != color and count >= ENOUGH]
    most = max(elsewhere)[1] if elsewhere else counts.most_common(1)[0][0]
    drawings = [shown(drawing) for drawing, part in past.items() if part == most]
    if len(drawings) > NAMED + 1:
        drawings = [*drawings[:NAMED], f"{len(drawings) - NAMED} more"]
    where = f"drawing{'s' * (len(drawings) > 1)} {listed(tuple(drawings))}"
    head = fault.text.split(WOULD_PART)[0]
    if most < 0 or most == color:
        run = "" if color == OPEN else ", and see whether the paint ran through"
        text = f"{head}; it is closed on {where}. Close the line{run}."
        return replace(fault, verdict=Verdict.RETAKE, text=text, confidence=SURE)
    expected = model_match(palette.colors[most], 0.0, f"the part past the line on {where}")
    text = f"{head}; on {where} it is closed, with {named(expected)} past it. Close it and paint that part."
    return replace(fault, verdict=Verdict.RETAKE, text=text, confidence=SURE, expected=expected)
