"""Runs the checks of one drawing in the order in which they may claim what they explain."""

from cel_check.checks.common import Check
from cel_check.checks.cut_short import cut_short
from cel_check.checks.ink_color import ink_color
from cel_check.checks.off_model import off_model
from cel_check.checks.open_line import open_line
from cel_check.checks.spill import spill
from cel_check.checks.stray import stray
from cel_check.checks.unpainted import unpainted
from cel_check.drawing.drawing import Drawing
from cel_check.faults import Fault, Verdict
from cel_check.settings import Settings

CHECKS: tuple[Check, ...] = (open_line, stray, unpainted, spill, ink_color, off_model, cut_short)
"""Open lines first, since what lies in a gap would pass for specks; then specks, which pass for off-model
fills; off-model last, for what nothing else explains."""


def check_drawing(drawing: Drawing, settings: Settings) -> tuple[Fault, ...]:
    """Run every check of one drawing.

    Args:
        drawing: the cel, taken apart.
        settings: the thresholds of the run.

    Returns:
        The faults, without level, drawing and frames: retakes first, then top to bottom and left to right.
    """
    if drawing.ground.empty:
        return ()
    claimed: set[int] = set()
    faults = [fault for check in CHECKS for fault in check(drawing, settings, claimed)]
    return tuple(sorted(faults, key=_order))


def _order(fault: Fault) -> tuple[bool, int, int, str]:
    x, y, _, _ = fault.box or (0, 0, 0, 0)
    return fault.verdict is not Verdict.RETAKE, y, x, fault.kind
