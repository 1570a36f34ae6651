"""Cels at the size of a 300 dpi scan, their scanners with profiles, and what a check finds on their scans."""

from dataclasses import asdict, dataclass, replace
from pathlib import Path

import imagecodecs
import numpy as np
import scan_sim
from art import Color
from cases import Case, Recipe
from inject import Truth
from numpy.typing import NDArray
from scan_art import chart_light, picture_of
from scan_sim import DPI, HEIGHT, WIDTH, Bed, card_for, draw_bed, lie_of, move_of, scanned_light
from styles import Style, choose_style

from cel_check.faults import Fault
from cel_check.scan.calibrate import Calibration, calibrate
from cel_check.scan.chart import Edition, published
from cel_check.scan.profile import Profile, profile_toml
from cel_check.scan.punch import Punch
from cel_check.scene.scan_cel import CheckedScan, check_scan
from cel_check.scene.scan_terms import ScanTerms, widened
from cel_check.settings import DEFAULTS

SCAN_VERSION = 1
"""Raised whenever a scan or its cel would come out differently."""

SIZE = 0.9
"""Times the size of a cel for the screen: figures of 1.5 to 3 inches, whose own pen is 1 to 2 mm wide."""

PENS = {3.0: 8.0, 5.0: 8.0, 8.0: 14.0, 14.0: 14.0}
"""A pen's width on a scan: 0.7 and 1.2 mm; drawings that no thin pen closes keep their own."""

MM = DPI / 25.4
"""Pixels a millimeter."""

SIZES_MM: dict[str, tuple[float, float]] = {
    "pinhole": (0.5, 1.2), "spill": (0.5, 1.2), "stray": (0.5, 1.5), "dirt": (0.5, 1.5),
    "open-line": (0.4, 2.0),
}  # fmt: skip
"""Sizes that are put in, drawn evenly in their logarithm; kinds that are not listed draw their own."""


def scan_style(name: str, colors: tuple[Color, ...]) -> Style:
    """Return the style of a drawing's cel: its usual one at a scan's size, on clear acetate."""
    style = choose_style(name, colors)
    pen = None if style.pen is None else PENS[style.pen]
    return replace(style, crisp=False, height=round(SIZE * style.height), pen=pen, card=None)


SCANS = Recipe(f"scan-cels-v{SCAN_VERSION}", scan_style, 30)


@dataclass(frozen=True, eq=False)
class Scanned:
    """One cel's scanner, and how its scans are taken.

    Attributes:
        bed: the scanner and the lie.
        terms: what a scene would say of it.
        seed: of its noise.
        where: `(2, 3)` from x, y of the scan to x, y of the cel.
        supported: ΔE00 that the profile supports.
    """

    bed: Bed
    terms: ScanTerms
    seed: int
    where: NDArray[np.float64]

    @property
    def supported(self) -> float:
        """ΔE00 closer than which the profile tells no color."""
        return self.terms.supported


def scanner_of(case: Case, seed: int, held: bool, cache: Path) -> Scanned:
    """Draw a cel's scanner and calibrate it by a scan of the chart on it.

    Raises:
        ValueError: where its chart is refused.
    """
    bed = draw_bed(seed, held)
    path = cache / f"scanners-v{SCAN_VERSION}" / f"{'held' if held else 'tune'}-{seed}.toml"
    chart = published(next(iter(Edition)))
    lit = scanned_light(chart_light(chart), replace(bed, fall=0.0), np.random.default_rng([seed, 1]))
    made = calibrate(picture_of(lit), chart, None, None)
    if not isinstance(made, Calibration):
        raise ValueError(f"the chart was refused: {made.wrong}")
    words = ("bench", "bench", "0" * 64, "2000-01-01T00:00:00Z", "bench")
    profile = Profile(made.fit.correction, None, made.residual, *words)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(profile_toml(profile), encoding="utf-8")
    card = card_for(np.array(case.colors, np.uint8))
    terms = ScanTerms(float(DPI), str(path), "0" * 64, made.residual.p95, card, Punch(), made.residual.mean)
    return placed(Scanned(bed, terms, seed, np.zeros((2, 3))), case.rgba)


def placed(scanner: Scanned, rgba: NDArray[np.uint8]) -> Scanned:
    """Return a scanner that knows where a cel of that size lies on its scan."""
    return replace(scanner, where=_from_scan((rgba.shape[1], rgba.shape[0]), scanner.bed))


def _from_scan(size: tuple[int, int], bed: Bed) -> NDArray[np.float64]:
    scale, x, y = lie_of(size)
    lie = np.array([[scale, 0, x], [0, scale, y], [0, 0, 1.0]])
    return np.asarray(np.linalg.inv(np.vstack([move_of(bed), [0, 0, 1.0]]) @ lie)[:2], np.float64)


def scan_of(rgba: NDArray[np.uint8], case: Case, scanner: Scanned, path: Path) -> NDArray[np.uint8]:
    """Return the scan of a cel, from the cache where it is there."""
    if path.exists():
        codes = np.frombuffer(imagecodecs.zstd_decode(path.read_bytes()), np.uint8)
        return codes.reshape(HEIGHT, WIDTH, 3)
    pixels = scan_sim.scan(rgba, np.array(case.colors, np.uint8), scanner.bed, scanner.seed)
    path.parent.mkdir(parents=True, exist_ok=True)
    part = path.with_suffix(".part")
    part.write_bytes(imagecodecs.zstd_encode(pixels.tobytes(), level=1))
    part.replace(path)
    return pixels


def check_pixels(pixels: NDArray[np.uint8], case: Case, scanner: Scanned) -> CheckedScan:
    """Check a scan as a worker does."""
    palette = widened(case.palette, scanner.terms)
    return check_scan(picture_of(pixels, float(DPI)), palette, DEFAULTS, scanner.terms)


def on_cel(fault: Fault, scanner: Scanned) -> Fault:
    """Return a fault with its place on the cel instead of on the scan."""
    point = None
    if fault.point is not None:
        x, y = scanner.where @ [*fault.point, 1.0]
        point = (round(x), round(y))
    box = None
    if fault.box is not None:
        x, y, w, h = fault.box
        # A turned box keeps its size about its middle: turns are 2 degrees at most.
        middle = scanner.where @ [x + w / 2, y + h / 2, 1.0]
        box = (round(middle[0] - w / 2), round(middle[1] - h / 2), w, h)
    return replace(fault, point=point, box=box)


def facts_of(scanner: Scanned) -> str:
    """Return a scanner's parameters as one line."""
    parts = []
    for name, value in asdict(scanner.bed).items():
        numbers = ",".join(f"{number:.3g}" for number in np.ravel(value).tolist())
        parts.append(f"{name}={numbers}")
    return f"p95={scanner.supported:.2f} " + " ".join(parts)


def in_mm(kind: str, truth: Truth) -> float:
    """Return the size of an injected fault in millimeters: a diameter, a depth or a length; 0 for others."""
    if kind not in SIZES_MM:
        return 0.0
    return truth.size * (2 if kind == "pinhole" else 1) / MM
