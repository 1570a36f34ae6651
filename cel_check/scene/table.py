"""The bytes of a CSV file as rows of cells: encodings, delimiters, quotes and line ends."""

import csv
import io
from dataclasses import dataclass
from pathlib import Path

from cel_check.errors import BadInput, Problem
from cel_check.scene.names import same_name

LARGEST_BYTES = 50_000_000
"""Some hundred times the sheet of a whole feature film; more is another file under this name."""


@dataclass(frozen=True)
class Record:
    """One row of the file; `row` counts from 1 as a spreadsheet does, empty rows included."""

    row: int
    cells: tuple[str, ...]

    def cell(self, at: int) -> str:
        """Return the cell in a column without the blanks around it; empty past the row's end."""
        return self.cells[at].strip() if at < len(self.cells) else ""

    @property
    def empty(self) -> bool:
        """Whether nothing is written in any cell."""
        return not any(map(str.strip, self.cells))


def bytes_of(path: Path, largest: int, kind: str) -> bytes:
    """Return a text file's bytes.

    Args:
        path: the file; a folder or a fifo is refused without being opened.
        largest: in bytes; a longer file is refused.
        kind: what belongs there, for the mend.

    Raises:
        BadInput: where it is no plain file, cannot be read or is too long.
    """
    name = str(path)
    mend = f"Put the {kind} there."
    try:
        if not path.is_file():
            raise BadInput(Problem(name, "", "it is no plain file", mend))
        with path.open("rb") as file:
            data = file.read(largest + 1)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise BadInput(Problem(name, "", f"it cannot be read ({reason})", "Make it readable.")) from None
    if len(data) > largest:
        raise BadInput(Problem(name, "", f"it is longer than {largest // 1_000_000} MB", mend))
    return data


def records_of(data: bytes, name: str, column: str) -> tuple[Record, ...]:
    """Return the rows of a CSV file, from the first that is not empty.

    Args:
        data: UTF-8, with or without a byte order mark; commas, semicolons or tabs between cells.
        name: the file's name for messages.
        column: a column that the header must have; the delimiter is the one that makes it a column.

    Raises:
        BadInput: where the bytes are no text, or the text is no CSV table.
    """
    text = _text_of(data, name)
    # Strict: a quote that is never closed would otherwise swallow the rest of the sheet without a word.
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text, column), strict=True)
    records: list[Record] = []
    row = 0
    try:
        for row, cells in enumerate(reader, start=1):
            record = Record(row, tuple(cells))
            if records or not record.empty:
                records.append(record)
    except csv.Error as error:
        mend = "Close every quote, and write a quote inside a quoted cell twice."
        raise BadInput(Problem(name, f"row {row + 1}", f"it is not a CSV table ({error})", mend)) from None
    return tuple(records)


def _text_of(data: bytes, name: str) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise BadInput(Problem(name, "", "it is UTF-16 text", "Save it as UTF-8 (CSV)."))
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        raise BadInput(
            Problem(name, f"row {row}", "it is not UTF-8 text", "Save it as UTF-8 (CSV).")
        ) from None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _delimiter(text: str, column: str) -> str:
    header = next((line for line in text.split("\n") if line.strip()), "")

    def worth(delimiter: str) -> tuple[bool, int]:
        cells = [cell.strip(' "\t') for cell in header.split(delimiter)]
        return (any(same_name(cell) == column for cell in cells), len(cells))

    return max((",", ";", "\t"), key=worth)
