"""Paint that ran through an open line, over sequences of drawings: `python -m tests.bench.run_through`.

On one drawing of a figure the line between two parts is opened and both get one paint. Alone the drawing can
only be asked about; the other drawings, on which the line is closed, make it a retake.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from art import digest  # noqa: E402
from parts import apart, held, places  # noqa: E402
from puppets import JUDGED, Puppet  # noqa: E402
from score import wilson  # noqa: E402

from cel_check.checks.open_line import open_line  # noqa: E402
from cel_check.drawing.places import places_of  # noqa: E402
from cel_check.faults import Fault, Point, Verdict  # noqa: E402
from cel_check.scene.closed_lines import with_closed_lines  # noqa: E402
from cel_check.scene.results import CelResult  # noqa: E402
from cel_check.settings import DEFAULTS  # noqa: E402

Cel = NDArray[np.uint8]
Mask = NDArray[np.bool_]

ROUNDS = 12
"""Drawings of each figure that get a leak."""

LEAST = 60
"""Pixels of each of the two parts at least."""

NEAR = 14
"""Pixels from the middle of a gap within which it is found."""

ROOM = 31
"""Pixels of plain line around the middle of a gap."""


@dataclass(frozen=True, eq=False)
class Leak:
    """A drawing with a leak: its place, its cel, the middle of the gap and its length."""

    number: int
    rgba: Cel
    point: Point
    length: float


def result(puppet: Puppet, number: int, rgba: Cel) -> CelResult:
    """Check one cel for open lines alone."""
    drawing = apart(puppet, rgba)
    faults = open_line(drawing, DEFAULTS, set())
    name = str(number + 1)
    return CelResult("A", name, f"A/{name}.png", Verdict.PASS, faults=faults, places=places_of(drawing))


def leaks(puppet: Puppet) -> Iterator[Leak]:
    """Let paint run through a line of a figure, on one drawing at a time."""
    rng = np.random.default_rng(digest("leak", puppet.name))
    for _ in range(ROUNDS):
        number = int(rng.integers(puppet.count))
        _, masks = puppet.drawing(number)
        pairs = list(_pairs(masks, puppet))
        if pairs:
            one, two = pairs[int(rng.integers(len(pairs)))]
            found = _leak(puppet, number, (one, two), float(rng.uniform(4, 12)), rng)
            if found is not None:
                yield found


def _pairs(masks: dict[str, Mask], puppet: Puppet) -> Iterator[tuple[str, str]]:
    """Yield the pairs of parts with a line between them."""
    shown = [part for part in masks if part in JUDGED and np.count_nonzero(masks[part]) >= LEAST]
    for at, one in enumerate(shown):
        for two in shown[at + 1 :]:
            if np.count_nonzero(_between(masks, (one, two), puppet.pen)) >= 40:
                yield one, two


def _between(masks: dict[str, Mask], pair: tuple[str, str], pen: float) -> Mask:
    """Return the pixels of line that lie between two parts and beside no other."""
    reach = 2 * int(1.3 * pen + 2) + 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    near = {part: cv2.dilate(mask.astype(np.uint8), kernel) > 0 for part, mask in masks.items()}
    line = near[pair[0]] & near[pair[1]] & ~np.any(list(masks.values()), axis=0)
    others = [near[part] for part in masks if part not in pair]
    return np.asarray(line & ~np.any(others, axis=0) if others else line)


def _leak(
    puppet: Puppet, number: int, pair: tuple[str, str], length: float, rng: np.random.Generator
) -> Leak | None:
    """Open the line between two parts that have one paint; None where they do not run together there."""
    rgba, masks = puppet.drawing(number, {pair[1]: puppet.paint(pair[0])})
    line = _between(masks, pair, puppet.pen)
    # Well inside its stretch of line, so that the line goes on past both ends of the gap.
    room = cv2.boxFilter(line.astype(np.float32), -1, (ROOM, ROOM), normalize=False)
    middle = np.argwhere(line & (room >= 0.75 * ROOM * puppet.pen))
    if not len(middle):
        return None
    row, col = (int(v) for v in middle[int(rng.integers(len(middle)))])
    wide = cv2.dilate(line.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0  # with its blended rim
    rows, cols = np.nonzero(wide)
    gone = np.hypot(rows - row, cols - col) <= length / 2 + puppet.pen / 2
    open_ = rgba.copy()
    open_[rows[gone], cols[gone]] = (*puppet.colors[puppet.paint(pair[0])], 255)
    ink = ~np.any(list(masks.values()), axis=0) & (rgba[..., 3] == 255)
    if not _has_stubs(ink, (row, col), length, 1.4 * puppet.pen):
        return None
    if len(places(puppet, open_)) >= len(places(puppet, rgba)):
        return None
    return Leak(number, open_, (col, row), length)


def _has_stubs(ink: Mask, spot: tuple[int, int], length: float, pen: float) -> bool:
    """Tell whether two stubs of line, and no other, go on past a gap for a pen's width and some."""
    rows, cols = np.mgrid[: ink.shape[0], : ink.shape[1]]
    far = np.hypot(rows - spot[0], cols - spot[1])
    start = length / 2 + pen / 2 + 1
    around = ink & (far >= start) & (far <= start + pen + 3)
    pieces, labels = cv2.connectedComponents(around.astype(np.uint8), connectivity=8)
    if pieces != 3:
        return False
    ways, sizes = [], []
    for piece in (1, 2):
        own = np.argwhere(labels == piece) - spot
        ways.append(own.mean(axis=0) / np.hypot(*own.mean(axis=0)))
        sizes.append(len(own))
    # A stub of line has about its pen's width times the way; what runs into another line has more.
    return (
        float(ways[0] @ ways[1]) < -0.85
        and 0.5 * pen * pen <= min(sizes)
        and max(sizes) <= 1.6 * pen * (pen + 3)
    )


def main() -> None:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", choices=("tune", "held"), default="tune")
    parser.add_argument("--count", type=int, default=40, help="figures before the split")
    parser.add_argument("--show", action="store_true", help="tell every leak that is no retake")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    counts: Counter[str] = Counter()
    for number in range(options.count):
        puppet = Puppet(number)
        if held(number) == (options.split == "held") and puppet.pen:
            _measure(puppet, counts, options.show)
    print(dict(counts))
    low, high = wilson(counts["retake"], counts["leaks"])
    share = 100 * counts["retake"] / max(1, counts["leaks"])
    print(f"retakes {share:.1f} % ({100 * low:.1f} to {100 * high:.1f})")


def _at(fault: Fault, leak: Leak) -> bool:
    return fault.point is not None and bool(np.hypot(*np.subtract(fault.point, leak.point)) < NEAR)


def _measure(puppet: Puppet, counts: Counter[str], show: bool) -> None:
    clean = [result(puppet, number, puppet.drawing(number)[0]) for number in range(puppet.count)]
    counts["clean drawings"] += len(clean)
    for cel in clean:
        counts["clean, alone: retakes"] += sum(fault.verdict is Verdict.RETAKE for fault in cel.faults)
        counts["clean, alone: queries"] += sum(fault.verdict is Verdict.QUERY for fault in cel.faults)
    for cel in with_closed_lines(clean, puppet.palette):
        counts["clean, together: retakes"] += sum(fault.verdict is Verdict.RETAKE for fault in cel.faults)
        counts["clean, together: queries"] += sum(fault.verdict is Verdict.QUERY for fault in cel.faults)
        if show:
            print(
                *(f"false {puppet.name} {cel.drawing} {fault.point} {fault.text}" for fault in cel.faults),
                sep="\n",
            )
    for leak in leaks(puppet):
        level = list(clean)
        level[leak.number] = result(puppet, leak.number, leak.rgba)
        alone = any(_at(fault, leak) for fault in level[leak.number].faults)
        cel = with_closed_lines(level, puppet.palette)[leak.number]
        here = [fault for fault in cel.faults if _at(fault, leak)]
        told = here[0].verdict.value if here else "taken for drawn" if alone else "missed"
        counts["leaks"] += 1
        counts[told] += 1
        if show and told != "retake":
            print(
                f"{told} {puppet.name}, {puppet.style}, {cel.drawing} at {leak.point}, {leak.length:.1f} px"
            )


if __name__ == "__main__":
    main()
