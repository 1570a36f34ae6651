"""`off-model`: a fill whose color is not on the model within tolerance."""

import numpy as np
from numpy.typing import NDArray

from cel_check.checks.common import model_match, named
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE
from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.settings import Settings

SAME_POT = 1.0
"""ΔE00 within which two off-model fills came out of the same wrong pot: one cause, one fault."""

SURE_AREA = 60
"""Pixels of core from which a flat color is surely paint and not a blend."""


def off_model(drawing: Drawing, settings: Settings, claimed: set[int]) -> tuple[Fault, ...]:
    """Find fills that match no color of the model.

    Args:
        drawing: the cel, taken apart.
        settings: the thresholds of the run.
        claimed: region ids that other faults explain; the fills found here are added.

    Returns:
        One fault for each wrong color (its fills taken together), largest first.
    """
    flats = [
        int(flat)
        for flat in np.nonzero(drawing.paints & (drawing.index == NONE))[0]
        if drawing.regions.id_of_flat(int(flat)) not in claimed
    ]
    faults = []
    for group in _pots(drawing, flats):
        claimed.update(drawing.regions.id_of_flat(flat) for flat in group)
        faults.append(_fault(drawing, group))
    return tuple(faults)


def _pots(drawing: Drawing, flats: list[int]) -> list[list[int]]:
    """Group fills of one wrong color, those of the largest fill first."""
    left = sorted(flats, key=lambda flat: -int(drawing.flats.area[flat]))
    groups: list[list[int]] = []
    while left:
        lead = drawing.flats.lab[left[0]]
        same = [flat for flat in left if float(np.linalg.norm(drawing.flats.lab[flat] - lead)) < SAME_POT]
        groups.append(same)
        left = [flat for flat in left if flat not in same]
    return groups


def _fault(drawing: Drawing, group: list[int]) -> Fault:
    """Describe one wrong color."""
    lead = group[0]
    table: NDArray[np.float64] = drawing.table[lead]
    best = int(table.argmin())
    color = drawing.palette.colors[best]
    match = model_match(color, float(table[best]))
    boxes = drawing.flats.box[group]
    left, top = boxes[:, :2].min(axis=0)
    right, bottom = (boxes[:, :2] + boxes[:, 2:]).max(axis=0)
    area = int(sum(drawing.regions.area[drawing.regions.id_of_flat(flat)] for flat in group))
    places = f" in {len(group)} places" if len(group) > 1 else ""
    ratio = match.delta_e / match.tolerance
    sure = ratio > 1.05 and area >= SURE_AREA
    text = (
        f"{match.name} is painted {match.delta_e:.1f} ΔE00 off the model{places} "
        f"(allowed {match.tolerance:g}). Repaint with {named(match)}."
    )
    if ratio > 8:
        text = (
            f"A color that is not on the model{places}: the nearest is {named(match)}, "
            f"{match.delta_e:.1f} ΔE00 away (allowed {match.tolerance:g}). Repaint with the model's color."
        )
    return Fault(
        kind=FaultKind.OFF_MODEL,
        verdict=Verdict.RETAKE if sure else Verdict.QUERY,
        text=text,
        send_to=SendTo.PAINT,
        confidence=round(min(0.99, 0.85 + 0.1 * min(1.0, ratio - 1.0) + min(0.04, area / 12500)), 2),
        box=drawing.box(int(left), int(top), int(right - left), int(bottom - top)),
        point=_inside(drawing, lead),
        area_px=area,
        found=drawing.found(lead),
        nearest=match,
        contrast=match.delta_e,
    )


def _inside(drawing: Drawing, flat: int) -> tuple[int, int]:
    """Return a pixel of a fill: the one nearest to its center."""
    x, y, w, h = (int(v) for v in drawing.flats.box[flat])
    rows, cols = np.nonzero(drawing.flats.labels[y : y + h, x : x + w] == flat)
    cx, cy = drawing.flats.center[flat]
    best = int(((cols + x - cx) ** 2 + (rows + y - cy) ** 2).argmin())
    return drawing.point(int(cols[best]) + x, int(rows[best]) + y)
