"""How well simulated scans are brought to register: `python -m tests.bench.scan_register --help`.

A sheet with three peg holes and a disk of paint is scanned up to 2 degrees and 5 mm off, each time by
another scanner. What counts is how far the corners of the field end up from their places.
"""

import argparse
import sys
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE), str(HERE.parent / "scan")]

from scan_art import picture_of  # noqa: E402
from scan_sim import DPI, HEIGHT, STRIP, WIDTH, draw_bed, move_of, scan  # noqa: E402
from score import wilson  # noqa: E402

from cel_check.scan.punch import Punch  # noqa: E402
from cel_check.scan.register import OffRegister, register  # noqa: E402

MUST = 0.1
"""Millimeters that 95 of 100 scans must stay under."""

COAT = (200, 85, 61)


def sheet() -> NDArray[np.uint8]:
    """Return a cel with a disk of paint on it."""
    rgba = np.zeros((1200, 1600, 4), np.uint8)
    cv2.circle(rgba, (800, 600), 400, (*COAT, 255), -1)
    return rgba


def worst_mm(found: NDArray[np.float64], true: NDArray[np.float64]) -> float:
    """Return how far the field's corners land from their places, the most of them, in mm."""
    right, bottom = WIDTH - 1, HEIGHT - 1 - STRIP
    corners = np.array([[0, 0, 1], [right, 0, 1], [0, bottom, 1], [right, bottom, 1]], float)
    back = np.column_stack([corners @ true.T, np.ones(4)]) @ found.T
    return float(np.hypot(*(back - corners[:, :2]).T).max()) / DPI * 25.4


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--split", choices=("tune", "held"), default="tune", help="other scanners")
    parser.add_argument("--count", type=int, default=40, help="scans")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    off, lost = [], 0
    for seed in range(options.count):
        bed = draw_bed(20_000 + seed, options.split == "held")
        pixels = scan(sheet(), np.array([COAT], np.uint8), bed, seed)
        found = register(picture_of(pixels, float(DPI)), float(DPI), Punch())
        if isinstance(found, OffRegister):
            lost += 1
            print(f"{seed}: {found.wrong}")
            continue
        off.append(worst_mm(found.move, move_of(bed)))
    hits = sum(one < MUST for one in off)
    low, high = (100 * share for share in wilson(hits, options.count))
    print(f"{hits} of {options.count} within {MUST} mm, {100 * hits / options.count:.1f} % ", end="")
    print(f"({low:.1f} to {high:.1f}); off register {lost}; mm: median {np.median(off):.3f}, ", end="")
    print(f"95 of 100 within {np.percentile(off, 95):.3f}, worst {max(off):.3f}")


if __name__ == "__main__":
    main()
