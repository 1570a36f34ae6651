"""What is printed is short, worst first, aligned and harmless."""

from dataclasses import replace

import click
import pytest

from cel_check.cli import screen
from cel_check.cli.screen import MOST_ROWS, heading, last_line, rows_of, table
from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.scene.results import CelResult, SceneResult


def fault(verdict, visibility, text="text", frames=(1, 2, 3, 7, 9, 11)):
    return Fault(
        FaultKind.STRAY,
        verdict,
        text,
        SendTo.PAINT,
        1.0,
        level="A",
        drawing="7",
        frames=frames,
        visibility=visibility,
    )


def result(faults=(), cels=()):
    return SceneResult(
        "012", "sc\x1b012", "digital", ("A",), (), None, 24.0, None, Verdict.RETAKE, cels, (), faults
    )


def test_the_worst_comes_first():
    faults = (
        fault(Verdict.QUERY, 0.9),
        fault(Verdict.RETAKE, 0.2),
        fault(Verdict.RETAKE, 0.8),
        fault(Verdict.QUERY, 0.95),
    )
    cel = CelResult("A", "8", "A/8.png", Verdict.NOT_CHECKED, frames=(4,), error="its worker was\nkilled")
    rows = rows_of(result(faults, (cel,)))
    assert [row.verdict.value for row in rows] == ["retake", "retake", "not-checked", "query", "query"]
    assert rows[0].frames == "1-3, 7, 9 ..."
    assert rows[2].text == "its worker was\\x0akilled"


def test_columns_line_up_also_with_wide_and_combining_characters():
    rows = rows_of(result((fault(Verdict.RETAKE, 1.0, "one"), fault(Verdict.QUERY, 0.5, "two"))))
    rows = (replace(rows[0], cel="海 7"), replace(rows[1], cel="o\u0308 7"))
    head, wide, combined = click.unstyle(table(rows)).splitlines()
    # A wide character takes two columns, a combining one none (Unicode UAX 11).
    assert head.index("fault") == wide.index("stray") + 1 == combined.index("stray") - 1


def test_a_long_table_is_cut_and_says_so():
    rows = rows_of(result(tuple(fault(Verdict.RETAKE, 0.5) for _ in range(MOST_ROWS + 3))))
    lines = table(rows).splitlines()
    assert len(lines) == MOST_ROWS + 2
    assert lines[-1] == "... and 3 more findings in the report"
    assert len(table(rows, most=None).splitlines()) == MOST_ROWS + 4
    assert table(()) == ""


def test_text_wraps_on_a_terminal_and_not_in_a_pipe(monkeypatch):
    rows = rows_of(result((fault(Verdict.RETAKE, 1.0, "word " * 40),)))
    assert len(table(rows).splitlines()) == 2
    monkeypatch.setattr(screen, "_screen_width", lambda: 90)
    lines = click.unstyle(table(rows)).splitlines()
    assert len(lines) > 3
    assert max(map(len, lines)) <= 90


def test_hidden_characters_are_shown():
    assert "\x1b" not in click.unstyle(heading(result()) + last_line(result(), "a\x1bb"))
    (row,) = rows_of(result((fault(Verdict.RETAKE, 1.0, "a\x1b[2Jb"),)))
    assert row.text == "a\\x1b[2Jb"


@pytest.mark.parametrize("report", ["", "sc012/check/report.html"])
def test_the_last_line_says_the_verdict_and_where_the_report_is(report):
    line = click.unstyle(last_line(result(), report))
    assert "retake" in line
    assert line.endswith(f"Report: {report}" if report else ".")
