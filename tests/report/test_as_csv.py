"""`report.csv` opens in a spreadsheet as text and numbers: no cell of it computes (OWASP, RFC 4180)."""

import csv
import io
from dataclasses import replace

import pytest
import report_scenes as scenes

from cel_check.faults import Verdict
from cel_check.report.as_csv import COLUMNS, report_csv, safe_text
from cel_check.scene.results import CelResult


def rows(raw):
    return list(csv.DictReader(io.StringIO(raw.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize(
    "text",
    # The first six are OWASP's list ("CSV Injection"); the rest hide it behind blanks and full-width forms.
    ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "  =1", "\u00a0=1", "\u200b=1",
     "＝1", "＠x", "－1", "\ufeff=1", "\n=1"],
)  # fmt: skip
def test_text_that_would_compute_is_disarmed(text):
    assert safe_text(text).startswith("'")


@pytest.mark.parametrize("text", ["A-0007.png", "R-31", "Coat is 4.4 ΔE00 off", "12b", "", "灯台"])
def test_plain_text_stays_as_it_is(text):
    assert safe_text(text) == text


def test_no_formula_begins_inside_a_cell_where_the_separator_is_a_semicolon():
    raw = report_csv(
        scenes.scene_of((), faults=(scenes.off_model(text='x";=cmd()', drawing="a|@b", level="=A"),))
    )
    for separator in ",;|\t":
        for row in csv.reader(io.StringIO(raw.decode("utf-8-sig"), newline=""), delimiter=separator):
            assert not any(cell.strip().startswith(("=", "+", "@")) for cell in row), separator


def test_numbers_stay_numbers():
    found = replace(scenes.off_model().found, lab=(50.0, -1.5, 0.25))
    row = rows(report_csv(scenes.scene_of((), faults=(scenes.off_model(found=found),))))[0]
    assert row["found_a"] == "-1.5"
    assert (row["x"], row["y"], row["width"], row["height"]) == ("404", "212", "230", "268")
    assert row["delta_e"] == "6.1"


def test_one_row_a_fault_and_one_a_cel_that_was_not_checked(full):
    result, _ = full
    got = rows(report_csv(result))
    unchecked = [row for row in got if row["verdict"] == "not-checked"]
    assert len(got) == len(result.faults) + 1
    assert [(row["level"], row["drawing"]) for row in unchecked] == [("A", "8")]
    assert "middle of its pixels" in unchecked[0]["text"]
    assert tuple(got[0]) == COLUMNS


def test_lines_end_as_rfc_4180_says_and_the_byte_order_mark_leads(full):
    raw = report_csv(full[0])
    assert raw.startswith(b"\xef\xbb\xbf")
    assert raw.count(b"\n") == raw.count(b"\r\n") == len(rows(raw)) + 1


def test_frames_are_no_date_and_names_that_are_not_utf8_are_shown():
    cel = CelResult("A", "1", "A/\udce9.png", Verdict.NOT_CHECKED, frames=(3, 4, 9))
    row = rows(report_csv(scenes.scene_of((cel,))))[0]
    assert row["frames"] == "3 to 4; 9"
    assert row["file"] == "A/\\xe9.png"
