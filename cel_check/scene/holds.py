"""A drawing that is held for those that are skipped after it, while other levels go on: an error of exposure.

Holds are drawn on purpose everywhere: bodies hold while mouths move, a pose is held before it breaks. So it
is asked about only where the column itself says that drawings belong there: in a stretch whose numbers rise
one by one, each held as long as the next, one is held for just the frames that the drawings skipped after it
would take. Common practice, no source.
"""

from collections.abc import Iterable, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from itertools import pairwise

from cel_check.faults import CATALOGUE, Fault, FaultKind, Verdict
from cel_check.scene.frames import Exposures, Key
from cel_check.scene.names import frames_of, listed, shown

AROUND = 3
"""Drawings in order and of one length on either side of a hold that speak of a rhythm (a house choice)."""

SLOWEST = 3
"""Frames a drawing in a stretch that is evenly timed: ones, twos or threes; what is slower is posed."""

SKIPPED = 2
"""Drawings skipped at least: the hold is three times as long as the others."""

GOES_ON = 2
"""Changes of another level during the hold from which it goes on."""


@dataclass(frozen=True)
class _Run:
    """Neighboring frames on which a level shows one drawing; `number` is None where it is no whole number."""

    drawing: str
    frames: tuple[int, ...]

    @property
    def number(self) -> int | None:
        return int(self.drawing) if self.drawing.isdecimal() and len(self.drawing) < 7 else None


def held_too_long(exposures: Exposures, drawings: AbstractSet[Key]) -> Iterable[Fault]:
    """Yield a query for each hold that stands where skipped drawings belong.

    Args:
        exposures: the scene's frames.
        drawings: `(level, drawing)` of all that were handed in.
    """
    runs = {level: _runs(exposures, level) for level in exposures.levels}
    for level, own in runs.items():
        for place in range(AROUND, len(own) - AROUND):
            skipped = _skipped(own[place - AROUND : place + AROUND + 1])
            if not skipped or not all((level, number) in drawings for number in skipped):
                continue
            mates = tuple(name for name in runs if name != level and _goes_on(runs[name], own[place].frames))
            if mates:
                yield _fault(level, own[place], skipped, mates)


def _runs(exposures: Exposures, level: str) -> list[_Run]:
    runs: list[_Run] = []
    for exposure in exposures.frames:
        drawing = dict(exposure.cels).get(level, "")
        if runs and runs[-1].drawing == drawing:
            runs[-1] = _Run(drawing, (*runs[-1].frames, exposure.frame))
        else:
            runs.append(_Run(drawing, (exposure.frame,)))
    return runs


def _skipped(stretch: Sequence[_Run]) -> tuple[str, ...]:
    """Return the drawings whose time the run in the middle takes; empty where nothing says so."""
    numbers = [run.number for run in stretch]
    whole = [number for number in numbers if number is not None]
    steps = [late - early for early, late in pairwise(whole)]
    lengths = {len(run.frames) for run in (*stretch[:AROUND], *stretch[AROUND + 1 :])}
    if len(whole) < len(numbers) or len(lengths) != 1:
        return ()
    beat, jump = lengths.pop(), steps.pop(AROUND)
    if beat > SLOWEST or set(steps) != {1} or jump - 1 < SKIPPED:
        return ()
    if len(stretch[AROUND].frames) != jump * beat:
        return ()
    return tuple(str(number) for number in range(whole[AROUND] + 1, whole[AROUND + 1]))


def _goes_on(runs: Sequence[_Run], frames: tuple[int, ...]) -> bool:
    """Return whether a level changes its drawing often enough after the first of these frames."""
    return sum(frames[0] < run.frames[0] <= frames[-1] and bool(run.drawing) for run in runs) >= GOES_ON


def _fault(level: str, held: _Run, skipped: tuple[str, ...], mates: tuple[str, ...]) -> Fault:
    kind = FaultKind.MISSING_CEL
    beat = len(held.frames) // (len(skipped) + 1)
    many = "s" if len(mates) > 1 else ""
    missing = listed(skipped)
    text = (
        f"Drawing {held.drawing} of level {shown(level)} is held for {len(held.frames)} frames, "
        f"{frames_of(held.frames).removeprefix('frames ')}, those around it for {beat} each, and drawings "
        f"{missing} are skipped after it, while level{many} {listed(tuple(map(shown, mates)))} "
        f"go{'' if many else 'es'} on. Put drawings {missing} there on the sheet, unless the hold is meant."
    )
    send_to = CATALOGUE[kind].send_to
    return Fault(kind, Verdict.QUERY, text, send_to, 0.5, level=level, frames=held.frames)
