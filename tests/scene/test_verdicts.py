"""What was not checked never looks like a pass; visibility grows with size, contrast and time."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.scene.verdicts import cel_verdict, visibility, worst

FIELD = 1920 * 1080


def fault(kind=FaultKind.STRAY, verdict=Verdict.RETAKE, area=100, contrast=20.0):
    return Fault(kind, verdict, "text", SendTo.PAINT, 1.0, area_px=area, contrast=contrast)


# The order is the file contract's: 1 for a retake, 3 for a cel not checked, 0 for pass and query.
ORDER = [Verdict.PASS, Verdict.QUERY, Verdict.NOT_CHECKED, Verdict.RETAKE]


@pytest.mark.parametrize(("less", "more"), list(itertools.combinations(ORDER, 2)))
def test_the_worst_verdict_wins(less, more):
    assert worst([less, more, less]) is worst([more, less]) is more


def test_nothing_found_is_a_pass():
    assert worst([]) is Verdict.PASS
    assert cel_verdict((), None) is Verdict.PASS


def test_a_cel_with_an_error_is_not_checked_whatever_was_found():
    assert cel_verdict([fault()], "the check crashed") is Verdict.NOT_CHECKED
    assert cel_verdict([fault()], "") is Verdict.NOT_CHECKED
    assert cel_verdict([fault(verdict=Verdict.QUERY), fault()], None) is Verdict.RETAKE


two_values = st.tuples(st.floats(0.0, 1000.0), st.floats(0.0, 1000.0)).map(sorted)
two_areas = st.tuples(st.integers(0, FIELD), st.integers(0, FIELD)).map(sorted)


@given(two_areas, two_values, two_values)
def test_visibility_grows_with_each_of_its_terms(areas, contrasts, times):
    (area, larger), (contrast, stronger), (seconds, longer) = areas, contrasts, times
    less = visibility(fault(area=area, contrast=contrast), FIELD, seconds)
    assert 0.0 <= less <= 1.0
    assert less <= visibility(fault(area=larger, contrast=contrast), FIELD, seconds)
    assert less <= visibility(fault(area=area, contrast=stronger), FIELD, seconds)
    assert less <= visibility(fault(area=area, contrast=contrast), FIELD, longer)


def test_visibility_grows_strictly_where_a_person_would_see_it():
    base = visibility(fault(area=400, contrast=10), FIELD, 0.25)
    assert visibility(fault(area=1600, contrast=10), FIELD, 0.25) > base
    assert visibility(fault(area=400, contrast=20), FIELD, 0.25) > base
    assert visibility(fault(area=400, contrast=10), FIELD, 0.5) > base


def test_half_of_each_term():
    # A spot a fiftieth of the field wide, at 10 CIEDE2000, for a quarter of a second: each term is a half.
    area = round(FIELD * 0.02**2)
    assert visibility(fault(area=area, contrast=10), FIELD, 0.25) == pytest.approx(0.5, abs=0.001)


def test_what_never_shows_is_never_seen():
    assert visibility(fault(FaultKind.UNCALLED_CEL), FIELD, 10) == 0.0
    assert visibility(fault(), FIELD, 0) == 0.0


def test_a_missing_cel_is_as_large_as_the_field():
    missing = visibility(fault(FaultKind.MISSING_CEL, area=None, contrast=0.0), FIELD, 0.25)
    assert missing > visibility(fault(area=FIELD // 10, contrast=50), FIELD, 0.25)
