"""One scanned cel: made ready, checked, and judged by how sure its scan is. Runs in a worker."""

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np

from cel_check.checks.run import check_drawing
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.place import Place
from cel_check.drawing.places import places_of
from cel_check.drawing.separate import take_apart
from cel_check.errors import Refused
from cel_check.faults import CATALOGUE, Box, Fault, FaultKind, Point, Verdict
from cel_check.model.colormodel import Palette
from cel_check.picture.picture import Picture
from cel_check.scan.clear_card import DUST_MM
from cel_check.scan.prepare import Bed, Prepared, prepare
from cel_check.scan.profile import Profile, read_profile
from cel_check.scan.punch import MM_PER_INCH
from cel_check.scan.register import OffRegister
from cel_check.scene.scan_cover import Cover, uncovered
from cel_check.scene.scan_terms import ScanTerms
from cel_check.settings import Settings

LEAST_DPI = 120.0
"""Pixels an inch from which a spot of 0.5 mm is two pixels wide; coarser scans are not checked."""

LEAST_UNSURE = 0.5
"""ΔE00: what paint of one pot differs by from place to place at least (a house choice)."""

TEXTURE_MM = 2.0
"""Side of a place within which paint varies together, as strokes of a brush do: what a part of that size
varies by counts 1.4 times (a house choice)."""

MAY_RETAKE = frozenset(
    {
        FaultKind.OFF_MODEL,
        FaultKind.UNPAINTED,
        FaultKind.OPEN_LINE,
        FaultKind.OFF_REGISTER,
        FaultKind.WRONG_PART,
    }
)
"""Kinds that a scan shows surely enough to send a cel back; all others a person decides."""


SPOTS = frozenset({FaultKind.UNPAINTED, FaultKind.STRAY})
"""Kinds that are dust where they are as small."""


@dataclass(frozen=True, eq=False)
class CheckedScan:
    """What came of a scan.

    Attributes:
        drawing: at its working size, as the sheet lay.
        picture: the same in register.
        faults: they lie on the scan as read.
        notes: what was done, one sentence each.
        places: they lie on the scan as read.
    """

    drawing: Drawing
    picture: Picture
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]
    places: tuple[Place, ...]


def check_scan(picture: Picture, palette: Palette, settings: Settings, terms: ScanTerms) -> CheckedScan:
    """Check one scan.

    Raises:
        Refused: where its resolution is unknown or too coarse.
    """
    dpi = _dpi(picture, terms)
    ready = prepare(picture, palette, _profile(terms), Bed(dpi, terms.punch, terms.backing))
    drawing = take_apart(ready.picture, palette, settings)
    per_mm = ready.picture.width / picture.width * dpi / MM_PER_INCH
    drawing = replace(drawing, ground=replace(drawing.ground, per_mm=per_mm))
    size = (picture.width, picture.height)
    # Less than that across is dust, whatever the drawing at its working size makes of it.
    least = np.pi / 4 * (DUST_MM * dpi / MM_PER_INCH) ** 2
    faults = [
        _judged(_on_scan(fault, ready, size), _within(fault, ready, dpi, terms.residual), bool(terms.profile))
        for fault in check_drawing(drawing, settings)
    ]
    faults = [fault for fault in faults if not (fault.kind in SPOTS and (fault.area_px or 0) < least)]
    if ready.off is not None:
        faults.insert(0, _off_register(ready.off))
    places = tuple(_place_on_scan(place, ready, size) for place in places_of(drawing))
    unsure = uncovered(Cover(drawing, dpi, dpi / np.sqrt(_larger(ready)), ready.card, terms))
    notes = (*ready.notes, _supports(terms, known_within(ready.unsure, 0.0, terms.residual)))
    return CheckedScan(drawing, _in_register(ready), (*faults, *unsure), notes, places)


def _in_register(ready: Prepared) -> Picture:
    """Return the scan's picture in register, for frames that lay it over others: half a pixel off at most."""
    rgba = ready.picture.rgba
    size = (rgba.shape[1], rgba.shape[0])
    # No mixing: the checks have been, and a frame's pixel is seven of these.
    moved = cv2.warpAffine(rgba, ready.move, size, flags=cv2.INTER_NEAREST, borderMode=cv2.BORDER_CONSTANT)
    return replace(ready.picture, rgba=np.asarray(moved, np.uint8))


def _supports(terms: ScanTerms, within: float) -> str:
    if not terms.profile:
        return f"Without a profile the scan supports no tolerance below {terms.supported:.1f} ΔE00."
    most = f"it knows most colors within {within:.1f}"
    return f"The scan supports a tolerance of {terms.supported:.1f} ΔE00; {most}."


def told_by_others(faults: tuple[Fault, ...], terms: ScanTerms) -> tuple[Fault, ...]:
    """Return a scan's faults, after its level's drawings were compared, as surely as scans tell them."""
    within = known_within(0.0, 0.0, terms.residual)
    return tuple(_judged(fault, within, bool(terms.profile)) for fault in faults)


def known_within(spread: float, square_mm: float, residual: float) -> float:
    """Return ΔE00 within which a scan knows a part's color.

    Args:
        spread: ΔE00 by which the part varies.
        square_mm: its area; the mean of few strokes of a brush is known less surely than that of many.
        residual: mean ΔE00 by which the profile misses a color it was not fitted to.
    """
    few = 1.0 + TEXTURE_MM**2 / square_mm if square_mm else 1.0
    return float(np.sqrt(LEAST_UNSURE**2 + residual**2 + few * spread**2))


def _within(fault: Fault, ready: Prepared, dpi: float, residual: float) -> float:
    spread = ready.unsure
    if fault.point is not None:
        x, y = fault.point
        spread = ready.own.at(x, y) or spread
    square_mm = (fault.area_px or 0) * _larger(ready) * (MM_PER_INCH / dpi) ** 2
    return known_within(spread, square_mm, residual)


def _dpi(picture: Picture, terms: ScanTerms) -> float:
    dpi = terms.dpi or picture.dpi
    if dpi is None:
        raise Refused("the file does not state its resolution. Write dpi into [scan] of scene.toml.")
    if dpi < LEAST_DPI:
        raise Refused(f"{dpi:g} pixels an inch are too few to see a spot of 0.5 mm. Scan at 300.")
    return dpi


def _profile(terms: ScanTerms) -> Profile | None:
    return _read(terms.profile, terms.profile_sha256) if terms.profile else None


@lru_cache(maxsize=4)
def _read(path: str, _sha256: str) -> Profile:
    return read_profile(Path(path))


def _off_register(off: OffRegister) -> Fault:
    return Fault(
        kind=FaultKind.OFF_REGISTER,
        verdict=Verdict.QUERY if off.holeless else Verdict.RETAKE,
        text=f"The scan is not in register: {off.wrong}. {off.mend}.",
        send_to=CATALOGUE[FaultKind.OFF_REGISTER].send_to,
        confidence=0.9,
    )


def _judged(fault: Fault, within: float, calibrated: bool) -> Fault:
    """Make a retake a query where the scan, which knows a color within some ΔE00, is not sure enough."""
    if fault.verdict is not Verdict.RETAKE:
        return fault
    if fault.kind not in MAY_RETAKE:
        return replace(fault, verdict=Verdict.QUERY, confidence=min(fault.confidence, 0.6))
    wanted = {FaultKind.OFF_MODEL: fault.nearest, FaultKind.WRONG_PART: fault.expected}.get(fault.kind)
    if wanted is None:
        return fault
    if calibrated and wanted.delta_e > wanted.tolerance + within:
        return fault
    why = (
        f" The scan is sure of this color within {within:.1f} ΔE00."
        if calibrated
        else " The scanner has no profile."
    )
    return replace(fault, verdict=Verdict.QUERY, confidence=min(fault.confidence, 0.5), text=fault.text + why)


def _on_scan(fault: Fault, ready: Prepared, size: tuple[int, int]) -> Fault:
    """Return a fault with its place and area on the scan as it was read."""
    area = None if fault.area_px is None else round(fault.area_px * _larger(ready))
    box = None if fault.box is None else _box(fault.box, ready, size)
    point = None if fault.point is None else _point(fault.point, ready, size)
    return replace(fault, box=box, point=point, area_px=area)


def _place_on_scan(place: Place, ready: Prepared, size: tuple[int, int]) -> Place:
    """Return a place as it lies on the scan as it was read."""
    turn = ready.back[:, :2]
    xx, xy, yy = place.moments
    moments = turn @ np.array([[xx, xy], [xy, yy]]) @ turn.T
    x, y = ready.back @ [*place.center, 1.0]
    return replace(
        place,
        area=round(place.area * _larger(ready)),
        box=_box(place.box, ready, size),
        center=(float(x), float(y)),
        moments=(round(moments[0, 0], 2), round(moments[0, 1], 2), round(moments[1, 1], 2)),
        point=_point(place.point, ready, size),
    )


def _larger(ready: Prepared) -> float:
    """Return how many pixels of the scan one of the working size is."""
    return float(abs(np.linalg.det(ready.back[:, :2])))


def _point(point: Point, ready: Prepared, size: tuple[int, int]) -> Point:
    x, y = ready.back @ [point[0], point[1], 1.0]
    return min(max(0, round(x)), size[0] - 1), min(max(0, round(y)), size[1] - 1)


def _box(box: Box, ready: Prepared, size: tuple[int, int]) -> Box:
    x, y, w, h = box
    corners = np.array([(x, y, 1), (x + w, y, 1), (x, y + h, 1), (x + w, y + h, 1)], float) @ ready.back.T
    left, top = (int(v) for v in np.clip(np.floor(corners.min(axis=0)), 0, (size[0] - 1, size[1] - 1)))
    right, bottom = (int(v) for v in np.clip(np.ceil(corners.max(axis=0)), 1, size))
    return left, top, max(1, right - left), max(1, bottom - top)
