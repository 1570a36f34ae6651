"""Exit statuses, in one place: other people's scripts depend on them."""

from collections.abc import Iterable
from enum import IntEnum

from cel_check.faults import Verdict


class ExitStatus(IntEnum):
    """What the process answers to whoever started it."""

    PASS = 0
    RETAKE = 1
    NOT_DONE = 2
    NOT_CHECKED = 3
    DEFECT = 70  # EX_SOFTWARE of sysexits.h
    INTERRUPTED = 130  # 128 + SIGINT, as shells report it


def status_of(verdicts: Iterable[Verdict], strict: bool, exit_zero: bool) -> ExitStatus:
    """Return the exit status for the verdicts of every cel, fault and scene of a run.

    Args:
        verdicts: all of them.
        strict: a query counts as a retake.
        exit_zero: retakes leave the status at 0; a cel that was not checked still shows, since nobody knows
            what is on it.
    """
    found = set(verdicts)
    retake = Verdict.RETAKE in found or (strict and Verdict.QUERY in found)
    if retake and not exit_zero:
        return ExitStatus.RETAKE
    return ExitStatus.NOT_CHECKED if Verdict.NOT_CHECKED in found else ExitStatus.PASS
