"""How well a calibration predicts patches it has not seen, beside a plain 3x3 fit, on real spectra.

Run it: `python -m tests.bench.calibration`. Reflectances of the chart, sensors, lamps, observer and D50 are
measured data that colour-science brings (`SDS_COLOURCHECKERS`, `MSDS_CAMERA_SENSITIVITIES` from a national
laboratory, `SDS_ILLUMINANTS` of CIE 015:2018). Exposure, tone curve and noise are invented. Each chart is
drawn as a picture and goes through `calibrate`, so that finding, measuring and refusing count as well.
"""

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import product
from pathlib import Path

import colour
import numpy as np
from numpy.typing import NDArray

sys.path[:0] = [str(Path(__file__).parents[2])]

from cel_check.color.spaces import White, linear_to_srgb, white_xyz, xyz_to_lab  # noqa: E402
from cel_check.picture.picture import Picture  # noqa: E402
from cel_check.scan.calibrate import Calibration, calibrate  # noqa: E402
from cel_check.scan.chart import COLUMNS, ROWS, Chart  # noqa: E402

Floats = NDArray[np.float64]

SHAPE = colour.SpectralShape(400, 700, 5)
"""Nanometers that all data share."""

EXPOSURE, NOISE = 0.93, 1.0
"""Code of a perfect white in linear light, and a pixel's noise in levels of 255."""

PITCH, GAP, MARGIN = 60, 5, 60
"""Pixels from patch to patch, of mount around each, and of paper around the chart."""

PAPER, MOUNT = 0.85, 0.014
"""Reflectance of the paper and of the chart's black mount, the same at all wavelengths."""

SPECTRA = ("ColorChecker N Ohta", "BabelColor Average")
"""One measured chart, and the mean of thirty."""


@dataclass(frozen=True)
class Scanner:
    """A simulated scanner: number of its sensor among colour-science's, lamp, and gamma (0: sRGB's curve)."""

    sensor: int
    lamp: str
    gamma: float = 0.0

    def __str__(self) -> str:
        """What a table calls it."""
        curve = f"gamma {self.gamma:g}" if self.gamma else "sRGB's curve"
        return f"sensor {self.sensor + 1}, {self.lamp}, {curve}"


LAMPS = ("FL11", "LED-B3")
"""A fluorescent tube of three narrow bands, and a white LED."""

SCANNERS = tuple(Scanner(*one) for one in product((0, 1), LAMPS, (0.0, 1.8)))


def _values(spectra: object) -> Floats:
    return np.asarray(spectra.copy().align(SHAPE).values, np.float64)  # type: ignore[attr-defined]


@cache
def reflectances(name: str) -> Floats:
    """Return `(24, wavelengths)` of a chart, 0 to 1."""
    return np.array([_values(one) for one in colour.SDS_COLOURCHECKERS[name].values()])


@cache
def reference(name: str) -> Chart:
    """Return what the chart's spectra are to the 2 degree observer under D50."""
    weights = _values(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])
    weights = weights * _values(colour.SDS_ILLUMINANTS["D50"])[:, None]
    # Scaled to D50's own white: the data end at 700 nm, and a perfect white must be one.
    xyz = reflectances(name) @ weights / weights.sum(axis=0) * white_xyz(White.D50)
    return Chart(name, xyz_to_lab(xyz, White.D50))


def light(scanner: Scanner, reflectance: Floats) -> Floats:
    """Return the linear codes `(n, 3)` of reflectances, each channel balanced to a perfect white."""
    sensors = list(colour.MSDS_CAMERA_SENSITIVITIES.values())
    seen = _values(sensors[scanner.sensor]) * _values(colour.SDS_ILLUMINANTS[scanner.lamp])[:, None]
    linear: Floats = EXPOSURE * (reflectance @ seen) / seen.sum(axis=0)
    return linear


def scan(scanner: Scanner, name: str) -> Picture:
    """Return the 16-bit scan of a chart upright on paper."""
    shape = (ROWS * PITCH + 2 * MARGIN, COLUMNS * PITCH + 2 * MARGIN, 3)
    linear = np.full(shape, EXPOSURE * PAPER)
    linear[MARGIN - GAP : GAP - MARGIN, MARGIN - GAP : GAP - MARGIN] = EXPOSURE * MOUNT
    for patch, color in enumerate(light(scanner, reflectances(name))):
        top, left = (MARGIN + GAP + PITCH * at for at in divmod(patch, COLUMNS))
        linear[top : top + PITCH - 2 * GAP, left : left + PITCH - 2 * GAP] = color
    codes = linear ** (1 / scanner.gamma) if scanner.gamma else linear_to_srgb(linear)
    codes = codes + np.random.default_rng(7).normal(0, NOISE / 255, shape)
    deep = np.rint(np.clip(codes, 0, 1) * 65535).astype(np.uint16)
    rgba = np.dstack([np.rint(deep / 257).astype(np.uint8), np.full(shape[:2], 255, np.uint8)])
    return Picture(rgba, deep, True, "0" * 64, 300.0, ())


def calibrated(scanner: Scanner, name: str) -> Calibration:
    """Return the calibration of a scanner by a chart.

    Raises:
        ValueError: where the chart is refused, with the reason.
    """
    found = calibrate(scan(scanner, name), reference(name), None, None)
    if not isinstance(found, Calibration):
        raise ValueError(f"{scanner}, {name}: {found.wrong}")
    return found


def table() -> Iterator[str]:
    """Yield the table's lines."""
    heads = f"{'kept':>18}{'mean':>8}{'95th':>8}{'plain 3x3, mean':>18}{'95th':>8}"
    yield f"{'ΔE00 of patches left out':<40}{heads}"
    for name, scanner in product(SPECTRA, SCANNERS):
        found = calibrated(scanner, name)
        left, kind = found.residual, found.fit.correction.kind.value
        chart = f"{SPECTRA.index(name) + 1}, {scanner}"
        numbers = f"{left.mean:>8.2f}{left.p95:>8.2f}{left.plain_mean:>18.2f}{left.plain_p95:>8.2f}"
        yield f"chart {chart:<34}{kind:>18}{numbers}"


def main() -> None:
    """Calibrate every scanner with every chart."""
    argparse.ArgumentParser(description=__doc__).parse_args()
    for line in table():
        print(line, flush=True)


if __name__ == "__main__":
    main()
