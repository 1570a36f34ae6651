"""What is odd about the levels of a scene's frames; a person decides, since each may be meant.

A level that shows nothing on one frame alone, a level that another covers on every frame, a mouth without its
head, a drawing that looks like another level's, and one that is held for those skipped after it (`holds`).
Each rule keeps still unless the rest of the scene speaks with one voice. They are told as `missing-cel`:
something that belongs in the frame is not in it.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence

from cel_check.faults import CATALOGUE, Box, Fault, FaultKind, Verdict
from cel_check.scene.frames import Exposure, Exposures
from cel_check.scene.holds import held_too_long
from cel_check.scene.names import frames_of, listed, shown
from cel_check.scene.results import CelResult
from cel_check.scene.stacking import Lie, Stacking

AROUND = 4
"""Frames that a level shows without a break on either side of one that it is missing from."""

CARRIED, BARE = 0.95, 0.2
"""Share of a cel that lies on other art where it is carried, and where it is not."""

LEAST_CARRIED, MOST_BARE = 12, 0.25
"""Frames on which a level is carried, and share of its frames on which it may be bare to be asked about."""

HIDDEN = 0.01
"""Share of a cel that is seen at most where another covers it: the pixels at its rim."""

UNLIKE, ALIKE = 0.15, 0.7
"""How alike in its colors' areas a drawing is at most to its own level, and at least to another."""

MATES, COLORS, OVERLAP = 3, 3, 0.3
"""Other drawings of its level, colors in common with the other level's, and overlap of their boxes, from
which that is evidence."""

Areas = Mapping[str, int]
"""Pixels by color."""


def level_queries(cels: Sequence[CelResult], exposures: Exposures, stack: Stacking) -> tuple[Fault, ...]:
    """Ask about what is odd.

    Args:
        cels: the scene's cels.
        exposures: its frames, from a sheet.
        stack: tells how their cels lie.
    """
    lies = {exposure.frame: _by_level(stack.lies(exposure.cels)) for exposure in exposures.frames}
    dropped = tuple(_dropped(exposures))
    told = {
        fault.frames for fault in dropped
    }  # a head that is off for a frame leaves its mouth bare: one cause
    return (
        *dropped,
        *_hidden(exposures, lies),
        *(fault for fault in _bare(exposures, lies) if fault.frames not in told),
        *_misfiled(cels, exposures),
        *held_too_long(exposures, frozenset((cel.level, cel.drawing) for cel in cels)),
    )


def _by_level(lies: Iterable[Lie]) -> dict[str, Lie]:
    return {lie.key[0]: lie for lie in lies}


def _ask(level: str, frames: tuple[int, ...], text: str) -> Fault:
    kind = FaultKind.MISSING_CEL
    send_to = CATALOGUE[kind].send_to
    return Fault(kind, Verdict.QUERY, text, send_to, 0.5, level=level, frames=frames)


def _dropped(exposures: Exposures) -> Iterable[Fault]:
    """Yield a fault for each level that is missing from one frame alone, once in the scene."""
    for level in exposures.levels:
        runs = _runs(exposures.frames, level)
        gaps = [place for place in range(1, len(runs) - 1) if not runs[place][0] and len(runs[place][1]) == 1]
        if len(gaps) != 1:
            continue  # a level that blinks, blinks more than once
        before, (_, gap), after = runs[gaps[0] - 1 : gaps[0] + 2]
        if min(len(before[1]), len(after[1])) < AROUND:
            continue
        last, first = before[1][-1], after[1][0]
        yield _ask(
            level,
            (gap[0].frame,),
            f"Level {shown(level)} shows nothing on frame {gap[0].frame} alone, between drawings "
            f"{dict(last.cels)[level]} and {dict(first.cels)[level]}. Put a drawing there on the sheet, "
            f"unless the level is meant to blink.",
        )


def _runs(frames: Sequence[Exposure], level: str) -> list[tuple[bool, list[Exposure]]]:
    """Return runs of neighboring frames on which a level shows, or does not."""
    runs: list[tuple[bool, list[Exposure]]] = []
    for exposure in frames:
        there = any(name == level for name, _ in exposure.cels)
        if runs and runs[-1][0] is there:
            runs[-1][1].append(exposure)
        else:
            runs.append((there, [exposure]))
    return runs


def _hidden(exposures: Exposures, lies: Mapping[int, Mapping[str, Lie]]) -> Iterable[Fault]:
    """Yield a fault for each level that is covered on every frame."""
    for level in exposures.levels:
        own = {frame: one[level] for frame, one in lies.items() if level in one}
        unknown = any(not lies[one.frame] for one in exposures.frames if level in dict(one.cels))
        if unknown or len(own) < 2 or any(lie.seen > HIDDEN for lie in own.values()):
            continue
        frames = tuple(own)
        yield _ask(
            level,
            frames,
            f"Nothing of level {shown(level)} is seen on {frames_of(frames)}: the levels above cover it "
            f"whole. Put the sheet's columns in order if levels are exchanged, or take it out.",
        )


def _bare(exposures: Exposures, lies: Mapping[int, Mapping[str, Lie]]) -> Iterable[Fault]:
    """Yield a fault for each level that lies on another, and on a few frames without that one on nothing."""
    for level in exposures.levels:
        own = {frame: one[level].carried for frame, one in lies.items() if level in one}
        carried = [frame for frame, share in own.items() if share >= CARRIED]
        bare = tuple(frame for frame, share in own.items() if share < BARE)
        if not bare or len(carried) + len(bare) < len(own):
            continue
        if len(carried) < LEAST_CARRIED or len(bare) > MOST_BARE * len(own):
            continue
        below = exposures.levels[: exposures.levels.index(level)]
        missing = [
            name
            for name in below
            if all(name in lies[frame] for frame in carried)
            and not any(name in lies[frame] for frame in bare)
        ]
        if not missing:
            continue
        yield _ask(
            level,
            bare,
            f"Level {shown(level)} lies on nothing on {frames_of(bare)}: on all its other frames it lies on "
            f"level {listed(tuple(shown(name) for name in missing))}, which shows nothing there. Put a "
            f"drawing of that level there on the sheet, or take this one out.",
        )


def _misfiled(cels: Sequence[CelResult], exposures: Exposures) -> Iterable[Fault]:
    """Yield a fault for each drawing that is like another level's and like none of its own."""
    levels: dict[str, list[CelResult]] = defaultdict(list)
    for cel in cels:
        if cel.places:
            levels[cel.level].append(cel)
    areas = {id(cel): _areas(cel) for own in levels.values() for cel in own}
    for level, own in levels.items():
        for cel in own if len(own) > MATES else ():
            if any(_alike(areas[id(cel)], areas[id(mate)]) > UNLIKE for mate in own if mate is not cel):
                continue
            elsewhere = (one for name, there in levels.items() if name != level for one in there)
            twin = next((one for one in elsewhere if _is_twin(cel, one, areas)), None)
            if twin is not None:
                yield _misfiled_as(cel, twin, exposures.shown_on.get((cel.level, cel.drawing), ()))


def _misfiled_as(cel: CelResult, other: CelResult, frames: tuple[int, ...]) -> Fault:
    return _ask(
        cel.level,
        frames,
        f"Drawing {shown(cel.drawing)} of level {shown(cel.level)} has the colors and the place of drawing "
        f"{shown(other.drawing)} of level {shown(other.level)}, and is like no other drawing of its own "
        f"level. File it under that level if it belongs there.",
    )


def _areas(cel: CelResult) -> Areas:
    areas: Counter[str] = Counter()
    for place in cel.places:
        if place.srgb:
            areas[place.srgb] += place.area
    return areas


def _alike(one: Areas, other: Areas) -> float:
    """Return how much of two drawings' paint they have in common, 0 to 1."""
    colors = set(one) | set(other)
    most = sum(max(one.get(color, 0), other.get(color, 0)) for color in colors)
    return sum(min(one.get(color, 0), other.get(color, 0)) for color in colors) / most if most else 0.0


def _is_twin(cel: CelResult, other: CelResult, areas: Mapping[int, Areas]) -> bool:
    one, two = areas[id(cel)], areas[id(other)]
    shared = len(set(one) & set(two))
    return shared >= COLORS and _alike(one, two) >= ALIKE and _overlap(_box(cel), _box(other)) >= OVERLAP


def _box(cel: CelResult) -> Box:
    boxes = [place.box for place in cel.places if place.srgb]
    left, top = min(box[0] for box in boxes), min(box[1] for box in boxes)
    right, bottom = max(box[0] + box[2] for box in boxes), max(box[1] + box[3] for box in boxes)
    return left, top, right - left, bottom - top


def _overlap(one: Box, other: Box) -> float:
    """Return the share of the boxes' common area that both cover."""
    across = min(one[0] + one[2], other[0] + other[2]) - max(one[0], other[0])
    down = min(one[1] + one[3], other[1] + other[3]) - max(one[1], other[1])
    shared = max(0, across) * max(0, down)
    return shared / max(1, one[2] * one[3] + other[2] * other[3] - shared)
