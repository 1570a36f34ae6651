"""A model color on the wrong part, on simulated scans: `python -m tests.bench.scan_parts --split held`.

A level of seven drawings of one figure is scanned by one scanner, each drawing with its own lie, dust and
noise, and judged as it is (each fault is a false alarm); then each of some parts is painted wrong on one
drawing. Figures and scanners of the held side are others than those of the tuned side.
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE), str(HERE.parent / "scan")]

from art import digest  # noqa: E402
from cases import Case, default_cache  # noqa: E402
from parts import JUDGED, Mask, Wrong, held, hit  # noqa: E402
from puppets import Puppet  # noqa: E402
from scan_cases import SCAN_VERSION, Scanned, check_pixels, on_cel, placed, scan_of, scanner_of  # noqa: E402
from scan_sim import draw_bed  # noqa: E402
from score import wilson  # noqa: E402
from styles import Style  # noqa: E402

from cel_check.faults import Fault, FaultKind, Verdict  # noqa: E402
from cel_check.scene.compared import told_on_scans  # noqa: E402
from cel_check.scene.evidence import with_evidence  # noqa: E402
from cel_check.scene.results import CelResult  # noqa: E402
from cel_check.scene.scan_terms import widened  # noqa: E402
from cel_check.scene.wrong_part import with_wrong_parts  # noqa: E402

DRAWINGS = 7
"""Drawings of a level."""

SCALE = 2
"""Times the figure's size for the screen: some four inches high, with pens of 0.4 to 1 mm."""

LEAST = 300
"""Pixels of the scan (2 square millimeters) that a wrong part shows at least."""


@dataclass(frozen=True, eq=False)
class Bench:
    """One figure, its scanner, and where its scans are kept."""

    puppet: Puppet
    case: Case
    scanner: Scanned
    held: bool
    cache: Path

    def scanned(self, number: int, painted: dict[str, int]) -> tuple[CelResult, Scanned, dict[str, Mask]]:
        """Return what a check of one drawing's scan gives, and how it lay."""
        rgba, masks = self.puppet.drawing(number, painted, SCALE)
        seed = 100 * self.scanner.seed + number
        lie = draw_bed(seed, self.held)
        bed = replace(self.scanner.bed, turn=lie.turn, shift=lie.shift, dust=lie.dust)
        scanner = placed(replace(self.scanner, bed=bed, seed=seed), rgba)
        words = "-".join(f"{part}-{color}".replace(" ", "-") for part, color in painted.items())
        folder = self.cache / f"scans-v{SCAN_VERSION}"
        path = folder / f"{self.puppet.name}-{number}-{words}.zst".replace(" ", "-")
        found = check_pixels(scan_of(rgba, self.case, scanner, path), self.case, scanner)
        name = str(number + 1)
        cel = CelResult("A", name, f"A/{name}.png", Verdict.PASS, found.faults, places=found.places)
        return cel, scanner, masks


def bench_of(number: int, held_out: bool, cache: Path) -> Bench:
    """Return a figure with its scanner."""
    puppet = Puppet(number)
    rgba = puppet.drawing(0, None, SCALE)[0]
    style = Style(False, SCALE * puppet.pen or None, "black", puppet.ink, rgba.shape[0], None)
    none = np.zeros((0, *rgba.shape[:2]), np.uint8)
    case = Case(puppet.name, "figure", style, puppet.palette, rgba, none, none)
    return Bench(puppet, case, scanner_of(case, 5000 + number, held_out, cache), held_out, cache)


def wrongs(puppet: Puppet, count: int) -> Iterator[tuple[int, str, int]]:
    """Yield a drawing, a part and the paint of another that it gets there."""
    rng = np.random.default_rng(digest("scanned wrong", puppet.name))
    for _ in range(count):
        part = JUDGED[int(rng.integers(len(JUDGED)))]
        others = sorted({puppet.paint(name) for name in JUDGED} - {puppet.paint(part)})
        yield int(rng.integers(DRAWINGS)), part, others[int(rng.integers(len(others)))]


def compared(bench: Bench, cels: list[CelResult]) -> tuple[CelResult, ...]:
    """Hold the drawings against one another as a scene does."""
    palette = widened(bench.puppet.palette, bench.scanner.terms)
    done = with_wrong_parts(with_evidence(cels, {"A": palette}), palette, ())
    return told_on_scans(done, bench.scanner.terms)


@dataclass(eq=False)
class Tally:
    """Counts over all figures."""

    clean: int = 0
    false: int = 0
    asked: int = 0
    total: int = 0
    found: int = 0
    firm: int = 0


def told(faults: tuple[Fault, ...]) -> list[Fault]:
    """Return the faults of this kind."""
    return [fault for fault in faults if fault.kind is FaultKind.WRONG_PART]


def measure(bench: Bench, count: int, tally: Tally) -> None:
    """Judge one figure's level as it is, and with a part wrong."""
    right = [bench.scanned(number, {}) for number in range(DRAWINGS)]
    cels = [cel for cel, _, _ in right]
    for cel in compared(bench, cels):
        faults = told(cel.faults)
        tally.clean += 1
        tally.false += any(fault.verdict is Verdict.RETAKE for fault in faults)
        tally.asked += any(fault.verdict is Verdict.QUERY for fault in faults)
        for fault in faults:
            print("FALSE", bench.puppet.name, bench.puppet.style, cel.drawing, fault.verdict, fault.text)
    for number, part, color in wrongs(bench.puppet, count):
        masks = right[number][2]
        if part not in masks or np.count_nonzero(masks[part]) < LEAST:
            continue
        cel, scanner, masks = bench.scanned(number, {part: color})
        done = compared(bench, [*cels[:number], cel, *cels[number + 1 :]])[number]
        wrong = Wrong(masks[part], color, bench.puppet.paint(part))
        hits = [fault for fault in told(done.faults) if hit(on_cel(fault, scanner), wrong)]
        tally.total += 1
        tally.found += bool(hits)
        tally.firm += any(fault.verdict is Verdict.RETAKE for fault in hits)
        if not hits:
            words = bench.puppet.style, number + 1, part, f"{np.count_nonzero(masks[part])} px"
            print("MISS", bench.puppet.name, *words, [fault.text for fault in done.faults if fault.box])


def main() -> None:
    """Run the benchmark and print its counts."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--split", choices=("tune", "held"), default="tune", help="half of the figures is held"
    )
    parser.add_argument("--count", type=int, default=12, help="figures before the split")
    parser.add_argument("--parts", type=int, default=4, help="parts painted wrong of each figure")
    parser.add_argument("--cache", type=Path, default=default_cache(), help="folder for scans")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    tally = Tally()
    for number in range(options.count):
        if held(number) == (options.split == "held"):
            measure(bench_of(number, options.split == "held", options.cache), options.parts, tally)
    low, high = (100 * share for share in wilson(tally.found, tally.total))
    share = 100 * tally.found / max(1, tally.total)
    print(f"wrong parts found: {tally.found} of {tally.total}, {share:.1f} % ({low:.1f} to {high:.1f}), ")
    print(f"as a retake: {tally.firm}; clean drawings: {tally.clean}, sent back {tally.false}, ", end="")
    print(f"asked about {tally.asked}")


if __name__ == "__main__":
    main()
