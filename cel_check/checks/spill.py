"""`spill`: paint across its ink line.

The sign of it is a contact run (a bare border) with both ends on ink that bulges away from the line, while the same
paint lies on the other side of that line. Either the line still shows and the bump lies beyond it, or the bump lies
over the line and the line breaks off on both sides, its two ends in line with each other. A fill that simply ends
without a line (a wrist, a shadow's edge) has neither the same paint across a line nor ends in line.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.checks.common import model_match, named, pixels
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE
from cel_check.drawing.regions import LINE
from cel_check.drawing.runs import Run
from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.settings import Settings

LEAST_DEPTH = 2.0
"""Pixels that a bump over a line must stand out from it."""

LEAST_BEYOND = 1.6
"""The same for a bump beyond a line that still shows; the line's own soft edge hides the rest of it."""

LEAST_AREA = 7
"""Pixels of a bump beyond its line; a fill that lies beside its line by a hair leaves crumbs of fewer."""

LEAST_CHORD = 3.5
"""Pixels of line beside such a bump."""

SHALLOW = 7.0
"""Pixels up to which a bump over a line is surely a slip of the brush."""

SURE_DEPTH = 11.0
"""The same where the line plainly runs through under the bump; a larger one may be a shape that was drawn."""

THROUGH = 0.62
"""Cosine at both ends from which the line plainly runs through."""

DEEPEST = 16.0
"""Pixels beyond which a bump is a shape that was drawn."""

LONGEST_CHORD = 60.0
"""Pixels of line that a spill crosses at most."""

WIDEST = 5.0
"""Chord over depth; flatter bumps are a fill that lies a little beside its line all along."""

LARGE = 0.3
"""Share of its own part's area from which a bump is a part itself."""

MOST_BORDER = 0.3
"""Share of its part's border that a bump over the line takes at most; a cheek that a line crosses takes half."""

IN_LINE = 0.5
"""Cosine between the chord and the line at its ends, from which the line runs through under the bump."""


BARE_ELSEWHERE = 0.12
"""Share of its border on which a part meets the other paint bare, from which the two are drawn without a line."""


@dataclass(frozen=True)
class Bump:
    """A bump of paint across a line.

    Attributes:
        region: id of the region that holds the bump.
        home: id of the region of the same paint across the line (the same one where the bump covers the line).
        other: id of the region that the bump stands in.
        covers: True where the bump lies over the line.
        sure: True where nobody would draw it so.
    """

    region: int
    home: int
    other: int
    covers: bool
    sure: bool


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
    for run in drawing.runs:
        bump = _bump(drawing, run)
        if bump is None or bump.region in claimed:
            continue
        if bump.region != bump.home:
            claimed.add(bump.region)
        faults.append(_fault(drawing, run, bump))
    return tuple(faults)


def _bump(drawing: Drawing, run: Run) -> Bump | None:
    """Return the bump that a contact run outlines; None where it is an ordinary bare border."""
    if run.ends is None or not _right_size(run):
        return None
    _, towards = _inner_point(run)
    region = _bulging(drawing, run, towards)
    if region is None:
        return None
    other = run.pair[0] if region == run.pair[1] else run.pair[1]
    flat = drawing.regions.flat_of_id(region)
    if flat <= 0 or drawing.index[flat] in (NONE, _color(drawing, other)):
        return None
    home = _home(drawing, run, region, towards)
    if home is None or _bare_by_design(drawing, run, home, other):
        return None
    if home == region:
        border = int(drawing.regions.inked[home] + drawing.regions.bare[home])
        over = (
            run.depth >= LEAST_DEPTH and run.chord >= LEAST_CHORD and len(run.points) <= MOST_BORDER * border
        )
        through = _ends_in_line(drawing, run) if over else -1.0
        sure = run.depth <= SURE_DEPTH and (run.depth <= SHALLOW or through >= THROUGH)
        return Bump(region, home, other, True, sure) if through >= IN_LINE else None
    areas = drawing.regions.area
    if areas[region] < LEAST_AREA or run.chord < LEAST_CHORD:
        return None
    if areas[region] > LARGE * areas[home] or _line_under(drawing, run, towards) < 0.5:
        return None
    return Bump(region, home, other, False, True)


def _color(drawing: Drawing, region: int) -> int | None:
    """Return the palette color of a region; None on clear cel."""
    flat = drawing.regions.flat_of_id(region)
    return int(drawing.index[flat]) if flat > 0 else None


def _bare_by_design(drawing: Drawing, run: Run, home: int, other: int) -> bool:
    """Tell whether the paint meets the other paint without a line elsewhere too: a shine or a cheek, not a spill."""
    regions = drawing.regions
    flat = regions.flat_of_id(other)
    if flat <= 0 or drawing.index[flat] == NONE:
        return False
    pairs = regions.pairs
    met = np.concatenate([pairs[pairs[:, 0] == home, 1], pairs[pairs[:, 1] == home, 0]])
    flats = met - regions.clears
    same = (flats > 0) & (drawing.index[np.maximum(flats, 0)] == drawing.index[flat])
    elsewhere = int(same.sum()) - (len(run.points) if home in run.pair else 0)
    border = int(regions.inked[home] + regions.bare[home])
    return elsewhere > BARE_ELSEWHERE * border


def _right_size(run: Run) -> bool:
    return (
        LEAST_BEYOND <= run.depth <= DEEPEST
        and 2.0 <= run.chord <= LONGEST_CHORD
        and run.chord <= WIDEST * run.depth + 2.0
    )


def _inner_point(run: Run) -> tuple[tuple[int, int], NDArray[np.float64]]:
    """Return a point just inside the bump, and the unit vector from there towards the chord and across it."""
    first, second = (np.array(end, np.float64) for end in run.ends or ((0, 0), (0, 0)))
    span = second - first
    normal = np.array([-span[1], span[0]]) / max(1e-9, float(np.hypot(*span)))
    bulge = float(((run.points - first) @ normal).mean())
    towards = -normal if bulge > 0 else normal
    point = np.array(run.deepest, np.float64) + towards * min(1.6, run.depth / 2)
    return (round(float(point[0])), round(float(point[1]))), towards


def _bulging(drawing: Drawing, run: Run, towards: NDArray[np.float64]) -> int | None:
    """Return which of a run's two regions lies between it and its chord; None where neither does."""
    ids = drawing.regions.ids
    inside = np.rint(run.points + towards * min(1.3, run.depth / 2)).astype(np.int64)
    seen = ids[np.clip(inside[:, 1], 0, ids.shape[0] - 1), np.clip(inside[:, 0], 0, ids.shape[1] - 1)]
    first, second = (int((seen == region).sum()) for region in run.pair)
    if not first and not second:
        return None
    return run.pair[0] if first > second else run.pair[1]


def _home(drawing: Drawing, run: Run, region: int, towards: NDArray[np.float64]) -> int | None:
    """Return the region of the bump's own paint across the line; None where something else lies there."""
    flat = drawing.regions.flat_of_id(region)
    votes: dict[int, int] = {}
    for share in (0.3, 0.5, 0.7):
        seen = _across(drawing, run, share, towards, region)
        if seen is not None:
            votes[seen] = votes.get(seen, 0) + 1
    same = {
        seen: count
        for seen, count in votes.items()
        if drawing.regions.flat_of_id(seen) > 0
        and drawing.index[drawing.regions.flat_of_id(seen)] == drawing.index[flat]
    }
    if not same or sum(same.values()) < 2:
        return None
    return max(same, key=lambda seen: (same[seen], seen != region))


def _across(
    drawing: Drawing, run: Run, share: float, towards: NDArray[np.float64], region: int
) -> int | None:
    """March from a place on the chord, away from the bump, across the line, and return the first region met."""
    first, second = (np.array(end, np.float64) for end in run.ends or ((0, 0), (0, 0)))
    start = first + share * (second - first)
    reach = 2.0 * drawing.ink.pen + 4.0
    ids = drawing.regions.ids
    for step in np.arange(0.0, reach, 1.0):
        x, y = (round(float(v)) for v in start + towards * step)
        if not (0 <= y < ids.shape[0] and 0 <= x < ids.shape[1]):
            return None
        here = int(ids[y, x])
        if here > 0 and (here != region or step >= drawing.ink.pen + 1.0):
            return here
    return None


def _line_under(drawing: Drawing, run: Run, towards: NDArray[np.float64]) -> float:
    """Return the share of the chord along which the line shows between the bump and its home."""
    first, second = (np.array(end, np.float64) for end in run.ends or ((0, 0), (0, 0)))
    ids = drawing.regions.ids
    hits = 0
    places = np.linspace(0.1, 0.9, 9)
    for share in places:
        base = first + share * (second - first)
        for step in np.arange(-2.0, drawing.ink.pen + 3.0):
            x, y = (round(float(v)) for v in base + towards * step)
            if 0 <= y < ids.shape[0] and 0 <= x < ids.shape[1] and ids[y, x] == LINE:
                hits += 1
                break
    return hits / len(places)


def _ends_in_line(drawing: Drawing, run: Run) -> float:
    """Return the lesser cosine between the chord and the line that breaks off at each end of the run."""
    first, second = (np.array(end, np.float64) for end in run.ends or ((0, 0), (0, 0)))
    chord = (second - first) / max(1e-9, float(np.hypot(*(second - first))))
    return min(_outward(drawing, first, -chord), _outward(drawing, second, chord))


def _outward(drawing: Drawing, end: NDArray[np.float64], outward: NDArray[np.float64]) -> float:
    """Return the cosine between a direction and where the ink lies on that side of a point.

    The other side is left out: on a thick line the ink beyond the run's other end is as near.
    """
    reach = int(max(6.0, 1.8 * drawing.ink.pen + 3.0))
    x, y = (round(float(v)) for v in end)
    top, left = max(0, y - reach), max(0, x - reach)
    rows, cols = np.nonzero(drawing.ink.line[top : y + reach + 1, left : x + reach + 1])
    away = np.stack([cols + left - end[0], rows + top - end[1]], axis=1)
    away = away[away @ outward > 0.0]
    if not len(away):
        return -1.0
    mean = away.mean(axis=0)
    return float(mean @ outward / max(1e-9, float(np.hypot(*mean))))


def _fault(drawing: Drawing, run: Run, bump: Bump) -> Fault:
    """Describe a spill."""
    flat = drawing.regions.flat_of_id(bump.region)
    index = int(drawing.index[flat])
    color = drawing.palette.colors[index]
    match = model_match(color, float(drawing.table[flat, index]))
    other = drawing.regions.flat_of_id(bump.other)
    into = "the clear cel"
    expected = None
    if other > 0 and drawing.index[other] != NONE:
        neighbor = drawing.palette.colors[int(drawing.index[other])]
        expected = model_match(
            neighbor, float(drawing.table[flat, int(drawing.index[other])]), "the paint beyond the line"
        )
        into = named(expected)
    left, top = run.points.min(axis=0)
    right, bottom = run.points.max(axis=0)
    how = "over" if bump.covers else "across"
    inner, _ = _inner_point(run)
    return Fault(
        kind=FaultKind.SPILL,
        verdict=Verdict.RETAKE if bump.sure else Verdict.QUERY,
        text=f"{named(match)} runs {pixels(run.depth)} {how} its line into {into}. Scrape it back to the line.",
        send_to=SendTo.PAINT,
        confidence=0.9 if not bump.covers else 0.85 if bump.sure else 0.5,
        box=drawing.box(int(left), int(top), int(right - left) + 1, int(bottom - top) + 1),
        point=drawing.point(*inner),
        area_px=int(max(1.0, 0.67 * run.chord * run.depth)),
        found=drawing.found(flat),
        nearest=match,
        expected=expected,
        contrast=expected.delta_e if expected else 50.0,
    )
