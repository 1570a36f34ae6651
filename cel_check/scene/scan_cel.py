"""One scanned cel: made ready, checked, and judged by how sure its scan is. Runs in a worker."""

from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from cel_check.checks.run import check_drawing
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.separate import take_apart
from cel_check.errors import Refused
from cel_check.faults import CATALOGUE, Box, Fault, FaultKind, Verdict
from cel_check.model.colormodel import Palette
from cel_check.picture.picture import Picture
from cel_check.scan.clear_card import DUST_MM
from cel_check.scan.prepare import Bed, Prepared, prepare
from cel_check.scan.profile import Profile, read_profile
from cel_check.scan.punch import MM_PER_INCH
from cel_check.scan.register import OffRegister
from cel_check.scene.scan_terms import ScanTerms
from cel_check.settings import Settings

LEAST_DPI = 120.0
"""Pixels an inch from which a spot of 0.5 mm is two pixels wide; coarser scans are not checked."""

LEAST_UNSURE = 0.5
"""ΔE00: what paint of one pot differs by from place to place at least (a house choice)."""

MAY_RETAKE = frozenset(
    {FaultKind.OFF_MODEL, FaultKind.UNPAINTED, FaultKind.OPEN_LINE, FaultKind.OFF_REGISTER}
)
"""Kinds that a scan shows surely enough to send a cel back; all others a person decides."""


SPOTS = frozenset({FaultKind.UNPAINTED, FaultKind.STRAY})
"""Kinds that are dust where they are as small."""


_LOOK = Fault(
    kind=FaultKind.OPEN_LINE,
    verdict=Verdict.QUERY,
    text="Open lines and colors on a wrong part are not surely found on scans. Look at its lines and parts.",
    send_to=CATALOGUE[FaultKind.OPEN_LINE].send_to,
    confidence=0.1,
)
"""What every scan carries: a cel that was not fully checked must not look like one that passed."""


@dataclass(frozen=True, eq=False)
class CheckedScan:
    """What came of a scan: the drawing at its working size, its faults on the scan as read, and notes."""

    drawing: Drawing
    picture: Picture
    faults: tuple[Fault, ...]
    notes: tuple[str, ...]


def check_scan(picture: Picture, palette: Palette, settings: Settings, terms: ScanTerms) -> CheckedScan:
    """Check one scan.

    Raises:
        Refused: where its resolution is unknown or too coarse.
    """
    dpi = _dpi(picture, terms)
    ready = prepare(picture, palette, _profile(terms), Bed(dpi, terms.punch, terms.backing))
    drawing = take_apart(ready.picture, palette, settings)
    size = (picture.width, picture.height)
    # Less than that across is dust, whatever the drawing at its working size makes of it.
    least = np.pi / 4 * (DUST_MM * dpi / MM_PER_INCH) ** 2
    faults = [
        _judged(_on_scan(fault, ready, size), ready.unsure, bool(terms.profile))
        for fault in check_drawing(drawing, settings)
    ]
    faults = [fault for fault in faults if not (fault.kind in SPOTS and (fault.area_px or 0) < least)]
    if ready.off is not None:
        faults.insert(0, _off_register(ready.off))
    return CheckedScan(drawing, ready.picture, (*faults, _LOOK), ready.notes)


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


def _judged(fault: Fault, unsure: float, calibrated: bool) -> Fault:
    """Make a retake a query where the scan is not sure enough of it."""
    if fault.verdict is not Verdict.RETAKE:
        return fault
    if fault.kind not in MAY_RETAKE:
        return replace(fault, verdict=Verdict.QUERY, confidence=min(fault.confidence, 0.6))
    if fault.kind is not FaultKind.OFF_MODEL or fault.nearest is None:
        return fault
    margin = max(unsure, LEAST_UNSURE)
    if calibrated and fault.nearest.delta_e > fault.nearest.tolerance + margin:
        return fault
    why = (
        f" The scan is sure of this color within {margin:.1f} ΔE00."
        if calibrated
        else " The scanner has no profile."
    )
    return replace(fault, verdict=Verdict.QUERY, confidence=min(fault.confidence, 0.5), text=fault.text + why)


def _on_scan(fault: Fault, ready: Prepared, size: tuple[int, int]) -> Fault:
    """Return a fault with its place and area on the scan as it was read."""
    scale = float(np.sqrt(abs(np.linalg.det(ready.back[:, :2]))))
    area = None if fault.area_px is None else round(fault.area_px * scale * scale)
    box = None if fault.box is None else _box(fault.box, ready, size)
    point = None
    if fault.point is not None:
        x, y = ready.back @ [fault.point[0], fault.point[1], 1.0]
        point = (min(max(0, round(x)), size[0] - 1), min(max(0, round(y)), size[1] - 1))
    return replace(fault, box=box, point=point, area_px=area)


def _box(box: Box, ready: Prepared, size: tuple[int, int]) -> Box:
    x, y, w, h = box
    corners = np.array([(x, y, 1), (x + w, y, 1), (x, y + h, 1), (x + w, y + h, 1)], float) @ ready.back.T
    left, top = (int(v) for v in np.clip(np.floor(corners.min(axis=0)), 0, (size[0] - 1, size[1] - 1)))
    right, bottom = (int(v) for v in np.clip(np.ceil(corners.max(axis=0)), 1, size))
    return left, top, max(1, right - left), max(1, bottom - top)
