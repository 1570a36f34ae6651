"""Measured drawdowns of paints: CGATS.17 / ISO 28178 text or CSV, by paint number, as plain records."""

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from cel_check.color.spaces import White
from cel_check.errors import BadInput, Problem
from cel_check.model.cgats import is_cgats, read_cgats
from cel_check.model.measured_table import MeasuredTable, Row
from cel_check.model.tomlfile import near, shown

Triple = tuple[float, float, float]
Spectrum = tuple[tuple[float, float], ...]
"""Wavelength in nm and reflectance, 1 for a perfect white."""

_MOST_BYTES = 16 * 1024 * 1024

NAMES = (
    "PAINT",
    "PAINT_NUMBER",
    "SAMPLE_NAME",
    "SAMPLE_ID",
    "SAMPLEID",
    "SAMPLE",
    "NAME",
    "ID",
    "SAMPLE_LOC",
)
"""Fields that may hold a paint's number, the likeliest first."""
_BATCH = ("BATCH", "LOT", "BATCH_ID")
_LAB = (("LAB_L", "LAB_A", "LAB_B"), ("L", "A", "B"), ("L*", "A*", "B*"))
_XYZ = (("XYZ_X", "XYZ_Y", "XYZ_Z"), ("X", "Y", "Z"))
_PAIRED = frozenset({"SPECTRAL_PCT", "SPECTRAL_DEC"})
_WAVE = re.compile(r"(?:(?:SPECTRAL|SPEC|NM|R|REFL)?[_ ]?(?:NM|PCT|DEC)?[_ ]?)(\d{3})(?:\.0*)?(?:[_ ]?NM)?\Z")
_WAVES = (300.0, 1100.0)
_LEAST_WAVES, _SPAN = 6, (420.0, 680.0)
"""What a spectrum holds at least: fewer points cannot be interpolated, and beyond the span little light is
seen."""


@dataclass(frozen=True)
class Sample:
    """One measured drawdown.

    Attributes:
        names: what the file calls it, the likeliest to be a paint's number first.
        batch: the batch's name; empty where the file has none.
        line: in the file.
        lab: L*a*b* as measured, or None.
        xyz: XYZ as measured, Y = 100 for the white, or None.
        spectrum: reflectance by wavelength; empty where the file has none.
    """

    names: tuple[str, ...]
    batch: str
    line: int
    lab: Triple | None
    xyz: Triple | None
    spectrum: Spectrum


@dataclass(frozen=True)
class MeasuredSet:
    """One table of drawdowns.

    Attributes:
        file: the path as the user wrote it.
        title: the batch that all samples of it are, where they name none of their own.
        white: the illuminant of the L*a*b* and XYZ.
        samples: in file order.
        notes: what had to be taken for granted, one sentence each.
    """

    file: str
    title: str
    white: White
    samples: tuple[Sample, ...]
    notes: tuple[str, ...] = ()


def read_measured(path: Path) -> tuple[MeasuredSet, ...]:
    """Read a file of drawdowns.

    Raises:
        BadInput: where it cannot be read, is cut off, or holds no colors.
    """
    file = str(path)
    text = _text(path)
    tables = read_cgats(file, text) if is_cgats(text) else (_read_csv(file, text),)
    return tuple(_set(table, number, len(tables)) for number, table in enumerate(tables, start=1))


def _text(path: Path) -> str:
    file = str(path)
    try:
        if path.exists() and not path.is_file():
            raise BadInput(Problem(file, "", "this is no plain file", "Name the file of measurements."))
        content = path.read_bytes()[: _MOST_BYTES + 1]
    except FileNotFoundError:
        raise BadInput(Problem(file, "", "there is no such file", "Check the path for a slip.")) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise BadInput(Problem(file, "", f"the file cannot be read: {reason}", "Make it readable.")) from None
    if len(content) > _MOST_BYTES:
        raise BadInput(Problem(file, "", "more than 16 MB are no drawdowns", "Name the right file."))
    return _decoded(content)


def _decoded(content: bytes) -> str:
    """Return a file's text: UTF-8, UTF-16 with its mark, or the one-byte text of older instruments."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", "replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("latin-1")


def _read_csv(file: str, text: str) -> MeasuredTable:
    lines = text.splitlines()
    head = next((number for number, line in enumerate(lines) if _is_header(line)), None)
    if head is None:
        raise BadInput(Problem(file, "", "the file is empty", "Save the measurements again."))
    mark = max((";", "\t", ","), key=lambda sign: (lines[head].count(sign), sign == ";"))
    reader = csv.reader(lines[head:], delimiter=mark)
    try:
        table = [(head + reader.line_num, tuple(row)) for row in reader if any(cell.strip() for cell in row)]
    except csv.Error as error:
        where = f"line {head + reader.line_num}"
        raise BadInput(Problem(file, where, f"this is no CSV ({error})", "Save the table again.")) from None
    if not table:
        raise BadInput(Problem(file, "", "the file is empty", "Save the measurements again."))
    fields = tuple(cell.strip().upper() for cell in table[0][1])
    for line, cells in table[1:]:
        if len(cells) != len(fields):
            wrong = f"the row has {len(cells)} cells for {len(fields)} columns"
            mend = "Separate columns by semicolons where numbers have decimal commas."
            raise BadInput(Problem(file, f"line {line}", wrong, mend))
    return MeasuredTable(file, head + 1, {}, fields, tuple(Row(line, cells) for line, cells in table[1:]))


def _is_header(line: str) -> bool:
    """Tell the line of the columns' names from remarks, blank lines and a spreadsheet's own `sep=;`."""
    plain = line.strip(' ,;\t"')
    return bool(plain) and line[0] != "#" and not plain.casefold().startswith("sep=")


def _set(table: MeasuredTable, number: int, count: int) -> MeasuredSet:
    lab, xyz = _columns(table, _LAB), _columns(table, _XYZ)
    waves = _wave_columns(table)
    names = [table.fields.index(name) for name in NAMES if name in table.fields]
    if not names:
        hint = near("SAMPLE_NAME", table.fields)
        wrong = "no column names the paint"
        raise _bad(table, wrong, f"{hint}Name one SAMPLE_ID, SAMPLE_NAME or (in CSV) paint.")
    if not (lab or xyz or waves or "SPECTRAL_NM" in table.fields):
        wrong = "no column holds a color"
        raise _bad(table, wrong, "Export LAB_L LAB_A LAB_B, XYZ_X XYZ_Y XYZ_Z or spectra (nm400 ...).")
    scale = _scale(table, waves)
    samples = tuple(
        Sample(
            names=tuple(row.cells[place].strip() for place in names),
            batch=_cell(table, row, _BATCH),
            line=row.line,
            lab=_triple(table, row, lab),
            xyz=_triple(table, row, xyz),
            spectrum=_spectrum(table, row, waves, scale),
        )
        for row in table.rows
    )
    white, notes = _white(table, has_values=bool(lab or xyz))
    return MeasuredSet(table.file, _title(table, number, count), white, samples, notes)


def _columns(table: MeasuredTable, known: Sequence[tuple[str, ...]]) -> tuple[int, ...]:
    for names in known:
        if all(name in table.fields for name in names):
            return tuple(table.fields.index(name) for name in names)
    return ()


def _triple(table: MeasuredTable, row: Row, columns: tuple[int, ...]) -> Triple | None:
    if not columns or not any(row.cells[column].strip() for column in columns):
        return None
    first, second, third = (table.number(row, column) for column in columns)
    low, high = (-1.0, 200.0) if table.fields[columns[0]] in {"XYZ_X", "X"} else (-1.0, 110.0)
    if not low <= first <= high or max(abs(second), abs(third)) > 250.0:
        wrong = f"{first:g} {second:g} {third:g} is no color"
        where = f"line {row.line}, {table.fields[columns[0]]}"
        raise BadInput(Problem(table.file, where, wrong, "L* goes to 100; XYZ has Y = 100 for the white."))
    return first, second, third


def _wave_columns(table: MeasuredTable) -> tuple[tuple[int, float], ...]:
    found = []
    for place, name in enumerate(table.fields):
        match = _WAVE.match(name)
        if match and _WAVES[0] <= float(match.group(1)) <= _WAVES[1]:
            found.append((place, float(match.group(1))))
    return tuple(sorted(found, key=lambda one: one[1]))


def _scale(table: MeasuredTable, waves: tuple[tuple[int, float], ...]) -> float:
    """Return what a reflectance is divided by: 100 where the table holds per cent."""
    pairs = [place for place, name in enumerate(table.fields) if name in _PAIRED]
    if pairs:
        return 100.0 if table.fields[pairs[0]] == "SPECTRAL_PCT" else 1.0
    if any("PCT" in table.fields[place] for place, _ in waves):
        return 100.0
    values = (
        table.number(row, place) for row in table.rows for place, _ in waves if row.cells[place].strip()
    )
    return 100.0 if max(values, default=0.0) > 2.0 else 1.0


def _spectrum(table: MeasuredTable, row: Row, waves: tuple[tuple[int, float], ...], scale: float) -> Spectrum:
    if waves:
        told = [(wave, row.cells[place], place) for place, wave in waves]
        points = [(wave, table.number(row, place) / scale) for wave, text, place in told if text.strip()]
    else:
        nm = [place for place, name in enumerate(table.fields) if name == "SPECTRAL_NM"]
        values = [place for place, name in enumerate(table.fields) if name in _PAIRED]
        pairs = zip(nm, values, strict=False)
        points = [(table.number(row, wave), table.number(row, value) / scale) for wave, value in pairs]
    spectrum = tuple(sorted(dict(points).items()))
    whole = len(spectrum) >= _LEAST_WAVES and spectrum[0][0] <= _SPAN[0] and spectrum[-1][0] >= _SPAN[1]
    return spectrum if whole else ()


def _cell(table: MeasuredTable, row: Row, names: Sequence[str]) -> str:
    return next((row.cells[table.fields.index(name)].strip() for name in names if name in table.fields), "")


def _title(table: MeasuredTable, number: int, count: int) -> str:
    """Return what all samples of a table are called where they name no batch: its lot, table name or date."""
    for name in ("BATCH", "LOT", "SERIAL", "TABLE_NAME", "PROD_DATE", "CREATED"):
        if table.keywords.get(name, "").strip():
            return table.keywords[name].strip()
    return Path(table.file).stem + (f", table {number}" if count > 1 else "")


def _white(table: MeasuredTable, has_values: bool) -> tuple[White, tuple[str, ...]]:
    """Return the illuminant that a table's colors are for, and what had to be taken for granted."""
    told = " ".join(
        f"{name}={value}"
        for name, value in table.keywords.items()
        if name in {"WEIGHTING_FUNCTION", "MEASUREMENT_SOURCE", "ILLUMINATION_NAME", "ILLUMINANT",
                    "OBSERVER_ANGLE", "OBSERVER", "COMPUTATIONAL_PARAMETER"}
    )  # fmt: skip
    told += "".join(
        f" {name}={table.rows[0].cells[place]}"
        for place, name in enumerate(table.fields)
        if name in {"ILLUMINANT", "OBSERVER"} and table.rows
    )
    if not has_values:
        return White.D50, ()
    if re.search(r"OBSERVER\w*\W+\"?10\b|\b10\s*(?:°|DEG)", told, re.IGNORECASE):
        wrong = "the colors are for the 10 degree observer, and color models are for that of 2 degrees"
        raise _bad(table, wrong, "Measure for 2 degrees, or export spectra alone.")
    named = re.findall(r"(?:ILLUM\w*[\s,=:]+\"?)([A-Z]\w*)", told, re.IGNORECASE)
    lights = {name.upper() for name in named if re.fullmatch(r"[A-F]\d{0,2}", name, re.IGNORECASE)}
    if not lights:
        note = f"{shown(Path(table.file).name)} names no illuminant: D50 and 2 degrees were taken."
        return White.D50, (note,)
    if len(lights) > 1 or not lights <= {"D50", "D65"}:
        wrong = f"the colors are for illuminant {' and '.join(sorted(lights))}"
        raise _bad(table, wrong, "Export them for D50 or D65 (2 degrees), or spectra alone.")
    return White(lights.pop()), ()


def _bad(table: MeasuredTable, wrong: str, mend: str) -> BadInput:
    return BadInput(Problem(table.file, f"line {table.line}", wrong, mend))
