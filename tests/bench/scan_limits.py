"""How thin and how pale a line may be whose gaps are found on scans: `python -m tests.bench.scan_limits`.

Rings of ink around disks of paint, each with one gap, lie on a sheet that is scanned and checked: pens and
colors of the ink are those of the table's rows. Scanners are those of the tuned side.
"""

import argparse
import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE), str(HERE.parent / "scan")]

from cases import Case, default_cache, model_of  # noqa: E402
from scan_art import picture_of  # noqa: E402
from scan_cases import MM, scanner_of  # noqa: E402
from scan_sim import DPI, HEIGHT, STRIP, WIDTH, scan  # noqa: E402
from score import wilson  # noqa: E402
from styles import Style  # noqa: E402

from cel_check.checks.open_line import open_gaps  # noqa: E402
from cel_check.color.difference import ciede2000  # noqa: E402
from cel_check.color.spaces import srgb8_to_lab  # noqa: E402
from cel_check.scan.prepare import WORK_DPI  # noqa: E402
from cel_check.scene.scan_cel import check_scan  # noqa: E402
from cel_check.scene.scan_terms import widened  # noqa: E402
from cel_check.settings import DEFAULTS  # noqa: E402

FILL = (236, 184, 150)
PENS_MM = (0.25, 0.35, 0.45, 0.55, 0.7, 1.0)
SHADES = (0.0, 0.4, 0.6, 0.7, 0.78, 0.85)
"""Ink is so much of the fill's codes: 0 is black, 1 the fill itself."""

GAPS_MM = (0.4, 1.0)
FINE, PITCH, RADIUS = 4, 210, 70.0


def ring(pen: float, gap: float, turn: float) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return the shares `(PITCH, PITCH)` of paint and of ink of one ring; lengths in pixels."""
    y, x = (np.mgrid[: PITCH * FINE, : PITCH * FINE] + 0.5) / FINE - PITCH / 2
    along, across = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    distance = np.hypot(x, y)
    line = (np.abs(distance - RADIUS) < pen / 2) & ~((along > 0) & (np.abs(across) < gap / 2))
    paint = (distance < RADIUS) & ~line
    shares = (mask.reshape(PITCH, FINE, PITCH, FINE).mean(axis=(1, 3)) for mask in (paint, line))
    first, second = (share.astype(np.float32) for share in shares)
    return first, second


def sheet(
    ink: tuple[int, int, int], rng: np.random.Generator
) -> tuple[NDArray[np.uint8], list[tuple[float, float, float, float]]]:
    """Return a cel full of rings, and of each its pen in mm, its gap in mm, and where the gap is."""
    down, right = (HEIGHT - STRIP - 200) // PITCH, (WIDTH - 200) // PITCH
    shares = np.zeros((2, down * PITCH, right * PITCH), np.float32)
    truths = []
    for number in range(down * right):
        top, left = number // right * PITCH, number % right * PITCH
        pen, turn = PENS_MM[number % len(PENS_MM)], float(rng.uniform(0, 2 * np.pi))
        gap = float(np.exp(rng.uniform(*np.log(GAPS_MM))))
        shares[:, top : top + PITCH, left : left + PITCH] = ring(pen * MM, gap * MM, turn)
        middle = (left + PITCH / 2, top + PITCH / 2)
        truths.append((pen, gap, middle[0] + RADIUS * np.cos(turn), middle[1] + RADIUS * np.sin(turn)))
    alpha = shares.sum(axis=0)
    color = shares[0][..., None] * FILL + shares[1][..., None] * np.array(ink, np.float32)
    rgb = color / np.maximum(alpha, 1e-3)[..., None]
    return np.dstack([np.rint(rgb), np.rint(alpha * 255)]).astype(np.uint8), truths


def case_of(rgba: NDArray[np.uint8], ink: tuple[int, int, int]) -> Case:
    """Return a sheet as a cel of the benchmark."""
    none = np.zeros((0, *rgba.shape[:2]), np.uint8)
    style = Style(False, 8.0, "black", ink, rgba.shape[0], None)
    return Case(
        "rings", "limits", style, model_of({FILL: (True, False), ink: (False, True)}), rgba, none, none
    )


def main() -> None:
    """Run and print a table: rows are inks, columns pens."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scanners", type=int, default=3, help="sheets scanned of each ink")
    parser.add_argument("--dpi", type=int, default=DPI, help="pixels an inch to which scans are made smaller")
    parser.add_argument("--cache", type=Path, default=default_cache(), help="folder for scanners")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    print("ink, ΔE00 from the paint | " + " | ".join(f"{pen} mm" for pen in PENS_MM))
    for row, shade in enumerate(SHADES):
        red, green, blue = (round(shade * code) for code in FILL)
        ink = (red, green, blue)
        apart = float(ciede2000(*srgb8_to_lab(np.array([FILL, ink], np.uint8))))
        total, hits, false = Counter[float](), Counter[float](), 0
        for number in range(options.scanners):
            seed = 9000 + 10 * row + number
            rgba, truths = sheet(ink, np.random.default_rng(seed))
            case = case_of(rgba, ink)
            scanner = scanner_of(case, seed, False, options.cache)
            pixels = scan(rgba, np.array(case.colors, np.uint8), scanner.bed, seed)
            size = [side * options.dpi // DPI for side in pixels.shape[1::-1]]
            pixels = np.asarray(cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
            terms = replace(scanner.terms, dpi=float(options.dpi))
            found = check_scan(picture_of(pixels), widened(case.palette, terms), DEFAULTS, terms)
            # Before many gaps between the same two sides are taken for dashes.
            gaps = np.array([gap.middle for gap in open_gaps(found.drawing)]).reshape(-1, 2)
            work = min(WORK_DPI, options.dpi)
            spots = (gaps + found.drawing.ground.origin + 0.5) * DPI / work - 0.5
            spots = np.column_stack([spots, np.ones(len(spots))]) @ scanner.where.T
            near: set[int] = set()
            for pen, _, x, y in truths:
                total[pen] += 1
                mine = {n for n, spot in enumerate(spots) if np.hypot(spot[0] - x, spot[1] - y) < 14}
                hits[pen] += bool(mine)
                near |= mine
            false += len(spots) - len(near)
        cells = []
        for pen in PENS_MM:
            low, _ = wilson(hits[pen], total[pen])
            cells.append(f"{hits[pen]} of {total[pen]} (from {100 * low:.0f} %)")
        print(f"{apart:.1f} | " + " | ".join(cells) + f" | {false} elsewhere", flush=True)


if __name__ == "__main__":
    main()
