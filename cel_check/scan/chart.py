"""What a 24-patch chart should measure: the two published editions, or a file of one's own measurements.

Patches go row by row from the top left, the chart held so that its gray row is at the bottom, white to the
left. Values are CIE L*a*b* under D50, 2 degree observer: the maker's, as colour-science 0.4.7 holds them
(`DATA_COLORCHECKER24_BEFORE_NOV2014_CIE_LAB` and `..._AFTER_NOV2014_CIE_LAB`, cited there to X-Rite 2016).
The two editions differ by up to 1.95 ΔE00 (white), so a profile says which one it was made with.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import White, adapt, lab_to_xyz, xyz_to_lab
from cel_check.errors import BadInput, Problem
from cel_check.model.measured import MeasuredSet, Sample, read_measured

ROWS, COLUMNS = 4, 6
PATCHES = ROWS * COLUMNS

NEUTRAL = tuple(range(18, 24))
"""The gray row, from white to black."""

NAMES = (
    "dark skin",
    "light skin",
    "blue sky",
    "foliage",
    "blue flower",
    "bluish green",
    "orange",
    "purplish blue",
    "moderate red",
    "purple",
    "yellow green",
    "orange yellow",
    "blue",
    "green",
    "red",
    "yellow",
    "magenta",
    "cyan",
    "white 9.5",
    "neutral 8",
    "neutral 6.5",
    "neutral 5",
    "neutral 3.5",
    "black 2",
)


class Edition(StrEnum):
    """Which of the two published sets of values a chart has: by the month in which it was made."""

    AFTER = "after-2014"
    BEFORE = "before-2014"


@dataclass(frozen=True, eq=False)
class Chart:
    """A chart's reference.

    Attributes:
        edition: what a profile calls it: `after-2014`, `before-2014`, or the name of a file.
        lab: `(24, 3)` CIE L*a*b* under D50.
    """

    edition: str
    lab: NDArray[np.float64]

    @property
    def xyz(self) -> NDArray[np.float64]:
        """`(24, 3)` XYZ under D50, Y = 1 for the white."""
        return lab_to_xyz(self.lab, White.D50)


def published(edition: Edition) -> Chart:
    """Return the published values of an edition."""
    return Chart(edition.value, np.array(_LAB[edition]))


def chart_of_file(path: Path) -> Chart:
    """Read a chart's own measurements: CGATS.17 / ISO 28178 text or CSV, with L*a*b* or XYZ.

    Rows are taken by name where all have one that places them (a number from 1 to 24, A1 to D6 with a letter
    a row, A1 to F4 with a letter a column, or the patch's name), else in file order.

    Raises:
        BadInput: where the file cannot be read, or does not hold 24 colors.
    """
    tables = [table for table in read_measured(path) if len(table.samples) == PATCHES]
    if not tables:
        counts = ", ".join(str(len(table.samples)) for table in read_measured(path))
        wrong = f"a 24-patch chart has {PATCHES} colors, and it holds {counts}"
        raise BadInput(Problem(str(path), "", wrong, "Give the measurements of the chart alone."))
    table = tables[0]
    lab = np.array([_lab(table, sample) for sample in table.samples])
    ordered = np.empty_like(lab)
    ordered[list(_places(table.samples))] = lab
    return Chart(path.name, ordered)


def _lab(table: MeasuredSet, sample: Sample) -> NDArray[np.float64]:
    if sample.xyz is not None:
        xyz = np.array(sample.xyz) / 100.0
    elif sample.lab is not None:
        xyz = lab_to_xyz(sample.lab, table.white)
    else:
        wrong = "it holds spectra alone"
        mend = "Export L*a*b* or XYZ (D50, 2 degrees) too."
        raise BadInput(Problem(table.file, f"line {sample.line}", wrong, mend))
    return xyz_to_lab(adapt(xyz, table.white, White.D50), White.D50)


def _places(samples: tuple[Sample, ...]) -> tuple[int, ...]:
    """Return the patch that each row measures."""
    for place in (_by_number, _by_row_letter, _by_column_letter, _by_name):
        for column in range(max(len(sample.names) for sample in samples)):
            names = [sample.names[column] if column < len(sample.names) else "" for sample in samples]
            found = tuple(place(name.strip()) for name in names)
            if sorted(found) == list(range(PATCHES)):
                return found
    return tuple(range(PATCHES))


def _by_number(name: str) -> int:
    return int(name) - 1 if re.fullmatch(r"\d{1,2}", name, re.ASCII) else -1


def _by_row_letter(name: str) -> int:
    match = re.fullmatch(r"([A-D])0?([1-6])", name, re.IGNORECASE)
    return COLUMNS * (ord(match[1].upper()) - ord("A")) + int(match[2]) - 1 if match else -1


def _by_column_letter(name: str) -> int:
    match = re.fullmatch(r"([A-F])0?([1-4])", name, re.IGNORECASE)
    return COLUMNS * (int(match[2]) - 1) + ord(match[1].upper()) - ord("A") if match else -1


def _by_name(name: str) -> int:
    return NAMES.index(name.lower()) if name.lower() in NAMES else -1


_LAB_AFTER = (
    (37.54, 14.37, 14.92),
    (64.66, 19.27, 17.5),
    (49.32, -3.82, -22.54),
    (43.46, -12.74, 22.72),
    (54.94, 9.61, -24.79),
    (70.48, -32.26, -0.37),
    (62.73, 35.83, 56.5),
    (39.43, 10.75, -45.17),
    (50.57, 48.64, 16.67),
    (30.1, 22.54, -20.87),
    (71.77, -24.13, 58.19),
    (71.51, 18.24, 67.37),
    (28.37, 15.42, -49.8),
    (54.38, -39.72, 32.27),
    (42.43, 51.05, 28.62),
    (81.8, 2.67, 80.41),
    (50.63, 51.28, -14.12),
    (49.57, -29.71, -28.32),
    (95.19, -1.03, 2.93),
    (81.29, -0.57, 0.44),
    (66.89, -0.75, -0.06),
    (50.76, -0.13, 0.14),
    (35.63, -0.46, -0.48),
    (20.64, 0.07, -0.46),
)

_LAB_BEFORE = (
    (37.986, 13.555, 14.059),
    (65.711, 18.13, 17.81),
    (49.927, -4.88, -21.905),
    (43.139, -13.095, 21.905),
    (55.112, 8.844, -25.399),
    (70.719, -33.397, -0.199),
    (62.661, 36.067, 57.096),
    (40.02, 10.41, -45.964),
    (51.124, 48.239, 16.248),
    (30.325, 22.976, -21.587),
    (72.532, -23.709, 57.255),
    (71.941, 19.363, 67.857),
    (28.778, 14.179, -50.297),
    (55.261, -38.342, 31.37),
    (42.101, 53.378, 28.19),
    (81.733, 4.039, 79.819),
    (51.935, 49.986, -14.574),
    (51.038, -28.631, -28.638),
    (96.539, -0.425, 1.186),
    (81.257, -0.638, -0.335),
    (66.766, -0.734, -0.504),
    (50.867, -0.153, -0.27),
    (35.656, -0.421, -1.231),
    (20.461, -0.079, -0.973),
)

_LAB = {Edition.AFTER: _LAB_AFTER, Edition.BEFORE: _LAB_BEFORE}
