"""`open-line`: a line that parts two paints, or paint from the clear cel, is open for a short way.

The two ends of line face each other, past both the line parts what meets bare in the gap. A border that is
drawn without a line has no ends in line. Where both sides are alike the ends may be drawn open: it is asked
where the line, closed, would part one fill into two parts.
"""

from collections import Counter
from collections.abc import Sequence
from math import hypot

from cel_check.checks.bump import color_of
from cel_check.checks.common import expected_paint, named
from cel_check.checks.gaps import LONGEST, LONGEST_PIXELS, Gap, gaps_of
from cel_check.checks.leaked import WOULD_PART, Opening, openings_of
from cel_check.checks.leaks import Leak, leaks_of
from cel_check.checks.pinches import pinches_of
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.ink import ink_colors
from cel_check.drawing.match import NONE
from cel_check.faults import Box, Fault, FaultKind, SendTo, Verdict
from cel_check.settings import Settings

SIDED = 0.7
"""Share of the rows past each end in which the line must part the gap's two sides."""

LEAST_ROWS = 4
"""Rows of line past each end."""

UNLIKE = (1.6, 2.0)
"""Times, and pixels more, that one end of line is wider than the other at most."""

THIN = 0.2
"""Pen widths that a line past a gap has at least: less is the rim of a patch."""

LONG = (1.6, 2.0, 0.75)
"""Pen widths, and pixels more, from which a line past a gap must be so many times as long as wide: else it is
the side of a stroke that is seen, not its end."""

OFF = (0.5, 1.0)
"""Line widths, and pixels more, by which the border lies beside the middle of a line at most."""

LEAN = 0.9
"""Pixels sideways per pixel by which a line turns off the axis at most: some 42 degrees."""

OUT = 1.5
"""Pixels past the line's edge to which the border in the gap may bulge; more is paint past its line."""

SURE = (3.2, 13.0)
"""Line widths and pixels of a gap, whichever is more, up to which nobody leaves a line open on purpose."""

SURELY_DRAWN = (2.0, 4.5)
"""Pixels of a line from which it has pure pixels all along, so that a gap in it is one, and of one in whose
middle no blend lies, so that a pale place is one: dark paint, or two close lines, pass for thinner lines."""

SURE_LEAK = (2.3, 12.0)
"""The same for a gap on a cel without paint."""

DASHES = 3
"""Gaps between the same two sides from which they may be drawn: a dashed line, a seam's stitches."""


def open_line(drawing: Drawing, settings: Settings, claimed: set[int]) -> tuple[Fault, ...]:
    """Find lines that do not close; on a cel without paint, those through which a fill would leak.

    Args:
        drawing: the cel, taken apart.
        settings: the thresholds of the run.
        claimed: region ids that other faults explain; those that lie within a gap are added.
    """
    if drawing.ink.pen <= 0 or not len(ink_colors(drawing.palette)):
        return ()  # a model without ink is painted without lines: what looks like one is blended of paints
    if not drawing.paints.any():
        return tuple(_leaking(drawing, leak) for leak in leaks_of(drawing))
    gaps = [gap for gap in open_gaps(drawing) if not claimed.intersection(gap.pair)]
    alike = Counter(_sides(drawing, gap) for gap in gaps)
    faults = []
    for gap in gaps:
        count = alike[_sides(drawing, gap)]
        if count <= DASHES:
            faults.append(_fault(drawing, gap, count < DASHES))
            room = gap.length * _width(gap)
            claimed.update(region for region in gap.pair if drawing.regions.area[region] <= room)
    faults += [_alike(drawing, opening) for opening in openings_of(drawing) if not _among(opening, gaps)]
    return tuple(faults)


def _among(opening: Opening, gaps: Sequence[Gap]) -> bool:
    """Tell whether a place is one of the gaps that part two paints."""
    x, y = opening.middle
    near = (opening.length + opening.width) / 2.0
    return any(hypot(x - gap.middle[0], y - gap.middle[1]) <= near for gap in gaps)


def open_gaps(drawing: Drawing) -> list[Gap]:
    """Return the gaps of lines that are open, bare ones and soft ones, each place once."""
    pen = drawing.ink.pen
    gaps = [gap for gap in gaps_of(drawing) if _is_open(gap) and _has_lines(gap, pen)]
    for soft in pinches_of(drawing):
        x, y = soft.middle
        if (
            _is_open(soft)
            and _has_lines(soft, pen)
            and all(hypot(x - gap.middle[0], y - gap.middle[1]) > gap.length + _width(soft) for gap in gaps)
        ):
            gaps.append(soft)
    return gaps


def _sides(drawing: Drawing, gap: Gap) -> tuple[int | None, ...]:
    """Return the paints on a gap's two sides, whichever comes first."""
    return tuple(sorted((color_of(drawing, region) for region in gap.pair), key=str))


def _width(gap: Gap) -> float:
    return max(end.width for end in gap.ends)


def _is_open(gap: Gap) -> bool:
    """Tell whether a line that parts the gap's sides goes on past both ends, and is open between them."""
    wide, thin = _width(gap), min(end.width for end in gap.ends)
    return (
        gap.length <= max(LONGEST * wide, LONGEST_PIXELS)
        and gap.out <= wide / 2 + OUT
        and wide <= UNLIKE[0] * thin + UNLIKE[1]
        and all(
            end.sided >= SIDED
            and end.rows >= LEAST_ROWS
            and abs(end.off) <= OFF[0] * wide + OFF[1]
            and abs(end.lean) <= LEAN
            for end in gap.ends
        )
    )


def _has_lines(gap: Gap, pen: float) -> bool:
    """Tell whether what lies past both ends of a gap was drawn with the pen, along the gap's axis."""
    return all(
        end.width >= THIN * pen
        and (end.width <= LONG[0] * pen + LONG[1] or end.length >= LONG[2] * end.width)
        for end in gap.ends
    )


def _fault(drawing: Drawing, gap: Gap, alone: bool) -> Fault:
    """Describe an open line."""
    wide = _width(gap)
    sure = alone and wide >= SURELY_DRAWN[gap.soft] and gap.length <= max(SURE[0] * wide, SURE[1])
    first, second = (_side(drawing, region) for region in sorted(gap.pair, reverse=True))
    pens = 2.0 * gap.length / sum(end.width for end in gap.ends)  # this line's own pen
    advice = "Close the line." if sure else "Close the line, unless it is meant to be open."
    return Fault(
        kind=FaultKind.OPEN_LINE,
        verdict=Verdict.RETAKE if sure else Verdict.QUERY,
        text=f"The line between {first} and {second} is open for {drawing.length(gap.length)} "
        f"({pens:.1f} pen widths). {advice}",
        send_to=SendTo.INK,
        confidence=0.97 if sure else 0.5,
        box=drawing.box(*_box(gap.middle, gap.axis, gap.length, _width(gap))),
        point=drawing.point(*gap.middle),
        area_px=max(1, round(gap.length * _width(gap))),
        contrast=50.0,
    )


def _alike(drawing: Drawing, opening: Opening) -> Fault:
    """Describe a line that is open where both sides are alike: one drawing alone cannot tell why."""
    paint = None if opening.color is None else expected_paint(drawing, opening.color, "")
    side = "clear cel" if paint is None else named(paint)
    run = "" if paint is None else ", and see whether the paint ran through"
    pens = opening.length / opening.width
    return Fault(
        kind=FaultKind.OPEN_LINE,
        verdict=Verdict.QUERY,
        text=f"The line is open for {drawing.length(opening.length)} ({pens:.1f} pen widths), with {side} on "
        f"both sides{WOULD_PART}. Close the line{run}, unless it is meant to be open.",
        send_to=SendTo.INK,
        confidence=0.9,
        box=drawing.box(*_box(opening.middle, opening.axis, opening.length, opening.width)),
        point=drawing.point(*opening.middle),
        area_px=max(1, round(opening.length * opening.width)),
        contrast=50.0,
        nearest=paint,
    )


def _leaking(drawing: Drawing, leak: Leak) -> Fault:
    """Describe a gap through which a fill would run."""
    pen = drawing.ink.pen
    sure = leak.length <= max(SURE_LEAK[0] * pen, SURE_LEAK[1])
    (x, y), (right, bottom) = leak.ends
    left, top = min(x, right), min(y, bottom)
    advice = "Close the line." if sure else "Close the line, unless it is meant to be open."
    return Fault(
        kind=FaultKind.OPEN_LINE,
        verdict=Verdict.RETAKE if sure else Verdict.QUERY,
        text=f"The line is open for {drawing.length(leak.length)} ({leak.length / pen:.1f} pen widths), with "
        f"clear cel on both sides: paint would leak here. {advice}",
        send_to=SendTo.INK,
        confidence=0.85 if sure else 0.5,
        box=drawing.box(round(left), round(top), round(abs(right - x)) + 1, round(abs(bottom - y)) + 1),
        point=drawing.point((x + right) / 2, (y + bottom) / 2),
        area_px=max(1, round(leak.length * pen)),
        contrast=50.0,
    )


def _side(drawing: Drawing, region: int) -> str:
    """Name one side of a gap."""
    color = color_of(drawing, region)
    if color is None:
        return "the clear cel"
    return "a color off the model" if color == NONE else named(expected_paint(drawing, color, ""))


def _box(middle: tuple[float, float], axis: tuple[float, float], length: float, width: float) -> Box:
    """Return the box of a gap, the line's width included."""
    x, y = middle
    cos, sin = (abs(part) for part in axis)
    wide, high = (length * cos + width * sin) / 2, (length * sin + width * cos) / 2
    left, top = round(x - wide), round(y - high)
    return left, top, max(1, round(2 * wide) + 1), max(1, round(2 * high) + 1)
