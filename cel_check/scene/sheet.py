"""`sheet.csv`, the exposure sheet: which drawing each level shows on each frame.

A sheet is read whole before anything is judged, and every problem of it is told at once. Columns come in
three kinds. A *level column* bears the name of a level folder. A *lone column* holds nothing but drawing
numbers and bears a name that is no level folder: the level was not handed in, which is a fault of the scene
and no broken sheet, since every other level can still be checked. All other columns are *remarks* (camera,
dialogue, notes), kept and shown; of them only the camera column is read, for its fields. A cell is never used
as a path: it holds a drawing number or it is a problem.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from cel_check.errors import BadInput, Problem
from cel_check.scene.camera import COLUMN, Field, fields_of, wrong_entries
from cel_check.scene.names import listed, number_in_cell, same_name, shown
from cel_check.scene.table import LARGEST_BYTES, Record, bytes_of, records_of

FILE_NAME = "sheet.csv"
FRAME_COLUMN = "frame"
MOST_PROBLEMS = 25
"""More than a person mends in one go; the rest is counted."""
# Columns that are never a level, even where every cell is a number (a field size, a peg, a cue).
# fmt: off
REMARK_NAMES = frozenset({
    "action", "bars", "beat", "camera", "count", "cue", "dialog", "dialogue", "exposure", "feet", "field",
    "foot", "footage", "fps", "frames", "lens", "music", "no", "note", "notes", "page", "pan", "peg", "pegs",
    "remark", "remarks", "scene", "sec", "seconds", "shot", "sound", "stop", "take", "time", "track", "zoom",
})
# fmt: on
_NO_CEL = "x"


@dataclass(frozen=True)
class SheetRow:
    """One frame of the sheet.

    Attributes:
        frame: the frame's number.
        cels: a drawing number for each of the sheet's levels, holds filled in; None where it is empty.
        remarks: `(column, text)` of the other columns where not empty.
    """

    frame: int
    cels: tuple[str | None, ...]
    remarks: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Sheet:
    """An exposure sheet.

    Attributes:
        levels: the level and lone columns from the bottom level to the top, named as the folders are.
        lone: those of `levels` that no folder stands for.
        rows: the frames in order.
        notes: what a person should know of the sheet that is no fault (frames that have no row).
        fields: what the camera sees on each row's frame, None where the column does not say; empty where it
            never does.
    """

    levels: tuple[str, ...]
    lone: tuple[str, ...]
    rows: tuple[SheetRow, ...]
    notes: tuple[str, ...] = ()
    fields: tuple[Field | None, ...] = ()


@dataclass(frozen=True)
class _Column:
    """A column of the sheet: `at` is its place in a row; `level` the level's name, or None for a remark."""

    at: int
    name: str
    level: str | None = None


def read_sheet(path: Path, folders: Sequence[str]) -> Sheet:
    """Read an exposure sheet.

    Args:
        path: the file.
        folders: names of the scene's level folders.

    Raises:
        BadInput: with every problem of the sheet, each with its row and column.
    """
    data = bytes_of(path, LARGEST_BYTES, "exposure sheet")
    return parse_sheet(data, str(path), folders)


def parse_sheet(data: bytes, name: str, folders: Sequence[str]) -> Sheet:
    """Parse an exposure sheet from the bytes of its file; see `read_sheet`."""
    records = records_of(data, name, FRAME_COLUMN)
    if not records:
        raise BadInput(
            Problem(name, "", "it is empty", "Write a header `frame,A,B` and a row a frame, or remove it.")
        )
    header, body = records[0], tuple(record for record in records[1:] if not record.empty)
    problems: list[Problem] = []
    columns = _columns(header, body, folders)
    problems += _header_problems(name, header, body, columns)
    frame_at = next((column.at for column in columns if same_name(column.name) == FRAME_COLUMN), None)
    if frame_at is None:
        raise BadInput(*problems)
    problems += _frame_problems(name, body, frame_at)
    problems += _cell_problems(name, body, columns)
    problems += _camera_problems(name, body, columns)
    if problems:
        raise BadInput(*_bounded(name, problems))
    return _sheet(body, columns, frame_at, folders)


def _columns(header: Record, body: Sequence[Record], folders: Sequence[str]) -> tuple[_Column, ...]:
    columns = []
    for at in range(len(header.cells)):
        name = header.cell(at)
        if same_name(name) == FRAME_COLUMN:
            columns.append(_Column(at, name))
            continue
        level = _folder_named(name, folders)
        if level is None and _is_lone(name, [record.cell(at) for record in body]):
            level = name
        columns.append(_Column(at, name, level))
    return tuple(columns)


def _folder_named(name: str, folders: Sequence[str]) -> str | None:
    if name in folders:
        return name
    alike = [folder for folder in folders if same_name(folder) == same_name(name)]
    return alike[0] if len(alike) == 1 else None


def _is_lone(name: str, cells: Sequence[str]) -> bool:
    if not name or same_name(name) in REMARK_NAMES:
        return False
    filled = [cell for cell in cells if cell and cell.lower() != _NO_CEL]
    return bool(filled) and all(number_in_cell(cell) is not None for cell in filled)


def _header_problems(
    name: str, header: Record, body: Sequence[Record], columns: Sequence[_Column]
) -> list[Problem]:
    problems = []
    where = f"row {header.row}"
    seen: dict[str, str] = {}
    for column in columns:
        key = column.level or (FRAME_COLUMN if same_name(column.name) == FRAME_COLUMN else "")
        if key and key in seen:
            wrong = f"the column {_quoted(column.name)} is there twice"
            problems.append(Problem(name, where, wrong, "Keep one of them."))
        seen[key] = column.name
        if not column.name and any(number_in_cell(record.cell(column.at)) for record in body):
            wrong = f"column {column.at + 1} holds drawing numbers and has no name"
            problems.append(Problem(name, where, wrong, "Write its level's name into the header."))
    if FRAME_COLUMN not in seen:
        found = listed(tuple(_quoted(column.name) for column in columns if column.name)) or "none"
        wrong = f"there is no column `frame` (columns found: {found})"
        problems.append(Problem(name, where, wrong, "Name the column of the frame numbers `frame`."))
    return problems


def _frame_problems(name: str, body: Sequence[Record], frame_at: int) -> list[Problem]:
    if not body:
        return [Problem(name, "", "it has no frames", "Write a row a frame below the header, or remove it")]
    problems = []
    last: int | None = None
    for record in body:
        cell = record.cell(frame_at)
        where = f"row {record.row}, column `frame`"
        frame = _frame_number(cell)
        if frame is None:
            wrong = f"{_quoted(cell)} is not a whole number" if cell else "the frame number is missing"
            problems.append(Problem(name, where, wrong, "Write the frame's number."))
            continue
        if last is not None and frame <= last:
            wrong = (
                f"frame {frame} is there twice"
                if frame == last
                else f"frame {frame} comes after frame {last}"
            )
            problems.append(Problem(name, where, wrong, "Put the frames in order, one row each."))
        last = frame
    return problems


def _frame_number(cell: str) -> int | None:
    # Nine digits: 500 days at 24 frames a second, and no more than int() takes from anyone's file.
    return int(cell) if cell.isascii() and cell.isdigit() and len(cell) <= 9 else None


def _cell_problems(name: str, body: Sequence[Record], columns: Sequence[_Column]) -> list[Problem]:
    problems = []
    for record in body:
        for column in columns:
            cell = record.cell(column.at)
            if column.level is None or not cell or cell.lower() == _NO_CEL or number_in_cell(cell):
                continue
            where = f"row {record.row}, column {_quoted(column.name)}"
            mend = "Write a drawing number (12, 12b), x for no cel, or nothing to hold the one above."
            problems.append(Problem(name, where, f"{_quoted(cell)} is no drawing number", mend))
        if any(cell.strip() for cell in record.cells[len(columns) :]):
            wrong = f"the row has more cells than the header ({len(columns)})"
            problems.append(
                Problem(name, f"row {record.row}", wrong, "Give each column a name, or quote the commas.")
            )
    return problems


def _camera(columns: Sequence[_Column]) -> _Column | None:
    return next((c for c in columns if c.level is None and same_name(c.name) == COLUMN), None)


def _camera_problems(name: str, body: Sequence[Record], columns: Sequence[_Column]) -> list[Problem]:
    column = _camera(columns)
    if column is None:
        return []
    mend = "Write a field as in 12F or 8F 2N 3E, with `to` before it where a move ends, or a remark in words."
    return [
        Problem(
            name,
            f"row {body[place].row}, column {_quoted(column.name)}",
            f"{_quoted(body[place].cell(column.at))} is no field ({shown(wrong)})",
            mend,
        )
        for place, wrong in wrong_entries([record.cell(column.at) for record in body])
    ]


def _fields(body: Sequence[Record], columns: Sequence[_Column], frame_at: int) -> tuple[Field | None, ...]:
    column = _camera(columns)
    if column is None:
        return ()
    fields = fields_of([(int(record.cell(frame_at)), record.cell(column.at)) for record in body])
    return fields if any(fields) else ()


def _bounded(name: str, problems: list[Problem]) -> list[Problem]:
    more = len(problems) - MOST_PROBLEMS
    if more <= 1:
        return problems
    rest = Problem(name, "", f"{more} more problems of this kind", "Mend these first, then check again.")
    return [*problems[:MOST_PROBLEMS], rest]


def _quoted(cell: str) -> str:
    text = shown(cell)
    return f"`{text if len(text) <= 40 else text[:39] + '…'}`"


def _sheet(
    body: Sequence[Record], columns: Sequence[_Column], frame_at: int, folders: Sequence[str]
) -> Sheet:
    levels = [column for column in columns if column.level is not None]
    others = [column for column in columns if column.level is None and column.at != frame_at]
    held: list[str | None] = [None] * len(levels)
    rows = []
    for record in body:
        for place, column in enumerate(levels):
            cell = record.cell(column.at)
            if cell:
                held[place] = number_in_cell(cell)
        remarks = tuple((column.name, text) for column in others if (text := record.cell(column.at)))
        rows.append(SheetRow(int(record.cell(frame_at)), tuple(held), remarks))
    names = tuple(column.level for column in levels if column.level is not None)
    lone = tuple(level for level in names if level not in folders)
    return Sheet(names, lone, tuple(rows), _gaps(rows), _fields(body, columns, frame_at))


def _gaps(rows: Sequence[SheetRow]) -> tuple[str, ...]:
    gaps = []
    for before, after in pairwise(rows):
        if after.frame > before.frame + 1:
            first, final = before.frame + 1, after.frame - 1
            gaps.append(f"{first}" if first == final else f"{first} to {final}")
    if not gaps:
        return ()
    frames = "frame" if len(gaps) == 1 and gaps[0].isdigit() else "frames"
    return (f"The sheet has no row for {frames} {listed(tuple(gaps))}.",)
