"""A model color on the wrong part, over sequences of drawings: `python -m tests.bench.parts --split held`.

Every sequence is judged as it is (each fault is a false alarm), and with parts painted wrong: on one drawing
inside, on the first, on the last, on three in a row, on all of them (only the model cel tells), and with left
and right exchanged on one. The same is asked of the simple methods: the color is foretold from the drawings
before and after, and a part is wrong where both foretell another.
"""

import argparse
import sys
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from art import digest  # noqa: E402
from puppets import FACE, JUDGED, Puppet  # noqa: E402
from score import wilson  # noqa: E402

from cel_check.drawing.drawing import Drawing  # noqa: E402
from cel_check.drawing.place import Place  # noqa: E402
from cel_check.drawing.places import places_of  # noqa: E402
from cel_check.drawing.separate import take_apart  # noqa: E402
from cel_check.faults import Fault, FaultKind, Verdict  # noqa: E402
from cel_check.picture.picture import Picture  # noqa: E402
from cel_check.scene.reference_cels import ReferenceCel  # noqa: E402
from cel_check.scene.results import CelResult  # noqa: E402
from cel_check.scene.wrong_part import with_wrong_parts  # noqa: E402
from cel_check.settings import DEFAULTS  # noqa: E402

Mask = NDArray[np.bool_]
Places = tuple[Place, ...]

LEAST = 60
"""Pixels that a part shows at least on a drawing on which it is to be found."""

ROUNDS = 3
"""Parts that are painted wrong in each situation, of every figure; throughout only one."""

SITUATIONS = (
    "one inside",
    "first",
    "last",
    "three in a row",
    "exchanged",
    "face on its own level",
    "throughout",
)
WHOLE = tuple(one for one in SITUATIONS if not one.startswith("face"))
"""Those with the whole figure on one level."""

TWINS = (("left glove", "right glove"), ("left boot", "right boot"))
SIMPLE = ("place only", "place, area, ellipse", "and neighbors' colors")


@dataclass(frozen=True)
class Wrong:
    """A part painted wrong on one drawing: its mask, its color and the one that it should have."""

    mask: Mask
    has: int
    right: int


@dataclass(eq=False)
class Tally:
    """Counts of one method."""

    found: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    asked: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    retakes: int = 0
    queries: int = 0
    beside: int = 0


def apart(puppet: Puppet, rgba: NDArray[np.uint8]) -> Drawing:
    """Take a cel apart as the program does."""
    picture = Picture(np.ascontiguousarray(rgba), None, False, "", None, ())
    return take_apart(picture, puppet.palette, DEFAULTS)


def places(puppet: Puppet, rgba: NDArray[np.uint8]) -> Places:
    """Return the places of a cel."""
    return places_of(apart(puppet, rgba))


@dataclass(frozen=True, eq=False)
class Case:
    """A level with wrong parts: its drawings' places, and what is wrong by drawing."""

    situation: str
    drawings: tuple[Places, ...]
    wrong: dict[int, list[Wrong]]


def face_cases(puppet: Puppet, right: Sequence[Places]) -> Iterator[Case]:
    """Paint an eye or the mouth wrong where they have a level of their own."""
    rng = np.random.default_rng(digest("face", puppet.name))
    for _ in range(ROUNDS):
        number, part = int(rng.integers(1, puppet.count - 1)), FACE[int(rng.integers(len(FACE)))]
        others = sorted({puppet.paint(name) for name in (*JUDGED, *FACE)} - {puppet.paint(part)})
        color = others[int(rng.integers(len(others)))]
        rgba, masks = puppet.drawing(number, {part: color}, only=FACE)
        if part in masks:
            level = list(right)
            level[number] = places(puppet, rgba)
            wrong = {number: [Wrong(masks[part], color, puppet.paint(part))]}
            yield Case("face on its own level", tuple(level), wrong)


def cases(puppet: Puppet, right: Sequence[tuple[Places, dict[str, Mask]]]) -> Iterator[Case]:
    """Paint parts of a figure wrong in every situation."""
    rng = np.random.default_rng(digest("wrong", puppet.name))
    for situation in (one for one in WHOLE for _ in range(1 if one == "throughout" else ROUNDS)):
        drawings = _drawings(situation, puppet.count, rng)
        painted = _painted(puppet, situation, rng)
        level, wrong = [row[0] for row in right], {}
        for number in drawings:
            rgba, masks = puppet.drawing(number, painted)
            level[number] = places(puppet, rgba)
            wrong[number] = [Wrong(masks[p], c, puppet.paint(p)) for p, c in painted.items() if p in masks]
        yield Case(situation, tuple(level), wrong)


def _drawings(situation: str, count: int, rng: np.random.Generator) -> range:
    start = int(rng.integers(1, count - 3))
    ranges = {"first": range(1), "last": range(count - 1, count), "three in a row": range(start, start + 3)}
    if situation == "throughout":
        return range(count)
    return ranges.get(situation, range(start, start + 1))


def _painted(puppet: Puppet, situation: str, rng: np.random.Generator) -> dict[str, int]:
    """Choose a part and the paint of another, or two twins that exchange theirs."""
    if situation == "exchanged":
        one, two = TWINS[int(rng.integers(len(TWINS)))]
        return {one: puppet.paint(two), two: puppet.paint(one)}
    part = JUDGED[int(rng.integers(len(JUDGED)))]
    others = sorted({puppet.paint(name) for name in JUDGED} - {puppet.paint(part)})
    return {part: others[int(rng.integers(len(others)))]}


def fair(wrong: Wrong, level: Places) -> bool:
    """Tell whether a wrong part shows and is a part of its own: else nothing is there to be found."""
    if np.count_nonzero(wrong.mask) < LEAST:
        return False
    own = [place for place in level if place.color == wrong.has and _meets(place, wrong.mask) > 0.5]
    area = int(np.count_nonzero(wrong.mask))
    return any(LEAST <= place.area <= 1.5 * area + 40 for place in own)


def _meets(place: Place, mask: Mask) -> float:
    """Return 1 where a place's inside point lies in a mask."""
    x, y = place.point
    near = mask[max(0, y - 2) : y + 3, max(0, x - 2) : x + 3]
    return float(near.any())


def hit(fault: Fault, wrong: Wrong) -> bool:
    """Tell whether a fault points at a wrong part."""
    assert fault.point is not None
    x, y = fault.point
    return bool(cv2.dilate(wrong.mask.astype(np.uint8), np.ones((7, 7), np.uint8))[y, x])


def program(puppet: Puppet, level: Sequence[Places], model: Places) -> list[list[Fault]]:
    """Return what the program finds on each drawing."""
    cels = [
        CelResult("A", str(k), f"A/{k}.png", Verdict.PASS, places=own) for k, own in enumerate(level, start=1)
    ]
    done = with_wrong_parts(cels, puppet.palette, (ReferenceCel("model.png", model),))
    return [[fault for fault in cel.faults if fault.kind is FaultKind.WRONG_PART] for cel in done]


def simple(level: Sequence[Places], terms: int) -> list[list[Place]]:
    """Return the places that the drawings before and after both foretell in another color."""
    told = []
    for number, own in enumerate(level):
        beside = [k for k in (number - 1, number + 1) if 0 <= k < len(level)]
        if len(beside) < 2:
            beside.append(2 if number == 0 else number - 2)
        guesses = [_foretold(own, level[k], terms) for k in beside]
        told.append(
            [
                place
                for place, *colors in zip(own, *guesses, strict=True)
                if place.color >= 0
                and place.area >= LEAST
                and colors[0] >= 0
                and len(set(colors)) == 1
                and colors[0] != place.color
            ]
        )
    return told


def _foretold(own: Places, other: Places, terms: int) -> list[int]:
    """Return the color of the place of another drawing that costs least, its own color left out."""
    if not own or not other:
        return [-1] * len(own)
    here, there = _columns(own), _columns(other)
    cost = np.hypot(*(here[0][:, None] - there[0][None]).transpose(2, 0, 1))
    if terms > 0:
        cost = cost + 0.15 * abs(here[1][:, None] - there[1][None])
        cost = cost + 0.1 * np.abs(here[2][:, None] - there[2][None]).sum(axis=2)
    if terms > 1:
        cost = cost + 0.5 * np.abs(here[3][:, None] - there[3][None]).sum(axis=2)
    return [other[int(k)].color for k in cost.argmin(axis=1)]


def _columns(own: Places) -> tuple[NDArray[np.float64], ...]:
    center = np.array([place.center for place in own])
    spread = max(1.0, float(np.linalg.norm(np.ptp(center, axis=0))))
    axes = []
    for place in own:
        xx, xy, yy = place.moments
        axes.append(np.log(np.maximum(np.linalg.eigvalsh([[xx, xy], [xy, yy]]), 0.1)) / 2)
    around = np.zeros((len(own), 64))
    for row, place in enumerate(own):
        for color, share in place.around:
            around[row, color + 2] += share
    area = np.log([place.area for place in own])
    return (center - center.mean(axis=0)) / spread, area, np.array(axes), around


def measure(puppet: Puppet, tallies: dict[str, Tally], show: list[str]) -> int:
    """Judge one figure in all situations; return the number of its clean drawings."""
    drawn = [puppet.drawing(number) for number in range(puppet.count)]
    right = [(places(puppet, rgba), masks) for rgba, masks in drawn]
    model = places(puppet, puppet.drawing(-1)[0])
    clean = [row[0] for row in right]
    face = [places(puppet, puppet.drawing(number, only=FACE)[0]) for number in range(puppet.count)]
    _count_clean(puppet, (clean, model), tallies, show)
    _count_clean(puppet, (face, model), tallies, show)
    for case in (*cases(puppet, right), *face_cases(puppet, face)):
        _count(case, puppet, model, tallies, show)
    return 2 * puppet.count


def _count_clean(
    puppet: Puppet, level: tuple[list[Places], Places], tallies: dict[str, Tally], show: list[str]
) -> None:
    """Count what is told of a level that is right."""
    clean, model = level
    ours = tallies["cel-check"]
    for number, faults in enumerate(program(puppet, clean, model)):
        ours.retakes += sum(fault.verdict is Verdict.RETAKE for fault in faults)
        ours.queries += sum(fault.verdict is Verdict.QUERY for fault in faults)
        show += [f"false {puppet.name} ({puppet.style}) {number + 1}: {fault.text}" for fault in faults]
    for terms, name in enumerate(SIMPLE):
        tallies[name].retakes += sum(len(own) for own in simple(clean, terms))


def _count(case: Case, puppet: Puppet, model: Places, tallies: dict[str, Tally], show: list[str]) -> None:
    found = program(puppet, case.drawings, model)
    told = [simple(case.drawings, terms) for terms in range(len(SIMPLE))]
    for number, faults in enumerate(found):
        wrongs = case.wrong.get(number, [])
        tallies["cel-check"].beside += sum(
            fault.verdict is Verdict.RETAKE and not any(hit(fault, wrong) for wrong in wrongs)
            for fault in faults
        )
        for wrong in wrongs:
            if not fair(wrong, case.drawings[number]):
                tallies["cel-check"].asked["not a part of its own"] += 1
                tallies["cel-check"].found["not a part of its own"] += any(hit(f, wrong) for f in faults)
                continue
            good = any(hit(fault, wrong) for fault in faults)
            _add(tallies["cel-check"], case.situation, good)
            if not good:
                show.append(
                    f"missed {puppet.name} ({puppet.style}) {case.situation} {number + 1}/{puppet.count}: "
                    f"{puppet.palette.colors[wrong.has].name} for {puppet.palette.colors[wrong.right].name}, "
                    f"{np.count_nonzero(wrong.mask)} px"
                )
            for name, own in zip(SIMPLE, told, strict=True):
                _add(tallies[name], case.situation, any(_meets(place, wrong.mask) for place in own[number]))


def _add(tally: Tally, situation: str, good: bool) -> None:
    tally.asked[situation] += 1
    tally.found[situation] += good


def table(name: str, tally: Tally, cels: int) -> list[str]:
    """Return one method's table."""
    lines = [f"{name:<34}{'n':>6}{'found':>7}  found, % (95 % interval)"]
    asked = [one for one in (*SITUATIONS, "not a part of its own") if tally.asked[one]]
    for situation in asked:
        lines.append(_row(situation, tally.found[situation], tally.asked[situation]))
    # Wrong throughout counts once a drawing, and would drown the rest: it is left out of this sum.
    hits, total = (sum(counts[one] for one in SITUATIONS[:-1]) for counts in (tally.found, tally.asked))
    lines.append(_row("all on some drawings only", hits, total))
    false = f"{tally.retakes} on {cels} clean cels: {100 * tally.retakes / max(1, cels):.2f} in 100"
    lines.append(f"false retakes {false}; queries {tally.queries}; beside the wrong part {tally.beside}")
    return [*lines, ""]


def _row(name: str, hits: int, total: int) -> str:
    low, high = wilson(hits, total)
    share = 100 * hits / max(1, total)
    return f"  {name:<32}{total:>6}{hits:>7}  {share:6.1f} ({100 * low:.1f} to {100 * high:.1f})"


def held(number: int) -> bool:
    """Tell whether a figure is in the half that nothing is tuned on."""
    return digest("puppet split", number) % 2 == 0


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--split", choices=("tune", "held"), default="tune", help="half of the figures is held out"
    )
    parser.add_argument("--count", type=int, default=40, help="figures before the split")
    parser.add_argument("--show", action="store_true", help="list every miss and every false alarm")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    start = time.time()
    tallies = {name: Tally() for name in ("cel-check", *SIMPLE)}
    cels, figures = 0, 0
    show: list[str] = []
    for number in range(options.count):
        if held(number) == (options.split == "held"):
            cels += measure(Puppet(number), tallies, show)
            figures += 1
    print(f"{figures} figures ({options.split}), {cels} drawings, {time.time() - start:.0f} s\n")
    for name, tally in tallies.items():
        print("\n".join(table(name, tally, cels)))
    if options.show:
        print("\n".join(show))


if __name__ == "__main__":
    main()
