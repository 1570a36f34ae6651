"""The chart of a color model: sheets of A4 to pin up, laid out in mm; HTML and PNG are drawn from this.

A color has a block for its base value, joined without a gap to one for each condition, and its name, paint
number, hex and L*a*b* beside it. Letters mark the closest pairs, which stand joined at the foot.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from cel_check.model.apart import Pairs, differences, pairs_of
from cel_check.model.colormodel import ColorModel, Use
from cel_check.model.looks import Looks, looks_of
from cel_check.model.together import UNKNOWN, Together
from cel_check.report.lettering import fitted, width_of
from cel_check.report.words import plural
from cel_check.scene.names import shown

WIDTH, HEIGHT, MARGIN = 210.0, 297.0, 11.0
"""A4, and its margin, in mm."""

CAUTION = (
    "A screen or an office printer is no color standard: "
    "mix and judge by the numbers and by measured drawdowns."
)

_TOP, _FOOT = 62.0, 34.0
_LABELS = 5.0
_MOST_ROWS, _ROW = 12, (13.5, 22.0)
_COLUMNS = 3
_LOOKS = 6
_PAIRS = 6
_GAP = 3.0
_TITLE, _NUMBER, _NAME, _SMALL, _TINY = 9.0, 3.6, 3.3, 2.6, 2.2


@dataclass(frozen=True)
class Block:
    """A rectangle of one color; mm from the sheet's top left corner."""

    x: float
    y: float
    width: float
    height: float
    color: str


@dataclass(frozen=True)
class Text:
    """A line of text; `y` is its baseline, `size` the font's height."""

    x: float
    y: float
    text: str
    size: float
    bold: bool = False
    soft: bool = False


@dataclass(frozen=True)
class Badge:
    """A letter in a ring, around its middle."""

    x: float
    y: float
    letter: str


@dataclass(frozen=True)
class Picture:
    """Where the reference cel stands: the place that it must fit into."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Sheet:
    """One page: what is on it, and what it is called."""

    title: str
    blocks: tuple[Block, ...]
    texts: tuple[Text, ...]
    badges: tuple[Badge, ...]
    picture: Picture


@dataclass(frozen=True)
class _Close:
    """One of the closest pairs: its letter, colors, the look in which it is the closest, and ΔE00 there."""

    letter: str
    first: int
    second: int
    look: int
    delta_e: float


def chart_of(model: ColorModel, together: Together = UNKNOWN) -> tuple[Sheet, ...]:
    """Lay out the chart of a model: one sheet, or more where colors or conditions do not fit on one.

    Args:
        model: the color model.
        together: which of its inks border which of its paints, for the closest pairs.
    """
    looks = looks_of((model,))
    close = _closest(looks, together)
    more = range(1, len(looks.names))
    parts = [tuple(more[start : start + _LOOKS]) for start in range(0, len(more), _LOOKS)] or [()]
    room = _MOST_ROWS * _COLUMNS
    colors = range(len(looks.colors))
    chunks = [tuple(colors[start : start + room]) for start in range(0, len(colors), room)]
    sheets = [(chunk, part) for chunk in chunks for part in parts]
    return tuple(
        _sheet(looks, close, chunk, part, f"{number} of {len(sheets)}" if len(sheets) > 1 else "")
        for number, (chunk, part) in enumerate(sheets, start=1)
    )


def _closest(looks: Looks, together: Together) -> tuple[_Close, ...]:
    pairs = pairs_of(looks, together)
    kept = np.flatnonzero(pairs.rank == 2)
    if not len(kept):
        return ()
    pairs = Pairs(pairs.i[kept], pairs.j[kept], pairs.rank[kept], pairs.lines[kept], pairs.needed[kept])
    delta_e = differences(looks, pairs)
    order = np.argsort(delta_e.min(axis=0) - pairs.needed, kind="stable")[:_PAIRS]
    return tuple(
        _Close(
            chr(ord("A") + place),
            int(pairs.i[pair]),
            int(pairs.j[pair]),
            int(delta_e[:, pair].argmin()),
            float(delta_e[:, pair].min()),
        )
        for place, pair in enumerate(order)
    )


def _sheet(
    looks: Looks, close: Sequence[_Close], colors: Sequence[int], part: Sequence[int], which: str
) -> Sheet:
    model = looks.models[0]
    columns = 2 if len(colors) <= 2 * _MOST_ROWS else _COLUMNS
    rows = math.ceil(len(colors) / columns)
    row = min(_ROW[1], (HEIGHT - _TOP - _LABELS - _FOOT - MARGIN) / max(rows, 1))
    width = (WIDTH - 2 * MARGIN - (columns - 1) * _GAP) / columns
    blocks: list[Block] = []
    texts: list[Text] = []
    badges: list[Badge] = []
    for place, color in enumerate(colors):
        x = MARGIN + place // rows * (width + _GAP)
        y = _TOP + _LABELS + place % rows * row
        cell = _Cell(x, y, width, row - 1.2, columns)
        if place == 0:
            texts += _head(looks, which, _legend(looks, cell, part))
        if place % rows == 0:
            texts += _labels(looks, cell, part)
        blocks += _blocks(looks, color, cell, part)
        marks = _badges(close, color, cell)
        texts += _words(looks, color, cell, len(part), bool(marks))
        badges += marks
    foot = _foot(looks, close)
    return Sheet(
        shown(f"{model.character} {which}".strip()),
        (*blocks, *(item for item in foot if isinstance(item, Block))),
        (*texts, *(item for item in foot if isinstance(item, Text))),
        (*badges, *(item for item in foot if isinstance(item, Badge))),
        Picture(WIDTH - MARGIN - 74.0, MARGIN, 74.0, _TOP - MARGIN - 4.0),
    )


@dataclass(frozen=True)
class _Cell:
    """Where one color stands."""

    x: float
    y: float
    width: float
    height: float
    columns: int

    def look_places(self, count: int) -> tuple[tuple[float, float], ...]:
        """Return left and width of the base block and of each look's block."""
        whole = self.width * (0.56 if self.columns == 2 else 0.46)
        base = whole if not count else whole * max(0.4, 1.0 / (count + 1))
        each = (whole - base) / count if count else 0.0
        return ((self.x, base), *((self.x + base + n * each, each) for n in range(count)))

    def text_left(self, count: int) -> float:
        """Return where the words begin."""
        left, width = self.look_places(count)[-1]
        return left + width + 1.8


def _legend(looks: Looks, cell: "_Cell", part: Sequence[int]) -> str:
    """Return the looks of a sheet as the head lists them, with the numbers that stand for them."""
    if not part:
        return "no condition"
    if _numbered(looks, cell, part):
        return ", ".join(f"{place} {looks.names[look]}" for place, look in enumerate(part, start=1))
    return ", ".join(looks.names[look] for look in part)


def _head(looks: Looks, which: str, legend: str) -> Iterator[Text]:
    model = looks.models[0]
    wide = WIDTH - 2 * MARGIN - 78.0
    name = shown(model.character)
    size = _TITLE if width_of(name, _TITLE, bold=True) <= wide else 6.0
    yield Text(MARGIN, MARGIN + 8.0, fitted(name, size, wide, bold=True), size, bold=True)
    inks = sum(color.use is Use.INK for color in looks.colors)
    counts = f"{plural(len(looks.colors) - inks, 'paint')}, {plural(inks, 'ink')}"
    lines = (
        shown(f"{model.show + ', ' if model.show else ''}color model {model.key}"),
        f"{counts}{f'; sheet {which}' if which else ''}",
        shown(f"Side by side: base, {legend}"),
        f"File {model.sha256[:12]} (first digits of its SHA-256)",
    )
    for number, line in enumerate(lines):
        size = _NAME if width_of(line, _NAME) <= wide else _TINY
        yield Text(MARGIN, MARGIN + 15.0 + number * 4.4, fitted(line, size, wide), size)
    words = CAUTION.split(" ")
    half = len(words) // 2
    for number, line in enumerate((" ".join(words[:half]), " ".join(words[half:]))):
        yield Text(MARGIN, _TOP - 11.0 + number * 4.0, line, _SMALL + 0.4, bold=True)


def _labels(looks: Looks, cell: _Cell, part: Sequence[int]) -> Iterator[Text]:
    numbered = _numbered(looks, cell, part)
    for place, (left, width) in enumerate(cell.look_places(len(part))):
        name = str(place) if numbered and place else _short(looks, (0, *part)[place])
        yield Text(left, cell.y - 1.4, fitted(name, _TINY, width - 0.4), _TINY, soft=True)


def _short(looks: Looks, look: int) -> str:
    return shown(looks.names[look]).removeprefix("level ") or "base"


def _numbered(looks: Looks, cell: "_Cell", part: Sequence[int]) -> bool:
    """Tell whether the looks' names are too long for their blocks, so that numbers stand for them."""
    places = cell.look_places(len(part))[1:]
    return any(
        width_of(_short(looks, look), _TINY) > width - 0.4
        for look, (_, width) in zip(part, places, strict=True)
    )


def _blocks(looks: Looks, color: int, cell: _Cell, part: Sequence[int]) -> Iterator[Block]:
    for (left, width), look in zip(cell.look_places(len(part)), (0, *part), strict=True):
        if looks.named[look, color]:
            yield Block(left, cell.y, width, cell.height, looks.hex(look, color))


def _words(looks: Looks, color: int, cell: "_Cell", count: int, marked: bool) -> Iterator[Text]:
    one = looks.colors[color]
    left = cell.text_left(count)
    room = cell.x + cell.width - left
    lightness, a, b = one.lab
    use = "" if one.use is Use.PAINT else f"{one.use.value}, " if one.use is Use.INK else "paint and ink, "
    held = "" if looks.models[0].colors[color].swatch.in_gamut else "nearest "
    unit = " ΔE00" if cell.columns == 2 and not held else ""
    name = _NAME if width_of(one.name, _NAME, bold=True) <= room else _SMALL
    lines = (
        (shown(one.name), name, True, 2.8),
        (shown(f"{use}{one.paint or 'no number'}"), _NUMBER, True, 4.1),
        (f"{held}{one.hex}  ±{one.tolerance:g}{unit}", _SMALL, False, 3.3),
        (f"L*a*b* {lightness:.1f}  {a:z.1f}  {b:z.1f}", _TINY, False, 3.0),
    )
    y = cell.y
    for row, (text, size, bold, down) in enumerate(lines):
        y += down
        # The letters of the closest pairs stand at the right, from the second line down.
        wide = room - 4.5 if marked and row else room
        yield Text(left, y, fitted(text, size, wide, bold), size, bold, soft=size == _TINY)


def _badges(close: Sequence[_Close], color: int, cell: _Cell) -> tuple[Badge, ...]:
    marks = [one.letter for one in close if color in (one.first, one.second)]
    x = cell.x + cell.width - 2.0
    return tuple(Badge(x, cell.y + 5.6 + n * 3.8, letter) for n, letter in enumerate(marks[:3]))


def _foot(looks: Looks, close: Sequence[_Close]) -> tuple[Block | Text | Badge, ...]:
    top = HEIGHT - MARGIN - _FOOT + 9.0
    items: list[Block | Text | Badge] = []
    if close:
        items.append(Text(MARGIN, top - 2.5, "Closest pairs", _NAME, bold=True))
    each = (WIDTH - 2 * MARGIN) / _PAIRS
    for number, one in enumerate(close):
        x = MARGIN + number * each
        for side, color in enumerate((one.first, one.second)):
            items.append(Block(x + side * 11.0, top, 11.0, 9.0, looks.hex(one.look, color)))
        items.append(Badge(x + 25.0, top + 2.2, one.letter))
        names = (looks.colors[one.first].name, looks.colors[one.second].name)
        lines = (*names, f"{one.delta_e:.1f} ΔE00{' in ' + looks.names[one.look] if one.look else ''}")
        for row, line in enumerate(lines):
            text = fitted(shown(line), _SMALL, each - 2.0)
            items.append(Text(x, top + 12.6 + row * 3.3, text, _SMALL, bold=row == 2))
    small = f"L*a*b* under D65, 2 degree observer. {CAUTION}"
    items.append(Text(MARGIN, HEIGHT - MARGIN + 2.0, small, _TINY, soft=True))
    return tuple(items)
