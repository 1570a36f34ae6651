"""Reads measurements in the text format of CGATS.17 / ISO 28178: several tables, of any fields, in one file.

Sources: ANSI CGATS.17-2009 and ISO 28178:2022, by the keywords that Little CMS documents in `cmscgats.c`;
decimal commas, other line ends, tabs in quotes and unknown keywords are what files of the trade hold beside
the standard.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from cel_check.errors import BadInput, Problem
from cel_check.model.measured_table import MeasuredTable, Row
from cel_check.model.tomlfile import nearest, shown

_TOKEN = re.compile(r'"([^"]*)"|#.*|([^\s"#][^\s"]*)')
_ENDS = {"BEGIN_DATA_FORMAT": "END_DATA_FORMAT", "BEGIN_DATA": "END_DATA"}


@dataclass
class _Reading:
    """What is known while a file is read; one table after the other is taken out of it."""

    file: str
    line: int = 1
    inside: str = ""
    since: int = 1
    keywords: dict[str, list[str]] = field(default_factory=dict)
    fields: tuple[str, ...] = ()
    tokens: list[tuple[int, str]] = field(default_factory=list)


def is_cgats(text: str) -> bool:
    """Tell whether a text is of this format: it alone begins its data with a keyword."""
    return re.search(r"^\s*BEGIN_DATA\b", text, re.MULTILINE) is not None


def read_cgats(file: str, text: str) -> tuple[MeasuredTable, ...]:
    """Read every table of a file.

    Args:
        file: its path, for messages.
        text: its content.

    Raises:
        BadInput: with the first thing that makes the rest doubtful: what is cut off, or does not add up.
    """
    reading = _Reading(file)
    tables: list[MeasuredTable] = []
    for number, line in enumerate(text.splitlines(), start=1):
        reading.line = number
        words = tuple(_words(line))
        if words:
            tables += _take(reading, words)
    if reading.inside:
        wrong = f"{reading.inside} is never closed by {_ENDS[reading.inside]}"
        raise _bad(reading, reading.since, wrong, "The file may be cut off: save it again.")
    if not tables:
        raise _bad(reading, 0, "there is no table of measurements in it", "Save the measurements again.")
    return tuple(tables)


def _words(line: str) -> Iterator[str]:
    for match in _TOKEN.finditer(line):
        if match.group(1) is not None:
            yield match.group(1)
        elif match.group(2):
            yield match.group(2)


def _take(reading: _Reading, words: Sequence[str]) -> Iterator[MeasuredTable]:
    """Take one line in; a line that ends a table yields it."""
    first = words[0].upper()
    if reading.inside:
        if first == _ENDS[reading.inside]:
            yield from _close(reading)
        elif first in _ENDS:
            wrong = f"{first} stands before {_ENDS[reading.inside]}"
            raise _bad(reading, reading.line, wrong, f"Close line {reading.since} first.")
        else:
            reading.tokens += [(reading.line, word) for word in words]
    elif first in _ENDS:
        reading.inside, reading.since = first, reading.line
        reading.tokens = [(reading.line, word) for word in words[1:]]
    elif first in _ENDS.values():
        raise _bad(reading, reading.line, f"{first} closes nothing", "Remove it, or write what it closes.")
    else:
        reading.keywords.setdefault(first, []).append(" ".join(words[1:]))


def _close(reading: _Reading) -> Iterator[MeasuredTable]:
    kind, reading.inside = reading.inside, ""
    if kind == "BEGIN_DATA_FORMAT":
        reading.fields = tuple(word.upper() for _, word in reading.tokens)
        _require_count(reading, "NUMBER_OF_FIELDS", len(reading.fields), "fields")
        return
    if not reading.fields:
        near = nearest("BEGIN_DATA_FORMAT", reading.keywords)
        hint = f"Did you mean it by {shown(near)}? " if near else ""
        wrong = "there is no BEGIN_DATA_FORMAT before the data"
        raise _bad(reading, reading.since, wrong, f"{hint}Name the fields there.")
    rows = _rows(reading)
    _require_count(reading, "NUMBER_OF_SETS", len(rows), "sets")
    keywords = {name: "; ".join(values) for name, values in reading.keywords.items()}
    yield MeasuredTable(reading.file, reading.since, keywords, reading.fields, rows)
    reading.keywords = {}


def _rows(reading: _Reading) -> tuple[Row, ...]:
    """Cut the data into rows; where a row runs over several lines, only their sum tells a slip."""
    width, tokens = len(reading.fields), reading.tokens
    by_line: dict[int, int] = {}
    for line, _ in tokens:
        by_line[line] = by_line.get(line, 0) + 1
    odd = next((line for line, count in by_line.items() if count != width), None)
    if odd is not None and (len(tokens) % width or not _told(reading, "NUMBER_OF_SETS")):
        wrong = f"the row has {by_line[odd]} values for {width} fields"
        raise _bad(reading, odd, wrong, "Give every field one value; quote a name that has spaces.")
    return tuple(
        Row(tokens[start][0], tuple(word for _, word in tokens[start : start + width]))
        for start in range(0, len(tokens), width)
    )


def _told(reading: _Reading, keyword: str) -> str:
    values = reading.keywords.get(keyword, [""])
    return values[-1].strip()


def _require_count(reading: _Reading, keyword: str, found: int, what: str) -> None:
    told = _told(reading, keyword)
    if not told:
        return
    if not (told.isascii() and told.isdigit()):
        raise _bad(
            reading, 0, f"{keyword} says {shown(told)}, which is no number", "Write how many there are."
        )
    if told.lstrip("0") != str(found).lstrip("0"):
        wrong = f"{keyword} says {told[:12]}, and there are {found} {what}"
        raise _bad(reading, reading.since, wrong, "The file may be cut off or edited: save it again.")


def _bad(reading: _Reading, line: int, wrong: str, mend: str) -> BadInput:
    return BadInput(Problem(reading.file, f"line {line}" if line else "", wrong, mend))
