"""Reads a TOML file so that every later message can name the line.

`tomllib` tells no lines, so the keys' lines are found by a second, simple reading of the text. That reading
is for messages only: where it is fooled (a multi-line string that looks like a table), a line number is
missing or wrong, and nothing else.
"""

import difflib
import hashlib
import json
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cel_check.errors import BadInput, Problem

Location = tuple[str | int, ...]
"""A path into a TOML table: keys, and indices (from 0) of an array's items."""

_MOST_BYTES = (
    4 * 1024 * 1024
)  # a model of a thousand colors has a fifth of a megabyte: more is another kind of file

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(
    r"""^\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*="""
)
_BARE = re.compile(r"^[A-Za-z0-9_-]{1,48}\Z")
_PART = re.compile(r"""[A-Za-z0-9_-]+|"[^"]*"|'[^']*'""")
_AT = re.compile(r"^(.*) \(at line (\d+), column (\d+)\)$", re.DOTALL)


_AT_END = " (at end of document)"


@dataclass(frozen=True)
class TomlFile:
    """A TOML file that was read whole.

    Attributes:
        file: the path as the user wrote it.
        table: what the file says.
        sha256: hex digest of the file's bytes.
        lines: the line, from 1, of each table and key that was found.
    """

    file: str
    table: dict[str, Any]
    sha256: str
    lines: Mapping[Location, int]

    def where(self, location: Location, words: str) -> str:
        """Return `line N, words`; the nearest table's line where the key itself was not found."""
        for length in range(len(location), 0, -1):
            if location[:length] in self.lines:
                return ", ".join(filter(None, (f"line {self.lines[location[:length]]}", words)))
        return words


def read_toml(path: Path, kind: str) -> TomlFile:
    """Read a TOML file in UTF-8, with or without a byte order mark.

    Args:
        path: the file.
        kind: what the file is, for messages: `color model`.

    Raises:
        BadInput: where the file is missing, cannot be read, is not UTF-8 or is not TOML.
    """
    file = str(path)
    content = _content(path, kind)
    text = _text(file, content)
    try:
        table = tomllib.loads(text)
    except RecursionError:
        raise _bad(file, "", "brackets are nested too deeply", "Write the file without nesting.") from None
    except ValueError as error:  # TOMLDecodeError, and int()'s own for a number of thousands of digits
        raise _syntax(file, error) from None
    return TomlFile(file, table, hashlib.sha256(content).hexdigest(), _lines(text))


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that `word` was probably meant to be, or None."""
    names = {name.lower(): name for name in known}
    found = difflib.get_close_matches(word.lower(), names, n=1)
    return names[found[0]] if found else None


def near(word: str, known: Iterable[str]) -> str:
    """Return `Did you mean X?` followed by a space where `word` is nearly one of `known`, else nothing."""
    found = nearest(word, known)
    return f"Did you mean {shown(found)}? " if found else ""


def bare(key: str) -> str:
    """Return a key as TOML writes it: quoted only where it must be."""
    return key if _BARE.match(key) else shown(key)


def shown(value: object) -> str:
    """Return a value of a file as a message shows it: on one line, at most 48 characters."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return "a list"
    if isinstance(value, float):
        return repr(value)  # nan and inf as TOML writes them
    text = json.dumps(value, ensure_ascii=False, default=str)
    printable = "".join(sign if sign.isprintable() else f"\\u{ord(sign):04X}" for sign in text)
    return printable if len(printable) <= 48 else printable[:45] + "..."


def _bad(file: str, where: str, wrong: str, mend: str) -> BadInput:
    return BadInput(Problem(file, where, wrong, mend))


def _content(path: Path, kind: str) -> bytes:
    file = str(path)
    try:
        if path.exists() and not (path.is_file() or path.is_dir()):  # to open a pipe waits for its other end
            raise _bad(file, "", "this is no plain file", f"Name the {kind}'s file.")
        with path.open("rb") as stream:
            content = stream.read(_MOST_BYTES + 1)
    except FileNotFoundError:
        raise _bad(file, "", f"there is no such {kind}", _mend_missing(path)) from None
    except IsADirectoryError:
        raise _bad(file, "", f"this is a folder, not a {kind}", "Name the file inside it.") from None
    except (OSError, ValueError) as error:  # ValueError: a NUL in the path
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        mend = "Check the path and its permissions."
        raise _bad(file, "", f"the {kind} cannot be read: {reason}", mend) from None
    if len(content) > _MOST_BYTES:
        raise _bad(file, "", f"more than 4 MB is too large for a {kind}", "Name the right file.")
    return content


def _mend_missing(path: Path) -> str:
    try:
        siblings = [sibling.name for sibling in path.parent.iterdir()]
    except (OSError, ValueError):
        return "Its folder cannot be read either: check the path."
    return f"{near(path.name, siblings)}Check the path."


def _text(file: str, content: bytes) -> str:
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise _bad(file, f"line {line}", "this is not UTF-8 text", "Save the file as UTF-8.") from None


def _syntax(file: str, error: ValueError) -> BadInput:
    message = str(error)
    if at := _AT.match(message):
        what, where = at.group(1), f"line {at.group(2)}, column {at.group(3)}"
    else:
        what = message.removesuffix(_AT_END)
        where = "last line" if what != message else ""
    what = " ".join((what[:1].lower() + what[1:]).split())
    return _bad(file, where, f"this is not TOML: {what}", "Correct it there.")


def _lines(text: str) -> dict[Location, int]:
    lines: dict[Location, int] = {}
    counts: dict[Location, int] = {}
    table: Location = ()
    for number, line in enumerate(text.split("\n"), start=1):
        if header := _HEADER.match(line):
            table = _parts(header.group(2))
            if header.group(1) == "[[":
                counts[table] = counts.get(table, -1) + 1
                lines.setdefault(table, number)
                table = (*table, counts[table])
            lines.setdefault(table, number)
        elif key := _KEY.match(line):
            path = table
            for part in _parts(key.group(1)):
                path = (*path, part)
                lines.setdefault(path, number)
    return lines


def _parts(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip("\"'") if part[0] in "\"'" else part for part in _PART.findall(dotted))
