"""A fault is known again from run to run: a few pixels do not matter, another place or color does."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cel_check.episode.identity import keep, known_faults, recognized
from cel_check.episode.ledger import open_ledger, transaction
from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.scene.summary import Change, FaultLine, SceneState, SceneSummary


def line(box=(100, 50, 20, 12), drawing="7", kind=FaultKind.OFF_MODEL, color="coat"):
    return FaultLine(
        "", f"sc012/A/{drawing}/1", kind, Verdict.RETAKE, SendTo.PAINT, "A", drawing, "A/7.png", "0" * 64,
        (1,), "Repaint.", model="tilda", color=color, box=box,
    )  # fmt: skip


def scene(*lines):
    return SceneSummary("sc012", "012", SceneState.RETAKE, faults=lines)


@pytest.fixture
def history(tmp_path):
    """Runs one after the other on one ledger."""
    ledger = open_ledger(tmp_path / "ledger.sqlite")

    def run(number, *lines, unchecked=()):
        found = recognized(scene(*lines), known_faults(ledger.db, "sc012"), set(unchecked), number)
        with transaction(ledger.db):
            keep(ledger.db, "sc012", found, number)
        return found.summary

    yield run
    ledger.close()


def changes(summary):
    return [one.change for one in summary.faults], summary.mended


@pytest.mark.parametrize("moved", [(100, 50, 20, 12), (102, 48, 20, 12), (100, 50, 16, 10), (97, 50, 26, 14)])
def test_a_few_pixels_do_not_matter(history, moved):
    first = history(1, line())
    second = history(2, line(box=moved))
    assert changes(second) == ([Change.STILL], 0)
    assert second.faults[0].identity == first.faults[0].identity


@pytest.mark.parametrize(
    "other",
    [
        line(box=(160, 50, 20, 12)),
        line(drawing="8"),
        line(kind=FaultKind.SPILL),
        line(color="skin"),
        line(box=None),
    ],
)
def test_another_place_drawing_kind_or_color_is_another_fault(history, other):
    first = history(1, line())
    second = history(2, other)
    assert changes(second) == ([Change.NEW], 1)
    assert second.faults[0].identity != first.faults[0].identity


def test_a_speck_of_three_pixels_may_move_by_some(history):
    history(1, line(box=(10, 10, 3, 3)))
    assert changes(history(2, line(box=(13, 12, 3, 3)))) == ([Change.STILL], 0)
    assert changes(history(3, line(box=(40, 12, 3, 3)))) == ([Change.NEW], 1)


def test_two_faults_side_by_side_keep_their_own_identities(history):
    first = history(1, line(box=(100, 50, 20, 12)), line(box=(110, 50, 20, 12)))
    second = history(2, line(box=(111, 50, 20, 12)), line(box=(101, 50, 20, 12)))
    assert [one.identity for one in second.faults] == [one.identity for one in first.faults][::-1]


def test_two_in_one_place_have_two_identities(history):
    first = history(1, line(), line())
    assert len({one.identity for one in first.faults}) == 2
    assert changes(history(2, line(), line())) == ([Change.STILL] * 2, 0)


def test_the_same_run_again_changes_nothing(history):
    history(1, line())
    before = history(2, line(), line(drawing="9"))
    again = history(2, line(), line(drawing="9"))
    assert again == before
    assert changes(history(2, line(drawing="9"))) == ([Change.NEW], 1)
    assert changes(history(2, line(), line(drawing="9"))) == ([Change.STILL, Change.NEW], 0)


def test_a_fault_that_comes_back_is_new_under_its_old_identity(history):
    first = history(1, line())
    assert changes(history(2)) == ([], 1)
    third = history(3, line())
    assert changes(third) == ([Change.NEW], 0)
    assert third.faults[0].identity == first.faults[0].identity
    assert changes(history(4, line())) == ([Change.STILL], 0)


def test_nobody_knows_what_became_of_the_faults_of_an_unchecked_cel(history):
    history(1, line(), line(drawing="8"))
    second = history(2, unchecked=[("A", "7")])
    assert (second.mended, second.unsure) == (1, 1)
    assert changes(history(3, line())) == ([Change.STILL], 0)


BOXES = st.tuples(*[st.integers(0, 400)] * 2, *[st.integers(1, 60)] * 2)


@given(st.lists(st.tuples(BOXES, st.sampled_from(["coat", "skin"])), max_size=12))
def test_each_fault_has_one_identity_whatever_there_is(faults):
    lines = [line(box=box, color=color) for box, color in faults]
    found = recognized(scene(*lines), (), set(), 1)
    identities = [one.identity for one in found.summary.faults]
    assert len(set(identities)) == len(lines)
    assert found == recognized(scene(*lines), (), set(), 1)
    assert [replace(one, identity="") for one in found.summary.faults] == lines
