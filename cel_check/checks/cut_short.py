"""`short-of-field`: art that is cut off straight, with its lines cut across, inside the picture.

A sleeve that runs out of the picture ends where the paper did: its paint lies bare on a straight side, level
or upright, from the line on one side of it to the line on the other. Whether the camera sees that side, and
whether another cel covers it, the scene decides (`scene.cuts`). Art without lines is not looked at: nobody
knows whether its straight side was drawn.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.drawing.clear import PAD
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.regions import HALF, LINE
from cel_check.faults import CATALOGUE, Box, Fault, FaultKind, Verdict
from cel_check.model.colormodel import Use
from cel_check.settings import Settings

LEAST = 24
"""Pixels of a cut side: shorter ones are blunt tips."""

PENS = 4.0
"""Pen widths of a cut side at least: the two lines that are cut across, and as much paint between them."""

BARE = 0.5
"""Share of a cut side that is paint; the rest is the lines that are cut across."""

DEEP = 24
"""Pixels of art, from the cut on, that a fault's box holds."""

DEPTH = 3
"""Pixels further in, where the art must be about as wide: the side of a curve is wider there."""

WIDER = 1.25
"""Times that the art may be as wide at that depth (sides that lean by 45 degrees widen by 6 px)."""

CONTRAST = 30.0
"""ΔE00 taken between art and what shows past it, which one cel does not tell (a house choice)."""

_SIDES = ("top", "bottom", "left", "right")


@dataclass(frozen=True, eq=False)
class _Side:
    """One side of the art's rectangle: what lies along it, and `DEPTH` pixels further in.

    Attributes:
        name: of the side.
        ids: `(n,)` regions along it.
        paint: `(n,)` where it is a fill in a color that is no ink: a broad line has blunt ends of its own.
        solid: `(n,)` where it is more paint than clear.
        within: `(n,)` the same further in.
        at: its row or column in the picture.
        begin: the picture's column or row of its first pixel.
    """

    name: str
    ids: NDArray[np.int32]
    paint: NDArray[np.bool_]
    solid: NDArray[np.bool_]
    within: NDArray[np.bool_]
    at: int
    begin: int


def cut_short(drawing: Drawing, settings: Settings, claimed: set[int]) -> tuple[Fault, ...]:
    """Find straight cuts across art and lines on the four sides of the art.

    Args:
        drawing: the cel, taken apart.
        settings: the thresholds of the run; none of them counts here.
        claimed: region ids that other faults explain; nothing is added.
    """
    if drawing.ink.pen <= 0:
        return ()
    least = max(LEAST, round(PENS * drawing.ink.pen))
    faults = []
    for side in _sides(drawing):
        cuts = [
            (begin, end)
            for begin, end in _stretches(side.solid)
            if end - begin >= least and _is_cut(side, begin, end, drawing.ink.pen)
        ]
        if cuts:
            faults.append(_fault(drawing, side, cuts))
    return tuple(faults)


def _sides(drawing: Drawing) -> Iterator[_Side]:
    """Yield the sides that do not lie on the picture's edge."""
    height, width = drawing.regions.ids.shape
    x, y = drawing.ground.origin
    wide, high = drawing.ground.size
    if min(height, width) <= 2 * PAD + DEPTH:
        return
    lines = {"top": PAD, "bottom": height - PAD - 1, "left": PAD, "right": width - PAD - 1}
    inward = {"top": DEPTH, "bottom": -DEPTH, "left": DEPTH, "right": -DEPTH}
    edges = {"top": y + PAD == 0, "bottom": y + height - PAD == high, "left": x + PAD == 0,
             "right": x + width - PAD == wide}  # fmt: skip
    alpha, paints = drawing.ground.rgba[..., 3], _paint_ids(drawing)
    for name in _SIDES:
        if edges[name]:
            continue
        upright = name in ("left", "right")
        ids, solid = (drawing.regions.ids.T, alpha.T) if upright else (drawing.regions.ids, alpha)
        line = lines[name]
        at, begin = (line + x, y) if upright else (line + y, x)
        paint = paints[np.maximum(ids[line], 0)]
        yield _Side(
            name, ids[line], paint, solid[line] >= HALF, solid[line + inward[name]] >= HALF, at, begin
        )


def _paint_ids(drawing: Drawing) -> NDArray[np.bool_]:
    """Return by region id whether it is a fill in a color that no line has."""
    inks = np.array([color.use is not Use.PAINT for color in drawing.palette.colors] + [False])  # NONE last
    table = np.zeros(len(drawing.regions.area), np.bool_)
    first = drawing.regions.id_of_flat(1)
    table[first:] = (drawing.paints & ~inks[drawing.index])[1:]
    return table


def _stretches(solid: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return first and past-the-last place of each run."""
    steps = np.diff(np.concatenate([[False], solid, [False]]).astype(np.int8))
    return list(zip(np.flatnonzero(steps > 0).tolist(), np.flatnonzero(steps < 0).tolist(), strict=True))


def _is_cut(side: _Side, begin: int, end: int, pen: float) -> bool:
    own = side.ids[begin:end]
    reach = max(3, round(1.5 * pen))
    crossed = bool((own[:reach] == LINE).any() and (own[-reach:] == LINE).any())
    if not crossed or side.paint[begin:end].mean() < BARE:
        return False
    near = slice(max(0, begin - DEPTH * 4), end + DEPTH * 4)
    return int(side.within[near].sum()) <= WIDER * (end - begin)


def _fault(drawing: Drawing, side: _Side, cuts: list[tuple[int, int]]) -> Fault:
    """Return the fault of a side; all of its cuts have one cause."""
    first, length = side.begin + cuts[0][0], cuts[-1][1] - cuts[0][0]
    middle = side.begin + sum(cuts[0]) // 2
    upright = side.name in ("left", "right")
    # The box holds the cut on its outer side, and as much art as tells a person what was cut.
    back = side.at - DEEP + 1 if side.name in ("right", "bottom") else side.at
    box: Box = (back, first, DEEP, length) if upright else (first, back, length, DEEP)
    x, y = drawing.ground.origin
    wide, high = drawing.ground.size
    inside = {"top": side.at, "bottom": high - 1 - side.at, "left": side.at, "right": wide - 1 - side.at}
    cut = sum(end - begin for begin, end in cuts)
    where = f"{drawing.length(inside[side.name])} inside the picture's {side.name} edge"
    return Fault(
        kind=FaultKind.SHORT_OF_FIELD,
        verdict=Verdict.QUERY,
        text=(
            f"The art is cut off straight for {drawing.length(cut)}, its lines cut across, {where}. "
            f"Draw it on past the field, unless it is meant to end there."
        ),
        send_to=CATALOGUE[FaultKind.SHORT_OF_FIELD].send_to,
        confidence=0.6,
        box=drawing.box(box[0] - x, box[1] - y, box[2], box[3]),
        point=(side.at, middle) if upright else (middle, side.at),
        area_px=cut,
        contrast=CONTRAST,
    )
