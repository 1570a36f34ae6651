"""A table of measurements as text: fields and rows, and where each stands, whatever file it came from."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from cel_check.errors import BadInput, Problem
from cel_check.model.tomlfile import shown

_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d{1,3})?\Z", re.ASCII)


@dataclass(frozen=True)
class Row:
    """One row of a table.

    Attributes:
        line: in the file, from 1.
        cells: one text a field.
    """

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True)
class MeasuredTable:
    """One table of a measurement file.

    Attributes:
        file: the path as the user wrote it.
        line: where the table begins, from 1.
        keywords: what stands above the table, by keyword in capitals; the values of a keyword that stands
            several times are joined by `; `.
        fields: names of the columns, in capitals.
        rows: in file order.
    """

    file: str
    line: int
    keywords: Mapping[str, str]
    fields: tuple[str, ...]
    rows: tuple[Row, ...]

    def number(self, row: Row, field: int) -> float:
        """Return a cell as a number; a decimal comma is one.

        Raises:
            BadInput: where it is none.
        """
        text = row.cells[field].strip()
        if not _NUMBER.match(text):
            where = f"line {row.line}, {self.fields[field]}"
            mend = "Write a number as in 65.71 (or 65,71)."
            raise BadInput(Problem(self.file, where, f"{shown(text)} is not a number", mend))
        return float(text.replace(",", "."))
