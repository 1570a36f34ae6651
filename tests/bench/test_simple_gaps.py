"""Every simple method finds a plain gap between two paints, and none is told where the line is closed."""

import numpy as np
import pytest
from gap_methods import OURS, Tally, count_clean, count_gap, table
from inject import Truth
from simple_gaps import SIMPLE, Cel

from cel_check.faults import Fault, FaultKind, SendTo, Verdict

METHODS = pytest.mark.parametrize("name", SIMPLE)
MIDDLE = (140, 110)


def parted(gap):
    """A frame of ink 6 px wide with one paint on its left, one on its right, the line between them open."""
    labels = np.zeros((220, 280), np.int32)
    labels[50:170, 50:230] = -1
    labels[56:164, 56:137] = 1
    labels[56:164, 143:224] = 2
    if gap:
        rows = slice(110 - gap // 2, 110 + gap // 2)
        labels[rows, 137:140] = 1
        labels[rows, 140:143] = 2
    return Cel(labels, 6.0)


@METHODS
@pytest.mark.parametrize("gap", [6, 12])
def test_a_plain_gap_is_found(gap, name):
    (spot,) = SIMPLE[name](parted(gap))
    assert np.hypot(spot[0] - MIDDLE[0], spot[1] - MIDDLE[1]) <= 4


@METHODS
def test_a_closed_line_is_none(name):
    assert SIMPLE[name](parted(0)) == []


def told(column, row):
    return Fault(
        FaultKind.OPEN_LINE,
        Verdict.RETAKE,
        "",
        SendTo.INK,
        confidence=1.0,
        box=(column - 2, row - 2, 5, 5),
        point=(column, row),
    )


def test_only_what_is_new_at_the_place_counts_as_found():
    truth = Truth(FaultKind.OPEN_LINE, "", 6.0, "px", (10, 10, 6, 6), (12, 12), np.ones((6, 6), bool), 36)
    tallies = {name: Tally() for name in OURS}
    old, new = told(12, 12), told(13, 18)
    count_gap(tallies, truth, {OURS[0]: [old], OURS[1]: [old, new]}, {OURS[0]: [old], OURS[1]: [old]})
    count_clean(tallies, {OURS[0]: [], OURS[1]: [old, new]})
    assert [tallies[name].found[4.0] for name in OURS] == [0, 1]
    lines = list(table(tallies, 1))
    assert "0.0 (0.0 to 79.3), 1" in lines[1]  # Wilson's interval of none in one, by his formula
    assert lines[-1].split()[-4:] == ["100.0", "(20.7", "to", "100.0)"]
