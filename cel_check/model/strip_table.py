"""Reads a strip that was measured: CGATS text or CSV whose rows say how many cels lie over which chip."""

import re
from pathlib import Path

import numpy as np

from cel_check.errors import BadInput, Problem
from cel_check.model.cels_above import MOST_BANDS, Strip, linear_of
from cel_check.model.drawdowns import lab_d65_of
from cel_check.model.measured import MeasuredSet, Sample, read_measured

_COUNT = re.compile(r"(?<!\d)(\d{1,2})(?!\d)")
_FILLER = re.compile(r"\bcels?\b|\bunder\b|[\W_]+", re.IGNORECASE)
_NAMES = 'Name each row by the chip and the number of cels over it, as in "gray 0", "gray 1".'


def read_strips(path: Path) -> tuple[Strip, ...]:
    """Read the strips of a file, one for each chip.

    Raises:
        BadInput: where the file cannot be read, a row's name has no single number, or a number is missing.
    """
    return tuple(strip for table in read_measured(path) for strip in _strips(table))


def _strips(table: MeasuredSet) -> list[Strip]:
    named = [(row, _named(table, row)) for row in table.samples]
    chips: dict[str, dict[int, Sample]] = {}
    for row, (chip, cels) in named:
        rows = chips.setdefault(chip, {})
        if cels in rows:
            wrong = f"the chip under {cels} cels stands in line {rows[cels].line} already"
            raise BadInput(
                Problem(table.file, f"line {row.line}", wrong, "Keep one of the two, or their mean.")
            )
        rows[cels] = row
    return [_strip(table, chip, rows) for chip, rows in chips.items()]


def _named(table: MeasuredSet, row: Sample) -> tuple[str, int]:
    """Return the chip and the number of cels that a row's likeliest name says."""
    for name in row.names:
        counts = _COUNT.findall(name)
        if len(counts) == 1 and int(counts[0]) < MOST_BANDS:
            return _FILLER.sub(" ", _COUNT.sub(" ", name)).strip().casefold(), int(counts[0])
    wrong = f"no number of cels is in its name {row.names[0]!r}" if row.names else "the row has no name"
    raise BadInput(Problem(table.file, f"line {row.line}", wrong, _NAMES))


def _strip(table: MeasuredSet, chip: str, rows: dict[int, Sample]) -> Strip:
    missing = next((cels for cels in range(max(rows)) if cels not in rows), None)
    if missing is not None:
        of = f" of the chip {chip}" if chip else ""
        what = "the bare chip" if missing == 0 else f"the band under {missing} cels"
        raise BadInput(Problem(table.file, "", f"{what}{of} is missing", _NAMES))
    lab = np.array([lab_d65_of(table, rows[cels]) for cels in range(len(rows))])
    return Strip(table.file, linear_of(lab))
