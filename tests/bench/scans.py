"""Recall and false alarms on simulated scans of outside art: `python -m tests.bench.scans --help`.

Every cel is laid on a scanner of its own, drawn at random, with its own lie, dust and noise; the scanner is
calibrated by a scan of the chart on it. The cel's scan is checked once as it is and once with each injected
fault. Held drawings are scanned by held scanners.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [
    str(Path(__file__).parents[2]),
    str(Path(__file__).parent),
    str(Path(__file__).parents[1] / "scan"),
]

from art import digest  # noqa: E402
from cases import Case, cels, default_cache  # noqa: E402
from flawed import FLAWED  # noqa: E402
from inject import KINDS, Injected, remembered  # noqa: E402
from scan_cases import (  # noqa: E402
    MM,
    SCAN_VERSION,
    SCANS,
    SIZES_MM,
    Scanned,
    check_pixels,
    facts_of,
    in_mm,
    on_cel,
    scan_of,
    scanner_of,
)
from score import Outcome, judge, wilson  # noqa: E402
from show import captioned, crop, write_sheets  # noqa: E402

from cel_check.checks.run import check_drawing  # noqa: E402
from cel_check.drawing.separate import take_apart  # noqa: E402
from cel_check.faults import Fault, Verdict  # noqa: E402
from cel_check.picture.picture import Picture  # noqa: E402
from cel_check.settings import DEFAULTS  # noqa: E402

MARGIN = 12
"""Pixels of the scan (1 mm) off the injected ones within which a fault points at them."""

BINS_MM = (0.0, 0.5, 0.7, 1.0)
"""Sizes from which a row of the table counts."""


def arguments() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", choices=("tune", "held"), default="tune", help="a third is held out")
    parser.add_argument("--count", type=int, default=60, help="drawings picked before the split")
    parser.add_argument(
        "--kinds", default=",".join(KINDS), help=f"of {','.join(KINDS)}; 'none' for false alarms only"
    )
    parser.add_argument("--seed", type=int, default=0, help="other scanners, places and sizes")
    parser.add_argument("--show", type=Path, help="write contact sheets of misses and false alarms here")
    parser.add_argument("--markdown", type=Path, help="write the table here too")
    parser.add_argument("--list", action="store_true", help="print each miss, false alarm and scanner")
    parser.add_argument("--cache", type=Path, default=default_cache(), help="folder for cels and scans")
    return parser.parse_args()


def injected(case: Case, kind: str, seed: int, cache: Path) -> Injected | None:
    """Return the cel with one fault, its size drawn in millimeters; None where it has no place for it."""

    def make() -> Injected | None:
        rng = np.random.default_rng(digest("scan", seed, kind, case.name))
        if kind not in SIZES_MM:
            return KINDS[kind](case, rng)
        low, high = np.log(SIZES_MM[kind])
        return KINDS[kind](case, rng, MM * float(np.exp(rng.uniform(low, high))))  # type: ignore[call-arg]

    return remembered(cache / SCANS.folder / case.name / f"{kind}-{seed}.npz", make)


@dataclass(frozen=True)
class Clean:
    """What was found on an untouched cel's scan, and of that what the painting on it does not have."""

    name: str
    faults: tuple[Fault, ...]
    of_scan: tuple[Fault, ...]


def on_painting(case: Case) -> tuple[Fault, ...]:
    """Return what is found on the cel before it is scanned: slits and corners of the drawing's own art."""
    picture = Picture(np.ascontiguousarray(case.rgba), None, False, "0" * 64, None, ())
    return check_drawing(take_apart(picture, case.palette, DEFAULTS), DEFAULTS)


def at_one_place(first: Fault, second: Fault) -> bool:
    """Tell whether two faults are of one kind, and the middles of their boxes within the margin."""
    if first.kind is not second.kind or first.box is None or second.box is None:
        return first.kind is second.kind and first.box is second.box
    middles = [(box[0] + box[2] / 2, box[1] + box[3] / 2) for box in (first.box, second.box)]
    return max(abs(one - two) for one, two in zip(*middles, strict=True)) <= MARGIN


class Board:
    """Gathers outcomes, and the crops to look at."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.options = options
        self.outcomes: list[tuple[Outcome, float]] = []
        self.clean: list[Clean] = []
        self.no_place: Counter[str] = Counter()
        self.tiles: dict[str, list[NDArray[np.uint8]]] = {}
        self.seconds: list[float] = []

    def found(self, case: Case, rgba: NDArray[np.uint8], scanner: Scanned, kind: str) -> tuple[Fault, ...]:
        """Scan a cel and check it; faults lie on the cel."""
        name = f"{case.name}-{kind}-{self.options.seed}.zst"
        pixels = scan_of(rgba, case, scanner, self.options.cache / f"scans-v{SCAN_VERSION}" / name)
        start = time.perf_counter()
        faults = check_pixels(pixels, case, scanner).faults
        self.seconds.append(time.perf_counter() - start)
        return tuple(on_cel(fault, scanner) for fault in faults)

    def untouched(self, case: Case, scanner: Scanned) -> tuple[Fault, ...]:
        """Check the cel as it is."""
        faults = self.found(case, case.rgba, scanner, "clean")
        painted = on_painting(case)
        mine = tuple(fault for fault in faults if not any(at_one_place(fault, old) for old in painted))
        self.clean.append(Clean(case.name, faults, mine))
        for fault in faults:
            if fault.box is None:
                continue  # what was not surely checked, or the register
            text = f"{case.name} {case.style.name}\n{fault.verdict} {fault.kind} {fault.box}"
            if self.options.list:
                print("FALSE", text.replace("\n", " "), fault.text)
            self._tile(f"false-{fault.verdict}-{fault.kind}", case, case.rgba, (fault.box, text))
        return faults

    def with_fault(self, case: Case, kind: str, scanner: Scanned, before: tuple[Fault, ...]) -> None:
        """Check the cel with one injected fault."""
        pair = injected(case, kind, self.options.seed, self.options.cache)
        if pair is None:
            self.no_place[kind] += 1
            return
        rgba, truth = pair
        found = self.found(case, rgba, scanner, kind)
        outcome = judge((kind, case.style.name), truth, found, before, MARGIN)
        self.outcomes.append((outcome, in_mm(kind, truth)))
        if outcome.hit:
            return
        told = f"told as {','.join(outcome.under)}" if outcome.under else "missed"
        size = f"{in_mm(kind, truth):.2f} mm" if kind in SIZES_MM else f"{truth.size:.1f} {truth.unit}"
        text = f"{case.name} {case.style.name}\n{truth.variant} {size} {told}"
        if self.options.list:
            print("MISS", kind, text.replace("\n", " "), truth.box)
        self._tile(f"missed-{kind}", case, rgba, (truth.box, text))

    def _tile(
        self, name: str, case: Case, rgba: NDArray[np.uint8], what: tuple[tuple[int, ...] | None, str]
    ) -> None:
        box, text = what
        height, width = rgba.shape[:2]
        here = (0, 0, width, height)
        if box is not None and -40 < box[0] < width and -40 < box[1] < height:
            here = (max(0, box[0]), max(0, box[1]), box[2], box[3])
        tile = captioned([crop(case.rgba, here), crop(rgba, here, here)], text)
        self.tiles.setdefault(name, []).append(tile)


def _firm(faults: Sequence[Fault]) -> bool:
    return any(fault.verdict is Verdict.RETAKE for fault in faults)


def _asked(faults: Sequence[Fault]) -> bool:
    return any(fault.verdict is Verdict.QUERY for fault in faults)


def rows_of(outcomes: Sequence[tuple[Outcome, float]]) -> Iterator[tuple[str, list[Outcome]]]:
    """Yield the table's rows: each kind, and its sizes or forms."""
    for kind in KINDS:
        group = [(one, size) for one, size in outcomes if one.kind == kind]
        if not group:
            continue
        if kind not in SIZES_MM:
            for variant in sorted({one.variant for one, _ in group}):
                yield f"{kind}, {variant}", [one for one, _ in group if one.variant == variant]
            continue
        yield kind, [one for one, _ in group]
        for low, high in zip(BINS_MM, (*BINS_MM[1:], np.inf), strict=True):
            some = [one for one, size in group if low <= size < high]
            if some:
                least = max(low, round(min(size for _, size in group if low <= size < high), 1))
                end = "and more" if high == np.inf else f"to {high:g} mm"
                yield f"{kind}, {least:g} mm {end}".replace(" mm to", " to"), some


def table(outcomes: Sequence[tuple[Outcome, float]], clean: Sequence[Clean]) -> str:
    """Return recall by kind, and what was found on the untouched cels, as Markdown."""
    lines = [
        "| injected | scans | found, % (95 % interval) | as a retake, % |",
        "| --- | --- | --- | --- |",
    ]
    for name, group in rows_of(outcomes):
        hits, total = sum(one.hit for one in group), len(group)
        low, high = wilson(hits, total)
        firm = sum(one.verdict is Verdict.RETAKE for one in group)
        lines.append(
            f"| {name} | {total} | {100 * hits / total:.1f} ({100 * low:.1f} to {100 * high:.1f}) | "
            f"{100 * firm / total:.1f} |"
        )
    return "\n".join([*lines, "", *clean_lines(clean)]) + "\n"


def clean_lines(clean: Sequence[Clean]) -> list[str]:
    """Return how many untouched cels are sent back, and how many need a person's look."""
    right = [cel for cel in clean if cel.name not in FLAWED]
    kinds = Counter(f"{f.verdict} {f.kind}" for cel in right for f in cel.faults if f.box is not None)
    lines = []
    for word, test in (("sent back", _firm), ("asked about", _asked)):
        bad = sum(test([f for f in cel.faults if f.box is not None]) for cel in right)
        own = bad - sum(test([f for f in cel.of_scan if f.box is not None]) for cel in right)
        low, high = wilson(bad, len(right))
        share = 100 * bad / max(1, len(right))
        lines.append(
            f"Of {len(right)} untouched cels whose own art has no fault {bad} are {word}: {share:.1f} % "
            f"({100 * low:.1f} to {100 * high:.1f}), {own} for what is found on the painting too."
        )
    passed = sum(not cel.faults for cel in right)
    unsure = sum(bool(cel.faults) and all(fault.box is None for fault in cel.faults) for cel in right)
    lines.append(f"{passed} pass; of {unsure} no fault is told, but not all was surely checked.")
    return [*lines, f"By kind: {dict(kinds) or 'none'}."]


def main() -> None:
    """Run the benchmark and print its tables."""
    cv2.setNumThreads(1)
    options, left_out = arguments(), Counter[str]()
    board, held = Board(options), options.split == "held"
    kinds = [kind for kind in options.kinds.split(",") if kind in KINDS]
    for number, case in enumerate(cels(options.count, options.split, options.cache, left_out, SCANS)):
        try:
            scanner = scanner_of(case, 1000 * options.seed + number, held, options.cache)
        except ValueError as problem:
            left_out[str(problem)] += 1
            continue
        if options.list:
            print(case.name, case.style.name, facts_of(scanner), flush=True)
        before = board.untouched(case, scanner)
        for kind in kinds:
            board.with_fault(case, kind, scanner, before)
    print(f"split {options.split}, seed {options.seed}; left out: {dict(left_out) or 'none'}")
    print(f"no place found: {dict(board.no_place) or 'none'}")
    print(f"median check: {1000 * float(np.median(board.seconds or [0])):.0f} ms of {len(board.seconds)}\n")
    text = table(board.outcomes, board.clean)
    print(text)
    if options.markdown:
        options.markdown.write_text(text, encoding="utf-8")
    if options.show:
        for name, tiles in board.tiles.items():
            write_sheets(tiles, options.show, name)


if __name__ == "__main__":
    main()
