"""Recall and false alarms on outside art: `python -m tests.bench.run --help`.

Every cel is checked once as it is (whatever is found is a false alarm) and once with each injected fault.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from art import digest  # noqa: E402
from cases import Case, cels, default_cache  # noqa: E402
from flawed import FLAWED  # noqa: E402
from inject import KINDS, Injected, Truth, remembered  # noqa: E402
from reliability import Told, plot, tables, told_on_injected, told_on_untouched  # noqa: E402
from score import Outcome, alarm_table, judge, markdown_table, recall_tables  # noqa: E402
from show import captioned, crop, write_sheets  # noqa: E402
from styles import VERSION  # noqa: E402

from cel_check.checks.run import check_drawing  # noqa: E402
from cel_check.drawing.separate import take_apart  # noqa: E402
from cel_check.faults import Fault  # noqa: E402
from cel_check.picture.picture import Picture  # noqa: E402
from cel_check.settings import DEFAULTS  # noqa: E402

INJECT_VERSION = 5
"""Raised whenever an injection would come out differently."""


def arguments() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "--split", choices=("tune", "held", "all"), default="tune", help="a third is held out"
    )
    parser.add_argument("--count", type=int, default=240, help="drawings picked before the split")
    parser.add_argument(
        "--kinds", default=",".join(KINDS), help=f"of {','.join(KINDS)}; 'none' for false alarms only"
    )
    parser.add_argument("--seed", type=int, default=0, help="other places and sizes for the same cels")
    parser.add_argument(
        "--styles", default="", help="only styles whose name holds one of these words, by comma"
    )
    parser.add_argument("--show", type=Path, help="write contact sheets of misses and false alarms here")
    parser.add_argument("--markdown", type=Path, help="write README's table here too")
    parser.add_argument("--reliability", type=Path, help="draw confidence against truth here, as SVG")
    parser.add_argument("--cache", type=Path, default=default_cache(), help="folder for rendered cels")
    return parser.parse_args()


def check(rgba: NDArray[np.uint8], case: Case) -> tuple[Fault, ...]:
    """Check one cel given as an array."""
    opaque = bool((rgba[..., 3] == 255).all())
    picture = Picture(np.ascontiguousarray(rgba), None, opaque, "", None, ())
    return check_drawing(take_apart(picture, case.palette, DEFAULTS), DEFAULTS)


def injected(case: Case, kind: str, seed: int, cache: Path) -> Injected | None:
    """Return the cel with one fault, cached; None where the cel has no place for it."""
    path = cache / f"v{VERSION}" / case.name / f"{kind}-{seed}-v{INJECT_VERSION}.npz"
    return remembered(path, lambda: KINDS[kind](case, np.random.default_rng(digest(seed, kind, case.name))))


class Board:
    """Gathers outcomes and the crops to look at."""

    def __init__(self) -> None:
        self.outcomes: list[Outcome] = []
        self.clean: list[tuple[str, tuple[Fault, ...]]] = []
        self.flawed: list[int] = []
        self.told: list[Told] = []
        self.no_place: Counter[str] = Counter()
        self.crashed: Counter[str] = Counter()
        self.tiles: dict[str, list[NDArray[np.uint8]]] = {}
        self.seconds: list[float] = []

    def timed(self, rgba: NDArray[np.uint8], case: Case) -> tuple[Fault, ...]:
        """Check a cel; a crash is counted and shown at the end, and finds nothing."""
        start = time.perf_counter()
        try:
            return check(rgba, case)
        except Exception as problem:
            self.crashed[f"{type(problem).__name__}: {problem}"] += 1
            return ()
        finally:
            self.seconds.append(time.perf_counter() - start)

    def untouched(self, case: Case) -> tuple[Fault, ...]:
        """Check the cel as it is."""
        faults = self.timed(case.rgba, case)
        if case.name in FLAWED:
            self.flawed.append(len(self.clean))
        else:
            self.told += told_on_untouched(faults)
        self.clean.append((case.style.name, faults))
        for fault in faults:
            box = fault.box or (0, 0, case.rgba.shape[1], case.rgba.shape[0])
            text = f"{case.name} {case.style.name}\n{fault.verdict} {fault.kind} {box}"
            tile = captioned([crop(case.rgba, box), crop(case.rgba, box, box)], text)
            self.tiles.setdefault(f"false-{fault.verdict}-{fault.kind}", []).append(tile)
        return faults

    def with_fault(
        self, case: Case, kind: str, pair: tuple[NDArray[np.uint8], Truth], before: tuple[Fault, ...]
    ) -> None:
        """Check the cel with one injected fault."""
        rgba, truth = pair
        found = self.timed(rgba, case)
        outcome = judge((kind, case.style.name), truth, found, before)
        self.told += told_on_injected(truth, found, before)
        self.outcomes.append(outcome)
        head = f"{case.name} {case.style.name}\n{truth.variant} {truth.size:.1f} {truth.unit} "
        if not outcome.hit:
            text = head + (f"told as {','.join(outcome.under)}" if outcome.under else "missed")
            tile = captioned([crop(case.rgba, truth.box), crop(rgba, truth.box, truth.box)], text)
            self.tiles.setdefault(f"missed-{kind}", []).append(tile)
        for fault in outcome.extra:
            if fault.box is not None:
                tile = captioned(
                    [crop(rgba, truth.box), crop(rgba, fault.box, fault.box)], head + f"extra {fault.kind}"
                )
                self.tiles.setdefault(f"extra-{kind}", []).append(tile)


def wanted(cases: Iterator[Case], styles: str) -> Iterator[Case]:
    """Keep the cels whose style's name holds one of the words."""
    words = [word for word in styles.split(",") if word]
    return (case for case in cases if not words or any(word in case.style.name for word in words))


def main() -> None:
    """Run the benchmark and print its tables."""
    cv2.setNumThreads(1)
    options, board, left_out = arguments(), Board(), Counter[str]()
    kinds = [kind for kind in options.kinds.split(",") if kind in KINDS]
    for case in wanted(cels(options.count, options.split, options.cache, left_out), options.styles):
        before = board.untouched(case)
        for kind in kinds:
            pair = injected(case, kind, options.seed, options.cache)
            if pair is None:
                board.no_place[kind] += 1
            else:
                board.with_fault(case, kind, pair, before)
    print(f"split {options.split}, seed {options.seed}; drawings left out: {dict(left_out) or 'none'}")
    print(f"no place found: {dict(board.no_place) or 'none'}; crashed: {dict(board.crashed) or 'none'}")
    print(f"median check: {1000 * float(np.median(board.seconds or [0])):.0f} ms of {len(board.seconds)}")
    print("\n".join(["", *alarm_table(board.clean)]))
    right = [cel for place, cel in enumerate(board.clean) if place not in board.flawed]
    print(f"\nwithout the {len(board.flawed)} drawings whose own art has a fault (flawed.py)")
    print("\n".join([*alarm_table(right), *(recall_tables(board.outcomes) if kinds else [])]))
    print("\n".join(["", f"{len(board.clean)} cels untouched, {len(board.outcomes)} with a fault put in"]))
    print("\n".join(tables(board.told)))
    if options.reliability:
        options.reliability.write_text(plot(board.told), encoding="utf-8")
    if options.markdown:
        options.markdown.write_text(markdown_table(board.outcomes, board.clean, right), encoding="utf-8")
    if options.show:
        for old in options.show.glob("*.png"):
            old.unlink()
        for name, tiles in board.tiles.items():
            write_sheets(tiles, options.show, name)
        print(f"\ncontact sheets in {options.show}")


if __name__ == "__main__":
    main()
