"""What the color tests are held against: tables of tests/reference, and libraries that warn on import."""

import csv
import importlib
import warnings
from pathlib import Path
from types import ModuleType

import numpy as np
from numpy.typing import NDArray

_REFERENCE = Path(__file__).parents[1] / "reference"


def table(name: str) -> dict[str, NDArray]:
    """Return a table of tests/reference by column, numbers as float64. Lines with # name its source."""
    lines = (_REFERENCE / name).read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    return {column: _column([row[column] for row in rows]) for column in rows[0]}


def columns(name: str, *wanted: str) -> NDArray[np.float64]:
    """Return columns of a table side by side."""
    read = table(name)
    return np.stack([read[column] for column in wanted], axis=-1)


def _column(texts: list[str]) -> NDArray:
    try:
        return np.array(texts, dtype=np.float64)
    except ValueError:
        return np.array(texts)


def quiet_import(name: str) -> ModuleType:
    """Import a library whose own warnings are not this program's."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return importlib.import_module(name)
