"""What of a scanned cel could not be checked surely, and why: it is a query: no such cel passes.

Where nothing stands in the way, a scan may pass as a digital painting may. What stands in the way is known: a
scan too coarse, a line too thin or too pale for its gaps to show, colors that no profile bears out, a paint
that looks like the card. The figures are of simulated scans (`tests/bench/scan_limits.py`).
"""

from dataclasses import dataclass
from functools import cache, partial

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.drawing.drawing import Drawing
from cel_check.faults import CATALOGUE, Fault, FaultKind, Verdict
from cel_check.scan.backing import Backing, alike
from cel_check.scan.punch import MM_PER_INCH
from cel_check.scene.scan_terms import WITHOUT_PROFILE, ScanTerms

LEAST_SURE_DPI = 150.0
"""Pixels an inch below which gaps of 0.4 mm in a line are not surely found: what a scan is taken apart at."""

SURE = ((0.2, 70.0), (0.35, 20.0))
"""Millimeters of pen, as measured on the scan, and ΔE00 between ink and what it borders, from which gaps of
0.4 mm and more were found at least 99 times in 100 (at 25 ΔE00; 95 in 100 at 17.7: 20 lies between)."""

_NAMED = 3
"""Inks that are named with what they border; the rest is counted."""

_TOUCH = 30
"""Pixels of a fill beside a line from which the line borders it: 5 mm at the working size."""

_REACH = 7
"""Side in pixels of the window in which a fill lies beside a line."""


@dataclass(frozen=True, eq=False)
class Cover:
    """What a scan's checks could rest on.

    Attributes:
        drawing: as it was taken apart.
        dpi: pixels an inch of the scan.
        work_dpi: pixels an inch at which it was taken apart.
        card: the card behind the cel.
        terms: what the scene says of its scans.
    """

    drawing: Drawing
    dpi: float
    work_dpi: float
    card: Backing
    terms: ScanTerms


def uncovered(cover: Cover) -> tuple[Fault, ...]:
    """Return a query for each thing that was not surely checked: lines, colors, bare places."""
    asked = (
        (FaultKind.OPEN_LINE, _lines(cover), "Look at its lines."),
        (FaultKind.OFF_MODEL, _colors(cover.terms), "Look at its colors."),
        (FaultKind.UNPAINTED, alike(cover.drawing.palette, cover.card), "Look for bare places."),
    )
    return tuple(_query(kind, reasons, deed) for kind, reasons, deed in asked if reasons)


def _query(kind: FaultKind, reasons: tuple[str, ...], deed: str) -> Fault:
    return Fault(
        kind=kind,
        verdict=Verdict.QUERY,
        text=f"Not surely checked. {' '.join(reasons)} {deed}",
        send_to=CATALOGUE[kind].send_to,
        confidence=0.1,
    )


def _colors(terms: ScanTerms) -> tuple[str, ...]:
    if not terms.profile:
        return (f"The scanner has no profile, so no color closer than {WITHOUT_PROFILE:g} ΔE00 is told.",)
    if terms.supported > WITHOUT_PROFILE:
        return (f"The scanner's profile tells no color closer than {terms.supported:.1f} ΔE00.",)
    return ()


def _lines(cover: Cover) -> tuple[str, ...]:
    pen = cover.drawing.ink.pen / cover.work_dpi * MM_PER_INCH
    if pen <= 0:
        return ()
    if cover.dpi < LEAST_SURE_DPI:
        return (f"Gaps of half a millimeter do not show at {cover.dpi:g} pixels an inch. Scan at 300.",)
    wanted = min((apart for least, apart in SURE if pen >= least), default=None)
    if wanted is None:
        return (f"Gaps do not show in lines of {pen:.2f} mm.",)
    pale = [f"{ink} beside {other} ({apart:.0f})" for ink, other, apart in _pale(cover, wanted)]
    if not pale:
        return ()
    more = f" and {len(pale) - _NAMED} more" if len(pale) > _NAMED else ""
    return (
        f"Gaps in lines of {pen:.2f} mm surely show only where ink is {wanted:g} ΔE00 and more from what it "
        f"borders, not with {', '.join(pale[:_NAMED])}{more}.",
    )


def _pale(cover: Cover, wanted: float) -> list[tuple[str, str, float]]:
    """Return each ink that borders what is nearer to its color than wanted, that, and ΔE00, least first."""
    drawing = cover.drawing
    colors = drawing.palette.colors
    inks = np.unique(drawing.index[drawing.lines & (drawing.index >= 0)]).tolist()
    fills = np.unique(drawing.index[drawing.paints & (drawing.index >= 0)]).tolist()
    others = [(colors[fill].name, fill, colors[fill].lab) for fill in fills]
    others.append(("the card", -1, cover.card.lab))
    around, own = cache(partial(_around, drawing)), cache(partial(_own, drawing))
    found = []
    for ink in inks:
        for name, fill, lab in others:
            apart = float(ciede2000(np.array(colors[ink].lab), np.array(lab)))
            if fill == ink or apart >= wanted:
                continue
            if int(np.count_nonzero(around(ink) & own(fill))) >= _TOUCH:
                found.append((colors[ink].name, name, apart))
    return sorted(found, key=lambda one: one[2])


def _around(drawing: Drawing, ink: int) -> NDArray[np.bool_]:
    """Return what lies beside the lines of an ink, and they."""
    line = _seen(drawing, drawing.lines & (drawing.index == ink))
    return np.asarray(cv2.dilate(line.view(np.uint8), np.ones((_REACH, _REACH), np.uint8)) > 0)


def _own(drawing: Drawing, fill: int) -> NDArray[np.bool_]:
    """Return where fills of a color lie, or where clear cel does (-1)."""
    if fill < 0:
        return (drawing.regions.ids >= 1) & (drawing.regions.ids <= drawing.regions.clears)
    return _seen(drawing, drawing.paints & (drawing.index == fill))


def _seen(drawing: Drawing, flats: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return where some of the flats lie."""
    some = flats.copy()
    some[0] = False
    return np.asarray(some[drawing.flats.labels])
