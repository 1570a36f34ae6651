"""`unpainted`: a part, or a spot inside a part, left without paint.

A clear place inside bare paint is a spot that the brush missed. A clear place that ink closes in all around
may be a part that nobody painted, or a see-through that is meant (an arm on a hip, a ring): one drawing alone
cannot tell, so it is a query.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.checks.common import expected_paint, named
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE
from cel_check.drawing.regions import OUTSIDE
from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.settings import Settings

BARE = 0.5
"""Share of ink on its border below which a clear place lies in paint and not between lines."""

LEAST_SPOT = 4
"""Pixels of a spot that a person can see; less, between fills or on a card, is a chance of blending."""

LEAST_AT_LINE = 8
"""Pixels of a spot that touches a line; less is where fill and line meet with a hair between them."""

LEAST_SPOT_NOISY = 25
"""The same with the noise of lossy compression."""

LARGEST_SPOT = 300
"""Pixels up to which a clear place that touches ink here and there is surely missed; larger may be meant."""

LARGEST_MISSED = 0.03
"""Share of the fill around it up to which a place off ink is surely missed; a ring's hole is larger."""

INKLESS = 0.3
"""Share of all fills' borders that lines cover below which a drawing is painted without them: there no line
says which places between its parts are meant to be seen through."""

LARGEST_BETWEEN = 60
"""Pixels up to which a place between two fills of such a drawing is surely missed."""

TIP, TIP_REACH, TIP_ALPHA = 40, 16, 200
"""Pixels up to which a clear place may be the end of a slit, pixels within which the slit goes on, and alpha
(of 255) below which no more than the slit's own soft edges part the two."""

SLIVER = 12
"""Pixels of area below which a clear place that ink closes in is a corner that the line itself left."""


def unpainted(drawing: Drawing, settings: Settings, claimed: set[int]) -> tuple[Fault, ...]:
    """Find clear places inside the art.

    Args:
        drawing: the cel, taken apart.
        settings: the thresholds of the run.
        claimed: region ids that other faults explain; the places found here are added.
    """
    regions = drawing.regions
    holes = [hole for hole in range(OUTSIDE + 1, regions.clears + 1) if hole not in claimed]
    if not drawing.paints.any():
        return _not_painted_at_all(drawing, holes)
    faults = []
    for hole in holes:
        share = regions.inked_share(hole)
        area = regions.area[hole]
        if (drawing.ground.noisy and area < LEAST_SPOT_NOISY) or area < _least(drawing, hole, share):
            pass
        elif share < BARE:
            if not (area <= TIP and _is_tip(drawing, hole)):
                faults.append(_spot(drawing, hole, share))
        elif area >= SLIVER:
            faults.append(_closed_place(drawing, hole))
        claimed.add(hole)
    return tuple(faults)


def _least(drawing: Drawing, hole: int, share: float) -> int:
    """Return the pixels from which a clear place is a spot that somebody can see, by what lies around it."""
    if share > 0:
        return LEAST_AT_LINE
    if drawing.ground.card is not None or len(_fills_around(drawing, hole)) > 1:
        return LEAST_SPOT
    return 1


def _is_tip(drawing: Drawing, hole: int) -> bool:
    """Tell whether a small clear place is the end of a larger one: a slit ends where its soft edges meet."""
    x, y, w, h = (int(value) for value in drawing.regions.box[hole])
    top, left = max(0, y - TIP_REACH), max(0, x - TIP_REACH)
    window = np.s_[top : y + h + TIP_REACH, left : x + w + TIP_REACH]
    ids = drawing.regions.ids[window]
    soft = (drawing.ground.rgba[window][..., 3] < TIP_ALPHA).view(np.uint8)
    _, pieces = cv2.connectedComponents(soft, connectivity=8)
    own = np.unique(pieces[(ids == hole) & (soft > 0)])
    joined = np.isin(pieces, own) & (ids > 0) & (ids <= drawing.regions.clears) & (ids != hole)
    return bool(joined.any())


def _surely_missed(drawing: Drawing, hole: int, share: float) -> bool:
    """Tell whether a place without paint was missed by the brush, and is not meant to be seen through."""
    area, around = int(drawing.regions.area[hole]), _fills_around(drawing, hole)
    if not _is_inkless(drawing):
        missed = LARGEST_MISSED * int(drawing.regions.area[around].sum()) if share < 0.05 else 0
        return area <= max(LARGEST_SPOT, missed)
    return area <= (LARGEST_BETWEEN if len(around) > 1 else LARGEST_SPOT)


def _is_inkless(drawing: Drawing) -> bool:
    """Tell whether a drawing's parts have no outlines."""
    regions = drawing.regions
    fills = regions.clears + np.flatnonzero(drawing.paints)
    inked, bare = int(regions.inked[fills].sum()), int(regions.bare[fills].sum())
    return inked < INKLESS * (inked + bare)


def _fills_around(drawing: Drawing, hole: int) -> NDArray[np.int64]:
    """Return the ids of the regions that a clear place touches."""
    pairs = drawing.regions.pairs
    return np.unique(np.concatenate([pairs[pairs[:, 0] == hole, 1], pairs[pairs[:, 1] == hole, 0]]))


def _paint_around(drawing: Drawing, hole: int) -> tuple[int | None, float]:
    """Return the paint (palette index) with most of a clear place's bare border, and its share of it."""
    pairs = drawing.regions.pairs
    other = np.concatenate([pairs[pairs[:, 0] == hole, 1], pairs[pairs[:, 1] == hole, 0]])
    flats = other - drawing.regions.clears
    colors = drawing.index[flats[flats > 0]]
    colors = colors[colors != NONE]
    if not len(colors):
        return None, 0.0
    counts = np.bincount(colors)
    return int(counts.argmax()), float(counts.max()) / len(other)


def _fault(drawing: Drawing, hole: int, **keys: object) -> Fault:
    x, y, w, h = (int(v) for v in drawing.regions.box[hole])
    window = drawing.regions.ids[y : y + h, x : x + w] == hole
    rows, cols = np.nonzero(window)
    middle = int(((cols - cols.mean()) ** 2 + (rows - rows.mean()) ** 2).argmin()) if len(rows) else 0
    spot = (x + int(cols[middle]), y + int(rows[middle])) if len(rows) else (x, y)
    return Fault(
        kind=FaultKind.UNPAINTED,
        send_to=SendTo.PAINT,
        box=drawing.box(x, y, w, h),
        point=drawing.point(*spot),
        area_px=int(drawing.regions.area[hole]),
        **keys,  # type: ignore[arg-type]
    )


def _spot(drawing: Drawing, hole: int, share: float) -> Fault:
    """Describe a spot that the brush missed."""
    color, _ = _paint_around(drawing, hole)
    size = drawing.length(max(int(v) for v in drawing.regions.box[hole][2:]))
    sure = _surely_missed(drawing, hole, share)
    match = expected_paint(drawing, color, "the paint all around the spot") if color is not None else None
    paint = f" in {named(match)}" if match else ""
    return _fault(
        drawing,
        hole,
        verdict=Verdict.RETAKE if sure else Verdict.QUERY,
        text=f"A spot of {size} without paint{paint}. Touch it up.",
        confidence=0.5 if not sure else 0.97,
        expected=match,
        contrast=50.0,
    )


def _closed_place(drawing: Drawing, hole: int) -> Fault:
    """Describe a clear place that ink closes in all around."""
    return _fault(
        drawing,
        hole,
        verdict=Verdict.QUERY,
        text="Clear cel shows inside closed lines. Paint this part, unless it is meant to be seen through.",
        confidence=0.75,
        contrast=50.0,
    )


def _not_painted_at_all(drawing: Drawing, holes: list[int]) -> tuple[Fault, ...]:
    """Describe a drawing with lines and no paint: one cause, one fault."""
    areas = {hole: int(drawing.regions.area[hole]) for hole in holes}
    if not areas or max(areas.values()) < SLIVER:
        return ()
    boxes = drawing.regions.box[list(areas)]
    left, top = boxes[:, :2].min(axis=0)
    right, bottom = (boxes[:, :2] + boxes[:, 2:]).max(axis=0)
    largest = max(areas, key=lambda hole: areas[hole])
    whole = _fault(
        drawing,
        largest,
        verdict=Verdict.QUERY,
        text="This drawing is inked and not painted at all. Paint it, unless it is a line drawing.",
        confidence=0.5,
        contrast=50.0,
    )
    box = drawing.box(int(left), int(top), int(right - left), int(bottom - top))
    return (Fault(**{**whole.__dict__, "box": box, "area_px": sum(areas.values())}),)
