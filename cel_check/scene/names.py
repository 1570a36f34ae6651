"""Drawing numbers in file names and sheet cells, and names made safe to show."""

import os
import re
import unicodedata
from collections.abc import Iterable
from pathlib import Path

from cel_check.model.tomlfile import nearest

PICTURE_ENDINGS = frozenset({".png", ".tif", ".tiff", ".tga", ".jpg", ".jpeg", ".bmp", ".webp"})
"""Endings of the files that count as drawings, in lower case."""

# The last run of digits, then one letter unless it starts a word: `A-0012b` is 12b, `A-0012final` is 12.
_IN_STEM = re.compile(r"([0-9]+)(?:([A-Za-z])(?![A-Za-z]))?(?!.*[0-9])", re.DOTALL)
_IN_CELL = re.compile(r"([0-9]+)([A-Za-z])?")
# Control characters, marks that turn the writing direction, line ends, halves of surrogate pairs, and
# characters that no font has.
_HIDDEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp", "Co", "Cn"})
_JOINERS = "\u200c\u200d"
"""Joiners that words and emoji need; every other format character could hide what a name really is."""


def number_in_stem(stem: str) -> str | None:
    """Return the drawing number of a file's stem (`A-0012b` is `12b`), or None where there is no digit."""
    found = _IN_STEM.search(stem)
    return _plain(found) if found else None


def after_number(stem: str) -> str:
    """Return what follows the drawing number in a file's stem, as `-copy` in `A-0012-copy`."""
    found = _IN_STEM.search(stem)
    return stem[found.end() :] if found else ""


def number_in_cell(cell: str) -> str | None:
    """Return the drawing number that a sheet's cell holds, or None where it holds anything else."""
    found = _IN_CELL.fullmatch(cell)
    return _plain(found) if found else None


def _plain(found: re.Match[str]) -> str:
    digits, letter = found.groups()
    return (digits.lstrip("0") or "0") + (letter or "").lower()


def number_order(drawing: str) -> tuple[int, int, str, str]:
    """Return the key by which drawings are sorted: by number, then letter; other names come last."""
    found = _IN_CELL.fullmatch(drawing)
    if not found:
        return (1, 0, drawing, "")
    digits = found.group(1)
    # Compared as text of known length: a name may hold more digits than int() takes (4300 by default).
    return (0, len(digits), digits, found.group(2) or "")


def shown(name: str) -> str:
    r"""Return a name with nothing in it that acts instead of being seen.

    Control and format characters (newlines, right-to-left overrides) and the lone surrogates by which Python
    carries the bytes of a name that is not UTF-8 become `\x0a`, `\u202e`, `\xe9`. The answer is valid UTF-8,
    and is its own answer the second time.
    """
    if name.isascii() and name.isprintable():  # as most names are
        return name
    return "".join(_seen(char) for char in name)


def _seen(char: str) -> str:
    if char in _JOINERS or unicodedata.category(char) not in _HIDDEN:
        return char
    code = ord(char)
    if 0xDC80 <= code <= 0xDCFF:  # PEP 383: a byte of a name that is not UTF-8
        code -= 0xDC00
    if code <= 0xFF:
        return f"\\x{code:02x}"
    return f"\\u{code:04x}" if code <= 0xFFFF else f"\\U{code:08x}"


def near_name(name: str, known: tuple[str, ...]) -> str:
    """Return `Did you mean X? ` for the known name nearest to `name`, or an empty text where none is near."""
    found = nearest(name, known)
    return f"Did you mean {found}? " if found else ""


def same_name(name: str) -> str:
    """Return the form of a name in which two spellings of it (case, composed or not) are equal."""
    return unicodedata.normalize("NFC", name.strip()).casefold()


def number_runs(numbers: Iterable[int], dash: str = "–") -> tuple[str, ...]:
    """Return `("13–14", "20")` for 13, 14, 20: sorted, without repeats."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return tuple(str(first) if first == last else f"{first}{dash}{last}" for first, last in runs)


def frames_of(frames: tuple[int, ...]) -> str:
    """Return frames in order as `frame 7` or `frames 3 to 5 and 9`."""
    return f"frame{'s' if len(frames) > 1 else ''} {listed(number_runs(frames, dash=' to '))}"


def listed(names: tuple[str, ...], limit: int = 8) -> str:
    """Return names as `1, 2, 3 and 4`, or with `and N more` past the limit."""
    if len(names) > limit:
        return f"{', '.join(names[:limit])} and {len(names) - limit} more"
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def relative_to(file: Path, folder: Path) -> str:
    """Return a file's path relative to the scene folder, with `/`."""
    try:
        return Path(os.path.relpath(file, folder)).as_posix()
    except ValueError:  # another drive
        return file.as_posix()
