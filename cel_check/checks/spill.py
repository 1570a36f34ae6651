"""`spill`: paint across its ink line, beyond a line that still shows or over it."""

from itertools import chain

from cel_check.checks.beyond_line import bumps_beyond
from cel_check.checks.bump import Bump, color_of
from cel_check.checks.common import model_match, named
from cel_check.checks.over_line import bumps_over
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE
from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.settings import Settings


def spill(drawing: Drawing, settings: Settings, claimed: set[int]) -> tuple[Fault, ...]:
    """Find paint across its ink line.

    Args:
        drawing: the cel, taken apart.
        settings: the thresholds of the run.
        claimed: region ids that other faults explain; separate bumps found here are added.
    """
    if drawing.ink.pen <= 0:
        return ()
    faults = []
    for bump in chain(bumps_beyond(drawing), bumps_over(drawing)):
        if bump.region in claimed:
            continue
        if bump.region != bump.home:
            claimed.add(bump.region)
        faults.append(_fault(drawing, bump))
    return tuple(faults)


def _fault(drawing: Drawing, bump: Bump) -> Fault:
    """Describe a spill."""
    flat = drawing.regions.flat_of_id(bump.region)
    index = int(drawing.index[flat])
    match = model_match(drawing.palette.colors[index], float(drawing.table[flat, index]))
    into, expected = "the clear cel", None
    beyond = color_of(drawing, bump.other)
    if beyond is not None and beyond != NONE:
        expected = model_match(
            drawing.palette.colors[beyond], float(drawing.table[flat, beyond]), "the paint beyond the line"
        )
        into = named(expected)
    how = "over" if bump.covers else "across"
    return Fault(
        kind=FaultKind.SPILL,
        verdict=Verdict.RETAKE if bump.sure else Verdict.QUERY,
        text=f"{named(match)} runs {drawing.length(bump.depth)} {how} its line into {into}. "
        "Scrape it back to the line.",
        send_to=SendTo.PAINT,
        confidence=0.4 if not bump.sure else 0.97,
        box=drawing.box(*bump.box),
        point=drawing.point(*bump.point),
        area_px=bump.area,
        found=drawing.found(flat),
        nearest=match,
        expected=expected,
        contrast=expected.delta_e if expected else 50.0,
    )
