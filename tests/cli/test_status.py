"""Exit statuses are those of the file contract, section 5."""

import pytest

from cel_check.cli.status import ExitStatus, status_of
from cel_check.faults import Verdict

PASS, QUERY, RETAKE, NOT_CHECKED = Verdict.PASS, Verdict.QUERY, Verdict.RETAKE, Verdict.NOT_CHECKED


def test_the_numbers_of_the_contract():
    assert [status.value for status in ExitStatus] == [0, 1, 2, 3, 70, 130]


@pytest.mark.parametrize(
    ("verdicts", "plain", "strict", "zero"),
    [
        ([], 0, 0, 0),
        ([PASS], 0, 0, 0),
        ([PASS, QUERY], 0, 1, 0),
        ([QUERY, RETAKE], 1, 1, 0),
        ([PASS, NOT_CHECKED], 3, 3, 3),
        ([NOT_CHECKED, QUERY], 3, 1, 3),
        ([NOT_CHECKED, RETAKE], 1, 1, 3),
    ],
)
def test_every_mix_of_verdicts(verdicts, plain, strict, zero):
    assert status_of(verdicts, strict=False, exit_zero=False) == plain
    assert status_of(verdicts, strict=True, exit_zero=False) == strict
    assert status_of(verdicts, strict=False, exit_zero=True) == zero
    assert status_of(verdicts, strict=True, exit_zero=True) == zero
