"""Verdicts of cels, frames and the scene, and how much an audience would notice a fault."""

import math
from collections.abc import Iterable

from cel_check.faults import Fault, FaultKind, Verdict

# What outranks what. A retake is certain whatever else was left unchecked; a thing not checked outranks any
# verdict that could be taken for a pass.
_RANK = {Verdict.PASS: 0, Verdict.QUERY: 1, Verdict.NOT_CHECKED: 2, Verdict.RETAKE: 3}

# The values at which each of the three terms of visibility is one half. House choices, no source: a spot as
# wide as a fiftieth of the field; a color difference that is plain at a glance; a quarter of a second.
HALF_WIDTH = 0.02
HALF_CONTRAST = 10.0
HALF_SECONDS = 0.25

# Nothing that shows on screen tells the audience that these are there.
_UNSEEN = frozenset({FaultKind.UNCALLED_CEL})
# The whole cel is missing, doubtful or displaced, or the frame flashes: as wide as the field, full contrast.
_WHOLE_CEL = frozenset(
    {
        FaultKind.MISSING_CEL,
        FaultKind.UNREADABLE,
        FaultKind.WRONG_SIZE,
        FaultKind.OFF_REGISTER,
        FaultKind.FLASH,
    }
)


def worst(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the verdict that outranks the others: retake, not-checked, query, pass; pass for none at all."""
    return max(verdicts, key=_RANK.__getitem__, default=Verdict.PASS)


def cel_verdict(faults: Iterable[Fault], error: str | None) -> Verdict:
    """Return a cel's verdict: not-checked where there is an error, else that of its worst fault."""
    if error is not None:
        return Verdict.NOT_CHECKED
    return worst(fault.verdict for fault in faults)


def visibility(fault: Fault, field_area: int, seconds: float) -> float:
    """Return how much an audience would notice a fault, 0 to 1, rounded to three digits.

    The geometric mean of three terms, each `v / (v + half)`: the width of a square of the fault's area as a
    share of the width of one of the field's, the contrast (CIEDE2000) with what should be there, and the
    time on screen with holds counted. It grows with each and is 0 where one of them is. A house formula, no
    source.

    Args:
        fault: with `area_px` and `contrast` filled in by its check.
        field_area: pixels of the camera field.
        seconds: how long the fault is on screen.
    """
    if fault.kind in _UNSEEN:
        return 0.0
    width, contrast = 1.0, 1.0
    if fault.kind not in _WHOLE_CEL:
        width = _grown(math.sqrt((fault.area_px or 0) / max(field_area, 1)), HALF_WIDTH)
        contrast = _grown(fault.contrast, HALF_CONTRAST)
    product = width * contrast * _grown(seconds, HALF_SECONDS)
    return round(min(1.0, math.cbrt(product)), 3)


def _grown(value: float, half: float) -> float:
    return max(value, 0.0) / (max(value, 0.0) + half)
