"""The report as a table for a spreadsheet: one row a fault, and one a cel that was not checked.

The file is UTF-8 with a byte order mark (without it spreadsheets guess the machine's old code page), comma
separated, lines ended by CR LF (RFC 4180).
"""

import csv
import io
import math
import re
import unicodedata

from cel_check.faults import Fault, ModelMatch, Verdict
from cel_check.report.words import NO_REASON
from cel_check.scene.names import number_runs, shown
from cel_check.scene.results import CelResult, SceneResult

Cell = str | int | float | None

COLUMNS = (
    "scene", "level", "drawing", "file", "fault", "verdict", "kind", "text", "send_to", "frames",
    "first_frame", "frame_count", "confidence", "visibility", "x", "y", "width", "height", "area_px",
    "found_srgb", "found_L", "found_a", "found_b",
    "model", "color", "color_name", "paint", "color_srgb", "delta_e", "tolerance", "because",
)  # fmt: skip

_FORMULA = "=+-@\u2212"
"""First characters that make a spreadsheet compute a cell (OWASP, "CSV Injection"), and the true minus."""
_INNER = re.compile(r"([;|]\s*)(?=[=+\-@])")
"""Where the list separator is a semicolon, a formula could begin inside a cell."""


def report_csv(result: SceneResult) -> bytes:
    """Return `report.csv`; text that a spreadsheet would compute gets a leading `'`, numbers stay numbers."""
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    files = {(cel.level, cel.drawing): cel.file for cel in result.cels}
    for fault in result.faults:
        file = files.get((fault.level or "", fault.drawing or ""))
        writer.writerow(_cells(_fault_row(result, fault, file)))
    for cel in result.cels:
        if cel.verdict is Verdict.NOT_CHECKED:
            writer.writerow(_cells(_unchecked_row(result, cel)))
    return buffer.getvalue().encode("utf-8-sig")


def safe_text(text: str) -> str:
    """Return `text` so that no spreadsheet takes it, or a piece of it, for a formula."""
    safe = _INNER.sub(r"\1'", shown(text))
    return "'" + safe if _computes(text) or _computes(safe) else safe


def _computes(text: str) -> bool:
    if text[:1] in {"\t", "\r", "\n"}:
        return True
    first = next((char for char in unicodedata.normalize("NFKC", text) if not _is_blank(char)), "")
    return first != "" and first in _FORMULA


def _is_blank(char: str) -> bool:
    return char.isspace() or unicodedata.category(char) in {"Cc", "Cf", "Zs"}


def _cells(row: dict[str, Cell]) -> list[Cell]:
    return [_cell(row.get(column)) for column in COLUMNS]


def _cell(value: Cell) -> Cell:
    if isinstance(value, str):
        return safe_text(value)
    if isinstance(value, float):
        return round(value, 4) if math.isfinite(value) else None
    return value


def _fault_row(result: SceneResult, fault: Fault, file: str | None) -> dict[str, Cell]:
    row: dict[str, Cell] = {
        "scene": result.number,
        "level": fault.level,
        "drawing": fault.drawing,
        "file": file,
        "fault": fault.id,
        "verdict": fault.verdict.value,
        "kind": fault.kind.value,
        "text": fault.text,
        "send_to": fault.send_to.value,
        "confidence": float(fault.confidence),
        "visibility": float(fault.visibility),
        "area_px": fault.area_px,
    }
    row |= _frames(fault.frames) | _place(fault) | _colors(fault)
    return row


def _unchecked_row(result: SceneResult, cel: CelResult) -> dict[str, Cell]:
    row: dict[str, Cell] = {
        "scene": result.number,
        "level": cel.level,
        "drawing": cel.drawing,
        "file": cel.file,
        "verdict": cel.verdict.value,
        "text": cel.error or NO_REASON,
    }
    return row | _frames(cel.frames)


def _frames(frames: tuple[int, ...]) -> dict[str, Cell]:
    """Return the frames in words that no spreadsheet takes for a date or a decimal ("13 to 14; 20")."""
    runs = "; ".join(number_runs(frames, " to "))
    return {"frames": runs, "first_frame": min(frames, default=None), "frame_count": len(frames)}


def _place(fault: Fault) -> dict[str, Cell]:
    if fault.box is None:
        return {}
    return dict(zip(("x", "y", "width", "height"), fault.box, strict=True))


def _colors(fault: Fault) -> dict[str, Cell]:
    row: dict[str, Cell] = {}
    if fault.found is not None:
        lightness, a, b = (float(value) for value in fault.found.lab)
        row |= {"found_srgb": fault.found.srgb, "found_L": lightness, "found_a": a, "found_b": b}
    match = fault.expected or fault.nearest
    return row if match is None else row | _match(match)


def _match(match: ModelMatch) -> dict[str, Cell]:
    return {
        "model": match.model,
        "color": match.color,
        "color_name": match.name,
        "paint": match.paint,
        "color_srgb": match.srgb,
        "delta_e": float(match.delta_e),
        "tolerance": float(match.tolerance),
        "because": match.because,
    }
