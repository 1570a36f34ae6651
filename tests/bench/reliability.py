"""Is a fault's confidence worth its number? Of the faults given confidence p, about p should be real.

A fault told on an untouched cel is not real, unless the drawing's own art has it (`flawed.py`: left out). On
a cel with an injected fault, what is told at its place under its kind is real, what is told at its place
under another kind is left out (a person would find something there), whatever else is new is not real.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from inject import Truth
from score import at_place, same_fault, wilson

from cel_check.faults import Fault

EDGES = (0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 1.0)
"""Bins of confidence; each holds its lower edge, the last one both."""

SIDE, ROOM, BESIDE, LINE = 360, 60, 100, 15
"""The plot's square, the margin around it, what the counts beside it need more, and a line of text, px."""


@dataclass(frozen=True)
class Told:
    """One fault as told: the kind and verdict by name, the confidence, and whether it is real."""

    kind: str
    verdict: str
    confidence: float
    real: bool


@dataclass(frozen=True)
class Bin:
    """The faults whose confidence lies in one bin: how many, how many of them real, the mean confidence."""

    low: float
    high: float
    count: int
    real: int
    mean: float


def told_on_untouched(faults: Iterable[Fault]) -> list[Told]:
    """Return what was told on a cel without a fault: none of it is real."""
    return [Told(fault.kind, fault.verdict, fault.confidence, False) for fault in faults]


def told_on_injected(truth: Truth, found: Iterable[Fault], before: Sequence[Fault]) -> list[Told]:
    """Return what was told on a cel with one fault and not on the same cel without it.

    Args:
        truth: what was injected.
        found: faults of the injected cel.
        before: faults of the untouched cel, which are counted there.
    """
    told = []
    for fault in found:
        here = at_place(fault, truth)
        if any(same_fault(fault, old) for old in before) or (here and fault.kind != truth.kind):
            continue
        told.append(Told(fault.kind, fault.verdict, fault.confidence, here))
    return told


def bins(told: Sequence[Told]) -> list[Bin]:
    """Sort the faults into bins of confidence; empty bins are left out."""
    out = []
    for low, high in pairwise(EDGES):
        inside = [one for one in told if low <= one.confidence < high or one.confidence == high == EDGES[-1]]
        if inside:
            mean = sum(one.confidence for one in inside) / len(inside)
            out.append(Bin(low, high, len(inside), sum(one.real for one in inside), mean))
    return out


def off_by(told: Sequence[Told]) -> float:
    """Return the expected calibration error: how far confidence and share lie apart, mean."""
    distance = sum(abs(one.mean * one.count - one.real) for one in bins(told))
    return distance / max(1, len(told))


def _row(name: str, mean: float, real: int, count: int) -> str:
    low, high = wilson(real, count)
    share = f"{100 * real / count:9.1f} [{100 * low:5.1f},{100 * high:6.1f}]"
    return f"{name:<26}{count:>6}{100 * mean:>14.1f}{share}"


def tables(told: Sequence[Told]) -> list[str]:
    """Return the numbers: by bin of confidence, and by kind and verdict."""
    lines = [f"{'confidence':<26}{'told':>6}{'mean, %':>14}{'real, %':>9}"]
    lines += [_row(f"{one.low:.2f} to {one.high:.2f}", one.mean, one.real, one.count) for one in bins(told)]
    lines += [f"expected calibration error: {100 * off_by(told):.1f} % of {len(told)} faults", ""]
    lines.append(f"{'kind and verdict':<26}{'told':>6}{'mean, %':>14}{'real, %':>9}")
    for kind, verdict in sorted({(one.kind, one.verdict) for one in told}):
        group = [one for one in told if (one.kind, one.verdict) == (kind, verdict)]
        mean = sum(one.confidence for one in group) / len(group)
        lines.append(_row(f"{kind} {verdict}", mean, sum(one.real for one in group), len(group)))
    return lines


def plot(told: Sequence[Told]) -> str:
    """Return the reliability diagram as SVG: share real over confidence, 95 % intervals, counts."""
    high, middle = SIDE + 2 * ROOM, ROOM + SIDE / 2
    wide, every = high + BESIDE, bins(told)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="{wide}" height="{high}"'
        ' font-family="sans-serif" font-size="12">',
        "<title>Share of real faults over their confidence</title>",
        f'<rect width="{wide}" height="{high}" fill="#fff"/>',
        *_grid(),
        *_counts(every),
        *(_mark(one) for one in every),
        f'<text x="{middle}" y="{high - 14}" text-anchor="middle">confidence given</text>',
        f'<text x="18" y="{middle}" text-anchor="middle" transform="rotate(-90 18 {middle})">'
        "share real</text>",
        f'<text x="{middle}" y="28" text-anchor="middle" font-size="14">{len(told)} faults, '
        f"off by {100 * off_by(told):.1f} % on average</text>",
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _grid() -> list[str]:
    """Return the square's lines and numbers, and the diagonal on which a kept confidence lies."""
    parts = []
    for tick in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0):
        x, y = _at(tick, 0.0)
        parts.append(_stroke((tick, 0.0), (tick, 1.0), "#ddd") + _stroke((0.0, tick), (1.0, tick), "#ddd"))
        parts.append(f'<text x="{x:.1f}" y="{y + 18:.1f}" text-anchor="middle">{tick:.1f}</text>')
        x, y = _at(0.0, tick)
        parts.append(f'<text x="{x - 8:.1f}" y="{y + 4:.1f}" text-anchor="end">{tick:.1f}</text>')
    return [*parts, _stroke((0.0, 0.0), (1.0, 1.0), '#777" stroke-dasharray="4 4')]


def _counts(every: Sequence[Bin]) -> list[str]:
    """Return the counts in a column beside the square, each near its mark's height, none over another."""
    parts, free = [], 0.0
    ordered = sorted(every, key=lambda one: (-one.real / one.count, -one.mean))
    for after, one in zip(reversed(range(len(ordered))), ordered, strict=True):
        share = one.real / one.count
        x, y = _at(1.0, share)
        free = max(free, min(y, ROOM + SIDE - LINE * after))
        there = 1.0 + 8 / SIDE, share - (free - y) / SIDE
        parts.append(_stroke((one.mean, share), there, '#1f5fa8" stroke-width="0.4'))
        parts.append(f'<text x="{x + 12:.1f}" y="{free + 4:.1f}">{one.real} of {one.count}</text>')
        free += LINE
    return parts


def _at(x: float, y: float) -> tuple[float, float]:
    return ROOM + SIDE * x, ROOM + SIDE * (1.0 - y)


def _stroke(start: tuple[float, float], end: tuple[float, float], color: str) -> str:
    (x1, y1), (x2, y2) = _at(*start), _at(*end)
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{color}"/>'


def _mark(one: Bin) -> str:
    low, high = wilson(one.real, one.count)
    x, y = _at(one.mean, one.real / one.count)
    bar = _stroke((one.mean, low), (one.mean, high), '#1f5fa8" stroke-width="2')
    return bar + f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4" fill="#1f5fa8"/>'
