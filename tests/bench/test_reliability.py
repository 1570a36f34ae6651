"""Confidence is held against truth: counted in bins, and off by nothing where p of the faults are real."""

from xml.etree import ElementTree

import numpy as np
import pytest
from inject import Truth
from reliability import Told, bins, off_by, plot, tables, told_on_injected, told_on_untouched

from cel_check.faults import Fault, FaultKind, SendTo, Verdict


def fault(kind, box, confidence=0.9):
    return Fault(
        kind=kind,
        verdict=Verdict.RETAKE,
        text="",
        send_to=SendTo.INK,
        confidence=confidence,
        box=box,
        point=(box[0] + 1, box[1] + 1),
    )


def truth():
    return Truth(FaultKind.OPEN_LINE, "", 4.0, "px", (10, 10, 4, 4), (12, 12), np.ones((4, 4), bool), 16)


def told(confidence, real, count):
    return [Told("spill", "retake", confidence, at < real) for at in range(count)]


def test_confidence_that_is_kept_is_off_by_nothing():
    assert off_by(told(0.9, 9, 10) + told(0.5, 5, 10)) == pytest.approx(0.0)


def test_confidence_that_is_not_kept_is_off_by_as_much():
    # (10 * 0.4 + 30 * 0.1) / 40, by the definition of the expected calibration error
    # (Naeini, Cooper, Hauskrecht, AAAI 2015; from memory).
    assert off_by(told(0.9, 5, 10) + told(0.5, 18, 30)) == pytest.approx(0.175)


def test_every_fault_lies_in_one_bin():
    every = [Told("spill", "query", step / 100, True) for step in range(101)]
    assert sum(one.count for one in bins(every)) == 101


def test_no_fault_is_no_bin_and_off_by_nothing():
    assert (bins([]), off_by([])) == ([], 0.0)


def test_what_is_told_on_an_untouched_cel_is_not_real():
    assert [one.real for one in told_on_untouched([fault(FaultKind.SPILL, (1, 1, 3, 3))])] == [False]


def test_only_the_injected_fault_under_its_kind_is_real():
    old = fault(FaultKind.STRAY, (80, 80, 3, 3))
    found = [
        fault(FaultKind.OPEN_LINE, (10, 10, 4, 4)),
        fault(FaultKind.SPILL, (10, 10, 4, 4)),
        fault(FaultKind.OPEN_LINE, (60, 60, 4, 4)),
        old,
    ]
    out = told_on_injected(truth(), found, [old])
    assert [(one.kind, one.real) for one in out] == [("open-line", True), ("open-line", False)]


def test_the_numbers_name_each_kind_and_the_plot_each_bin():
    every = told(0.9, 9, 10) + told(0.5, 4, 8)
    assert any(line.startswith("spill retake") for line in tables(every))
    texts = [node.text for node in ElementTree.fromstring(plot(every)).iter() if node.tag.endswith("text")]
    assert "9 of 10" in texts
    assert "4 of 8" in texts
