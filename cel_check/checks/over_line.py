"""Spills that cover their line: the line breaks off on both sides of a bump of paint, its ends in line.

The sign of it is a contact run (a bare border) with both ends on ink that bulges away from the line, while
the same paint lies behind. A fill that simply ends without a line (a wrist, a shadow's edge) has no ends in
line.
"""

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from cel_check.checks.bump import Bump, bare_by_design, color_of
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE
from cel_check.drawing.regions import LINE
from cel_check.drawing.runs import Run
from cel_check.model.colormodel import Use

LEAST_DEPTH = 1.3
"""Pixels that a bump over a line must stand out from its chord, whose ends lie up to 2 px beyond the line."""

SURE_FROM = 2.0
"""The same for a bump that is surely none of a line's own irregularities."""

LEAST_CHORD = 3.5
"""Pixels of line that it covers."""

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

MOST_BORDER = 0.3
"""Share of its part's border that a bump over the line takes at most; a cheek under a line takes half."""

IN_LINE = 0.35
"""Cosine between the chord and the line at its ends, from which the line runs through under the bump."""

PAST = 10.0
"""Pixels past an end of the bump up to which the line's two sides are looked at."""

LEAST_SEEN = 3
"""Pixels of a paint that must lie there."""


def bumps_over(drawing: Drawing) -> Iterator[Bump]:
    """Find the bumps over a line.

    Args:
        drawing: the cel, taken apart.

    Yields:
        The bumps, in the order of the runs.
    """
    for run in drawing.runs:
        bump = _bump(drawing, run)
        if bump is not None:
            yield bump


def _bump(drawing: Drawing, run: Run) -> Bump | None:
    """Return the bump that a contact run outlines; None where it is an ordinary bare border."""
    if run.ends is None or not _right_size(run):
        return None
    inner, towards = _inner_point(run)
    region = _bulging(drawing, run, towards)
    if region is None:
        return None
    other = run.pair[0] if region == run.pair[1] else run.pair[1]
    if not _can_spill(drawing, run, region, other):
        return None
    through = _ends_in_line(drawing, run)
    if through < IN_LINE or not _covers_a_line(drawing, run, towards, (region, other)):
        return None
    sure = SURE_FROM <= run.depth <= SURE_DEPTH and (run.depth <= SHALLOW or through >= THROUGH)
    left, top = (int(v) for v in run.points.min(axis=0))
    right, bottom = (int(v) for v in run.points.max(axis=0))
    area = int(max(1.0, 0.67 * run.chord * run.depth))
    box = (left, top, right - left + 1, bottom - top + 1)
    return Bump(region, region, other, True, sure, run.depth, box, inner, area)


def _can_spill(drawing: Drawing, run: Run, region: int, other: int) -> bool:
    """Tell whether the paints on both sides of a run are such that one can have spilled into the other."""
    color = color_of(drawing, region)
    if color is None or color in (NONE, color_of(drawing, other)):
        return False
    if drawing.palette.colors[color].use is not Use.PAINT:  # a blot of ink covers no line
        return False
    border = int(drawing.regions.inked[region] + drawing.regions.bare[region])
    if len(run.points) > MOST_BORDER * border:
        return False
    return not bare_by_design(drawing, region, other, len(run.points))


def _covers_a_line(drawing: Drawing, run: Run, towards: NDArray[np.float64], sides: tuple[int, int]) -> bool:
    """Tell whether a line ran under the bump: its paint lies behind, a line parts the two past both ends."""
    return _joined_behind(drawing, run, sides[0], towards) and _line_goes_on(drawing, run, towards, sides)


def _right_size(run: Run) -> bool:
    return (
        LEAST_DEPTH <= run.depth <= DEEPEST
        and LEAST_CHORD <= run.chord <= LONGEST_CHORD
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


def _joined_behind(drawing: Drawing, run: Run, region: int, towards: NDArray[np.float64]) -> bool:
    """Tell whether the bump is joined to a fill of its own on the other side of the line that it covers."""
    first, second = (np.array(end, np.float64) for end in run.ends or ((0, 0), (0, 0)))
    seen = [_across(drawing, first + share * (second - first), towards, region) for share in (0.3, 0.5, 0.7)]
    return seen.count(region) >= 2


def _line_goes_on(drawing: Drawing, run: Run, towards: NDArray[np.float64], sides: tuple[int, int]) -> bool:
    """Tell whether past both ends of the run the line parts the same two paints: home inside, other beyond.

    Where two paints meet between two lines that part them from something else, their border is drawn.
    """
    first, second = (np.array(end, np.float64) for end in run.ends or ((0, 0), (0, 0)))
    chord = (second - first) / max(1e-9, float(np.hypot(*(second - first))))
    return all(
        _parts(drawing, end, (outward, towards), sides) for end, outward in ((first, -chord), (second, chord))
    )


def _parts(
    drawing: Drawing,
    end: NDArray[np.float64],
    axes: tuple[NDArray[np.float64], NDArray[np.float64]],
    sides: tuple[int, int],
) -> bool:
    """Tell whether the line past one end has home's paint on the inner side and the other on the outer."""
    reach = drawing.ink.pen + 8.0
    x, y = (round(float(v)) for v in end)
    half = int(1.5 * reach)
    top, left = max(0, y - half), max(0, x - half)
    window = drawing.regions.ids[top : y + half + 1, left : x + half + 1]
    rows, cols = np.indices(window.shape)
    places = np.stack([cols + left - end[0], rows + top - end[1]], axis=-1)
    out, inner = places @ axes[0], places @ axes[1]
    slab = (out > 1.0) & (out <= PAST) & (inner > -reach) & (inner < reach)
    line = slab & (window == LINE)
    if not line.any():
        return False
    middle = float(inner[line].mean())
    home, other = (np.isin(window, _alike(drawing, side)) for side in sides)
    return bool(
        np.count_nonzero(slab & home & (inner > middle)) >= LEAST_SEEN
        and np.count_nonzero(slab & other & (inner < middle)) >= LEAST_SEEN
    )


def _alike(drawing: Drawing, region: int) -> NDArray[np.int64]:
    """Return the ids of all regions that are as this one: clear, or of its palette color."""
    regions = drawing.regions
    color = color_of(drawing, region)
    if color is None:
        return np.arange(1, regions.clears + 1)
    return np.flatnonzero(drawing.paints & (drawing.index == color)) + regions.clears


def _across(
    drawing: Drawing, start: NDArray[np.float64], towards: NDArray[np.float64], region: int
) -> int | None:
    """March from the chord, away from the bump, and return the first region beyond the line's width."""
    ids = drawing.regions.ids
    for step in np.arange(0.0, 2.0 * drawing.ink.pen + 4.0):
        x, y = (round(float(v)) for v in start + towards * step)
        if not (0 <= y < ids.shape[0] and 0 <= x < ids.shape[1]):
            return None
        here = int(ids[y, x])
        if here > 0 and (here != region or step >= drawing.ink.pen + 1.0):
            return here
    return None


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
