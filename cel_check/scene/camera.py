"""The sheet's `camera` column: which field the camera sees on each frame.

An entry is a field and where its middle lies on the field chart:

    12F             the 12 field, 12 inches wide
    8F 2N 3E        the 8 field, its middle two steps north and three east of the chart's
    to 6F 1S        a move that ends here; it begins at the entry above and runs evenly, frame by frame

A step east or west is half an inch, so that the 12 field ends at 12E and 12W; a step north or south is as
much of the field's height (common practice, no source). Entries hold until the next one. Letters may be
small, and decimals are taken. A cell that does not begin with a field (`pan left`) is a remark.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

Rect = tuple[float, float, float, float]
"""Left, top, right, bottom."""

COLUMN = "camera"
WIDEST = 1000.0
"""Inches; what scene.toml takes as a field at most."""

ACTION_SAFE, TITLE_SAFE = 0.93, 0.90
"""Shares of the field's width and height in which action and titles are safe: SMPTE ST 2046-1:2009, clause 5,
as quoted by others."""

_NUMBER = r"[0-9]{1,4}(?:\.[0-9]{1,4})?"
_BEGINS = re.compile(rf"(to\s+)?({_NUMBER})\s*F(?![a-z])", re.IGNORECASE)
_STEP = re.compile(rf"\s*({_NUMBER})\s*([NSEW])(?![a-z])", re.IGNORECASE)
_WORD = re.compile(r"[^\W\d]{2,}")
_SIGNS = {"N": (1, 0), "S": (-1, 0), "E": (0, 1), "W": (0, -1)}


class BadEntry(ValueError):
    """A cell of the camera column that begins as a field and does not go on as one; says what is wrong."""


@dataclass(frozen=True)
class Field:
    """What the camera sees: `inches` wide, its middle so many steps north and east of the chart's."""

    inches: float
    north: float = 0.0
    east: float = 0.0


@dataclass(frozen=True)
class Entry:
    """A field of the camera column; `moved` where a move from the entry above ends in it."""

    field: Field
    moved: bool = False


def entry_of(cell: str) -> Entry | None:
    """Read a cell; None where it is empty or a remark.

    Raises:
        BadEntry: where it begins as a field and what follows is no step.
    """
    begun = _BEGINS.match(cell.strip())
    if begun is None:
        return None
    rest = cell.strip()[begun.end() :]
    if _WORD.search(rest):
        return None  # `12F dissolve` is a remark on twelve frames
    inches = float(begun[2])
    if not 0 < inches <= WIDEST:
        raise BadEntry(f"{begun[2]}F is no field")
    north, east = _steps(rest)
    return Entry(Field(inches, north, east), begun[1] is not None)


def _steps(text: str) -> tuple[float, float]:
    """Return steps north and east."""
    north: float | None = None
    east: float | None = None
    at = 0
    while text[at:].strip():
        step = _STEP.match(text, at)
        if step is None:
            raise BadEntry(f"`{text[at:].strip()}` is no step")
        up, right = _SIGNS[step[2].upper()]
        if (up and north is not None) or (right and east is not None):
            raise BadEntry(f"two steps go {'north or south' if up else 'east or west'}")
        if up:
            north = up * float(step[1])
        else:
            east = right * float(step[1])
        at = step.end()
    return north or 0.0, east or 0.0


def wrong_entries(cells: Iterable[str]) -> Iterable[tuple[int, str]]:
    """Yield the place and the fault of each cell that cannot be read."""
    begun = False
    for place, cell in enumerate(cells):
        try:
            entry = entry_of(cell)
        except BadEntry as error:
            yield place, str(error)
            continue
        if entry is not None and entry.moved and not begun:
            yield place, "a move ends here and no field above begins it"
        begun = begun or entry is not None


def fields_of(cells: Sequence[tuple[int, str]]) -> tuple[Field | None, ...]:
    """Return the field of each frame; None above the first entry.

    Args:
        cells: frame and text of each row, in order, without a wrong entry.
    """
    fields: list[Field | None] = []
    held: tuple[int, Field] | None = None
    for place, (frame, cell) in enumerate(cells):
        entry = entry_of(cell)
        if entry is None:
            fields.append(held[1] if held else None)
            continue
        if entry.moved and held is not None:
            since, begun = held
            for between in range(since + 1, place):
                share = (cells[between][0] - cells[since][0]) / (frame - cells[since][0])
                fields[between] = _between(begun, entry.field, share)
        fields.append(entry.field)
        held = (place, entry.field)
    return tuple(fields)


def _between(one: Field, other: Field, share: float) -> Field:
    def at(begin: float, end: float) -> float:
        return begin + (end - begin) * share

    return Field(at(one.inches, other.inches), at(one.north, other.north), at(one.east, other.east))


def seen_rect(field: Field, size: tuple[int, int], inches: float) -> Rect:
    """Return what a field shows of a frame, in its pixels; it may lie outside.

    Args:
        field: what the camera sees.
        size: width and height of the pictures, which are `inches` wide.
        inches: the scene's own field.
    """
    width, height = size
    across, down = width / (2 * inches), height / (2 * inches)
    x, y = width / 2 + field.east * across, height / 2 - field.north * down
    half = field.inches
    return x - half * across, y - half * down, x + half * across, y + half * down
