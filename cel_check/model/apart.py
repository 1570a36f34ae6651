"""Can they be told apart: every pair of colors in every look, held against the sum of its tolerances.

Two colors nearer to each other than their tolerances together cannot be told apart by the checker: a painted
color may be within tolerance of both. A pair only a little farther apart, painted at the edges of its
tolerances, looks the same to an audience.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.model.colormodel import Use
from cel_check.model.finding import Finding, Kind, Severity
from cel_check.model.looks import Looks, in_look
from cel_check.model.move import Move, smallest_move
from cel_check.model.together import Meeting, Together

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

AUDIENCE = 1.8
"""ΔE00 that half of observers accept as no difference, side by side and at leisure (Paravina et al. 2015,
doi:10.1111/jerd.12149, on dental ceramics): what is left of a pair's difference when both are painted at the
edge of their tolerances should not be less. No figure for an audience was found."""

MOST_MOVES = 100
"""Findings for which a move is looked for, the worst first: nobody reads a hundred."""

_BLOCK = 1 << 20
"""Pairs times looks that are compared at once."""


@dataclass(frozen=True, eq=False)
class Pairs:
    """The pairs that are held against each other, `i` before `j` in the palette's order.

    Attributes:
        i: `(n,)` index of the first color.
        j: `(n,)` index of the second.
        rank: `(n,)` what may come of a pair that is too close: 2 an error, 1 a warning.
        lines: `(n,)` True where an ink and a paint border on each other.
        needed: `(n,)` the sum of the two tolerances.
    """

    i: Ints
    j: Ints
    rank: Ints
    lines: NDArray[np.bool_]
    needed: Floats


def find_close(looks: Looks, together: Together) -> tuple[Finding, ...]:
    """Return a finding for every pair that cannot be told apart in some look, or hardly, the worst first."""
    pairs = pairs_of(looks, together)
    if not len(pairs.i):
        return ()
    delta_e = differences(looks, pairs)
    room = delta_e.min(axis=0) - pairs.needed
    own = looks.owner[pairs.i] == looks.owner[pairs.j]
    told = np.flatnonzero(room < np.where((pairs.rank == 2) & own, AUDIENCE, 0.0))
    findings = []
    for rank, pair in enumerate(told[np.argsort(room[told], kind="stable")]):
        finding = _finding(looks, pairs, int(pair), delta_e[:, pair], rank < MOST_MOVES)
        findings.append(_with_place(finding, looks, pairs, int(pair), together))
    return tuple(findings)


def pairs_of(looks: Looks, together: Together) -> Pairs:
    """Return the pairs of colors that matter: of one use, or an ink and a paint that border on each other."""
    first, second = np.triu_indices(len(looks.colors), 1)
    meets = _meetings(looks, together)[looks.owner[first], looks.owner[second]]
    ink = np.array([color.use is Use.INK for color in looks.colors])
    paint = np.array([color.use is Use.PAINT for color in looks.colors])
    unlike = (ink[first] & paint[second]) | (paint[first] & ink[second])
    border = np.zeros(len(first), np.int64)
    own = looks.owner[first] == looks.owner[second]
    for place in np.flatnonzero(unlike & own):
        known = _border(looks, together, int(first[place]), int(second[place]))
        border[place] = 1 if known is None else 2 * int(known)
    rank = np.where(unlike, border, meets)
    kept = rank > 0
    first, second = first[kept], second[kept]
    needed = looks.tolerance[first] + looks.tolerance[second]
    return Pairs(first, second, rank[kept], unlike[kept], needed)


def _meetings(looks: Looks, together: Together) -> Ints:
    keys = [model.key for model in looks.models]
    return np.array([[int(together.meeting(one, other)) for other in keys] for one in keys])


def _border(looks: Looks, together: Together, first: int, second: int) -> bool | None:
    one, other = looks.colors[first], looks.colors[second]
    ink, paint = (one, other) if one.use is Use.INK else (other, one)
    return together.border(one.model, ink.id, paint.id)


def differences(looks: Looks, pairs: Pairs) -> Floats:
    """Return the `(looks, pairs)` ΔE00; infinite where the look names neither color.

    Such a pair is the same as with base colors, where it was seen already.
    """
    delta_e = np.full((len(looks.names), len(pairs.i)), np.inf)
    for look in range(len(looks.names)):
        there = np.flatnonzero(looks.named[look, pairs.i] | looks.named[look, pairs.j])
        for start in range(0, len(there), _BLOCK):
            some = there[start : start + _BLOCK]
            delta_e[look, some] = ciede2000(looks.lab[look, pairs.i[some]], looks.lab[look, pairs.j[some]])
    return delta_e


def _finding(looks: Looks, pairs: Pairs, pair: int, delta_e: Floats, suggest: bool) -> Finding:
    i, j, needed = int(pairs.i[pair]), int(pairs.j[pair]), float(pairs.needed[pair])
    close = np.flatnonzero(delta_e < needed)
    look = int(delta_e.argmin())
    first, second = looks.name(i), looks.name(j)
    if delta_e.max(initial=0.0, where=np.isfinite(delta_e)) == 0.0 and not pairs.lines[pair]:
        return _same_everywhere(looks, pairs, pair)
    least = float(delta_e[look])
    place = in_look(looks.names[look]) + _also(looks, close, look)
    text = f"{first} and {second} are {least:.1f} ΔE00 apart{place}"
    if least >= needed:
        severity, kind = Severity.WARNING, Kind.HARD_TO_TELL
        text += f", little more than their tolerances together ({needed:.1f}): painted at the edge of those, "
        text += "an audience hardly tells them apart"
    else:
        severity = Severity.ERROR if pairs.rank[pair] == 2 else Severity.WARNING
        kind = Kind.TOO_CLOSE
        text += f", less than their tolerances together ({needed:.1f}): the check cannot tell them apart"
    return Finding(
        severity, kind, looks.colors[i].model, f"{text}.",
        _mend(looks, pairs, pair, 0 if 0 in close else look) if suggest else "Move one of the two.",
        (looks.key(i), looks.key(j)), looks.names[look], least, needed, "ΔE00",
    )  # fmt: skip


def _also(looks: Looks, close: Ints, look: int) -> str:
    """Return the other looks in which a pair is too close, in brackets."""
    rest = [looks.names[other] or "base colors" for other in close if other != look]
    if not rest:
        return ""
    return f" (also in {', '.join(rest[:3])}{f' and {len(rest) - 3} more' if len(rest) > 3 else ''})"


def _same_everywhere(looks: Looks, pairs: Pairs, pair: int) -> Finding:
    """Return the finding for two entries that are one color in every look."""
    i, j = int(pairs.i[pair]), int(pairs.j[pair])
    one, other = looks.colors[i], looks.colors[j]
    shared = one.paint is not None and one.paint == other.paint
    text = f"{looks.name(i)} and {looks.name(j)} are one color in every look"
    if shared:
        text += ", and one paint: painted for each other they cannot be told, and need not be"
        severity, mend = Severity.NOTE, "Nothing is to be done where that is meant."
    else:
        text += ": painted for each other they cannot be told"
        severity = Severity.ERROR if pairs.rank[pair] == 2 else Severity.NOTE
        mend = "Give both one paint number where that is meant; else move one of them."
    colors = (looks.key(i), looks.key(j))
    kind = Kind.SAME_COLOR
    return Finding(severity, kind, one.model, f"{text}.", mend, colors, "", 0.0, None, "ΔE00")


def _mend(looks: Looks, pairs: Pairs, pair: int, look: int) -> str:
    """Return which of the two to move, which way and by how little."""
    i, j = int(pairs.i[pair]), int(pairs.j[pair])
    needed = float(pairs.needed[pair]) + (AUDIENCE if pairs.rank[pair] == 2 else 0.1)
    moves = [(way[0], _move(looks, pairs, way, look, needed)) for way in ((i, j), (j, i))]
    found = [(color, move) for color, move in moves if move is not None]
    if not found:
        return "No small move of one of them is enough: choose one of the two anew."
    color, move = min(found, key=lambda one: one[1].delta_e)
    whose = f"{looks.character(color)}: " if looks.owner[i] != looks.owner[j] else ""
    return f"Make {whose}{looks.colors[color].name}{in_look(looks.names[look])} {move.words}: {move.hex}."


def _move(looks: Looks, pairs: Pairs, way: tuple[int, int], look: int, needed: float) -> Move | None:
    """Look for the smallest move of one color away from another that brings it near to no third."""
    color, partner = way
    mine = (pairs.i == color) | (pairs.j == color)
    others = np.where(pairs.i[mine] == color, pairs.j[mine], pairs.i[mine])
    sums = pairs.needed[mine][others != partner]
    others = others[others != partner]
    lab = looks.lab[look]
    # A neighbor that is close already need not become farther by this move, only not closer.
    kept = np.minimum(sums, ciede2000(lab[others], lab[color]) - 1e-9)
    return smallest_move(lab[color], lab[partner], needed, lab[others], kept)


def _with_place(finding: Finding, looks: Looks, pairs: Pairs, pair: int, together: Together) -> Finding:
    """Say of colors of two models whose they are, where they meet, and what follows from that."""
    i, j = int(pairs.i[pair]), int(pairs.j[pair])
    one, other = looks.colors[i], looks.colors[j]
    if one.model == other.model:
        return finding
    text = finding.text
    for color in (i, j):
        text = text.replace(looks.name(color), f"{looks.character(color)}: {looks.name(color)}", 1)
    where = together.where(one.model, other.model)
    scenes = f" They meet in {', '.join(where[:3])}{' and more' if len(where) > 3 else ''}." if where else ""
    mend = finding.mend
    if together.meeting(one.model, other.model) is Meeting.SCENE:
        mend = f"Keep the two on separate levels, or: {mend[:1].lower()}{mend[1:]}"
    return replace(finding, text=f"{text}{scenes}", mend=mend)
