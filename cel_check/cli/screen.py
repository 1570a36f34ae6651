"""What a check prints: a short table of findings, worst first, and one last line with the verdict."""

import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

import click

from cel_check.faults import Fault, Verdict
from cel_check.report.words import count_verdicts, plural
from cel_check.scene.names import number_runs, shown
from cel_check.scene.results import CelResult, SceneResult

MOST_ROWS = 20
"""What fits a screen; the report holds them all."""
_LEAST_WIDTH, _PIPE_WIDTH = 60, 10_000
_RANK = {Verdict.RETAKE: 0, Verdict.NOT_CHECKED: 1, Verdict.QUERY: 2, Verdict.PASS: 3}
COLORS = {
    Verdict.RETAKE: "red",
    Verdict.NOT_CHECKED: "magenta",
    Verdict.QUERY: "yellow",
    Verdict.PASS: "green",
}


@dataclass(frozen=True)
class Row:
    """One line of the table."""

    verdict: Verdict
    frames: str
    cel: str
    kind: str
    text: str


def rows_of(result: SceneResult) -> tuple[Row, ...]:
    """Return a scene's findings: retakes, then cels that were not checked, then queries, by visibility."""
    faults = [(_RANK[fault.verdict], -fault.visibility, _fault_row(fault)) for fault in result.faults]
    unchecked = [
        (_RANK[Verdict.NOT_CHECKED], 0.0, _cel_row(cel))
        for cel in result.cels
        if cel.verdict is Verdict.NOT_CHECKED
    ]
    return tuple(row for *_, row in sorted([*faults, *unchecked], key=lambda entry: entry[:2]))


def _fault_row(fault: Fault) -> Row:
    cel = " ".join(name for name in (fault.level, fault.drawing) if name) or "scene"
    return Row(fault.verdict, _frames(fault.frames), shown(cel), fault.kind.value, shown(fault.text))


def _cel_row(cel: CelResult) -> Row:
    name = shown(f"{cel.level} {cel.drawing}")
    return Row(Verdict.NOT_CHECKED, _frames(cel.frames), name, "", shown(cel.error or ""))


def _frames(frames: Sequence[int]) -> str:
    runs = number_runs(frames, dash="-")
    return ", ".join(runs[:3]) + (" ..." if len(runs) > 3 else "") if runs else "none"


def table(rows: Sequence[Row], most: int | None = MOST_ROWS) -> str:
    """Return rows as aligned text, the last column wrapped on a terminal; empty for no rows."""
    if not rows:
        return ""
    cut = rows[:most] if most else rows
    lines = [("verdict", "frames", "cel", "fault")]
    lines += [(row.verdict.value, row.frames, row.cel, row.kind) for row in cut]
    widths = [max(map(_width, column)) for column in zip(*lines, strict=True)]
    printed = [_line(lines[0], "what is wrong", widths)]
    for cells, row in zip(lines[1:], cut, strict=True):
        line = _line(cells, row.text, widths)
        printed.append(click.style(line[: widths[0]], fg=COLORS[row.verdict]) + line[widths[0] :])
    if len(cut) < len(rows):
        printed.append(f"... and {plural(len(rows) - len(cut), 'more finding')} in the report")
    return "\n".join(printed)


def _line(cells: Sequence[str], text: str, widths: Sequence[int]) -> str:
    head = (
        "  ".join(cell + " " * (width - _width(cell)) for cell, width in zip(cells, widths, strict=True))
        + "  "
    )
    indent = sum(widths) + 2 * len(widths)
    room = _screen_width() - indent
    if room < _LEAST_WIDTH // 2:
        return head + text
    wrapped = textwrap.wrap(text, room, break_long_words=False, break_on_hyphens=False) or [""]
    return (head + ("\n" + " " * indent).join(wrapped)).rstrip()


def _screen_width() -> int:
    if not sys.stdout.isatty():
        return _PIPE_WIDTH  # one finding a line for whoever reads the pipe
    return max(_LEAST_WIDTH, shutil.get_terminal_size().columns)


def _width(text: str) -> int:
    """Return the columns a text takes on a terminal (UAX 11: wide ones two, combining ones none)."""
    wide = sum(unicodedata.east_asian_width(char) in "WF" for char in text)
    return len(text) + wide - sum(unicodedata.combining(char) > 0 for char in text)


def heading(result: SceneResult) -> str:
    """Return the line above the table."""
    title = f"Scene {shown(result.number)}"
    if result.number != result.folder:
        title += f" ({shown(result.folder)})"
    counts = count_verdicts(result)
    parts = [f"{counts[verdict]} {verdict.value}" for verdict in Verdict if counts[verdict]]
    length = f"{plural(len(result.cels), 'cel')}, {plural(len(result.frames), 'frame')}"
    return f"{title}: {length}: {', '.join(parts) or 'nothing was checked'}"


def last_line(result: SceneResult, report: str) -> str:
    """Return the line below the table: the verdict, and where the report is."""
    verdict = click.style(result.verdict.value, fg=COLORS[result.verdict], bold=True)
    return f"Verdict: {verdict}." + (f" Report: {shown(report)}" if report else "")
