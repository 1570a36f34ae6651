"""`open-line` beside the simple methods, on the same gaps and the same untouched cels.

Run it: `python -m tests.bench.gap_methods --help`. A gap is found where something is told at its place and
was not told there on the untouched cel. Whatever is told on an untouched cel is a false alarm; drawings whose
own art has a fault (`flawed.py`) are left out there.
"""

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from cases import Case, cels, default_cache  # noqa: E402
from flawed import FLAWED  # noqa: E402
from inject import Truth  # noqa: E402
from run import check, injected  # noqa: E402
from score import at_place, same_fault, wilson  # noqa: E402
from simple_gaps import SIMPLE, seen  # noqa: E402

from cel_check.faults import Fault, FaultKind, SendTo, Verdict  # noqa: E402

OURS = ("open-line as a retake", "open-line, retake or query")
STEPS = (2.0, 4.0, 8.0, 16.0)
"""Pixels from which the groups of gaps are long."""

SMALL = 2
"""Half the side of a simple method's mark, which is a point: two within 3 px are one."""

Told = dict[str, list[Fault]]


@dataclass
class Tally:
    """What one method did: gaps asked and found by length, false alarms, untouched cels that have one."""

    asked: Counter[float] = field(default_factory=Counter)
    found: Counter[float] = field(default_factory=Counter)
    alarms: int = 0
    cels: int = 0


def told_on(case: Case, rgba: NDArray[np.uint8]) -> Told:
    """Return what every method tells of one cel."""
    ours = [fault for fault in check(rgba, case) if fault.kind is FaultKind.OPEN_LINE]
    told = {OURS[0]: [fault for fault in ours if fault.verdict is Verdict.RETAKE], OURS[1]: ours}
    cel = seen(case, rgba)
    return told | {name: [_mark(x, y) for x, y in method(cel)] for name, method in SIMPLE.items()}


def _mark(x: float, y: float) -> Fault:
    column, row = round(x), round(y)
    box = (column - SMALL, row - SMALL, 2 * SMALL + 1, 2 * SMALL + 1)
    return Fault(
        FaultKind.OPEN_LINE, Verdict.RETAKE, "", SendTo.INK, confidence=1.0, box=box, point=(column, row)
    )


def count_clean(tallies: dict[str, Tally], told: Told) -> None:
    """Count what was told on a cel that is right."""
    for name, faults in told.items():
        tallies[name].alarms += len(faults)
        tallies[name].cels += bool(faults)


def count_gap(tallies: dict[str, Tally], truth: Truth, told: Told, before: Told) -> None:
    """Count which methods found one gap."""
    step = max(one for one in STEPS if one <= truth.size)
    for name, faults in told.items():
        new = [fault for fault in faults if not any(same_fault(fault, old) for old in before[name])]
        tallies[name].asked[step] += 1
        tallies[name].found[step] += any(at_place(fault, truth) for fault in new)


def table(tallies: dict[str, Tally], cels_right: int) -> Iterator[str]:
    """Yield the table's lines."""
    heads = [f"{low:g} to {high:g} px" for low, high in pairwise(STEPS)] + [f"{STEPS[-1]:g} px and up"]
    yield f"{'gaps found, % of n':<36}{'all (95 % interval), n':>30}" + "".join(
        f"{head:>16}" for head in heads
    )
    for name, tally in tallies.items():
        groups = [(tally.found[step], tally.asked[step]) for step in STEPS]
        hits, total = (sum(numbers) for numbers in zip(*groups, strict=True))
        low, high = wilson(hits, total)
        whole = f"{100 * hits / max(1, total):.1f} ({100 * low:.1f} to {100 * high:.1f}), {total}"
        each = "".join(f"{f'{100 * good / max(1, of):.0f} of {of}':>16}" for good, of in groups)
        yield f"{name:<36}{whole:>30}{each}"
    yield ""
    head = f"false alarms on {cels_right} untouched cels"
    yield f"{head:<36}{'a cel':>10}{'cels with, % (95 % interval)':>36}"
    for name, tally in tallies.items():
        low, high = wilson(tally.cels, cels_right)
        share = f"{100 * tally.cels / max(1, cels_right):.1f} ({100 * low:.1f} to {100 * high:.1f})"
        yield f"{name:<36}{tally.alarms / max(1, cels_right):>10.2f}{share:>36}"


def main() -> None:
    """Run every method on every case."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", choices=("tune", "held"), default="tune", help="a third is held out")
    parser.add_argument("--count", type=int, default=240, help="drawings picked before the split")
    parser.add_argument("--seed", type=int, default=0, help="other places and sizes for the same cels")
    parser.add_argument("--cache", type=Path, default=default_cache(), help="folder for rendered cels")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    tallies = {name: Tally() for name in (*OURS, *SIMPLE)}
    right = 0
    for case in cels(options.count, options.split, options.cache, Counter[str]()):
        before = told_on(case, case.rgba)
        if case.name not in FLAWED:
            right += 1
            count_clean(tallies, before)
        pair = injected(case, "open-line", options.seed, options.cache)
        if pair is not None:
            count_gap(tallies, pair[1], told_on(case, pair[0]), before)
    print(f"split {options.split}, seed {options.seed}")
    print("\n".join(table(tallies, right)))


if __name__ == "__main__":
    main()
