"""Spills that a line still parts from their paint: a small fill against a line, its paint on the other side.

The bump is a region of its own. It leans on the line with one side and stands bare in something else with the
rest, it is about as deep as it is wide, and across the line behind it lies a larger fill of its own paint.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.checks.bump import Bump, bare_by_design, color_of
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE
from cel_check.drawing.regions import LINE

LEAST_DEPTH = 2.0
"""Pixels from the line to the bump's farthest pixel; a fill beside its line by a hair reaches less far."""

SHALLOW = 3.0
"""Pixels below which a bump must be rounder, to be told from such a fill, and is a query."""

WIDEST_SHALLOW = 3.0
"""Length along the line over depth, for these."""

FAINT = 2.5
"""Pixels below which it must be rounder still."""

WIDEST_FAINT = 1.6
"""Length along the line over depth, for these."""

WIDEST_NEAT = 4.0
"""The same for all shallow bumps of a drawing whose fills end neatly under their lines."""

NEAT = 2
"""Fills as thin as a shallow bump that lean on lines in such a drawing at most, the bump itself included."""

DEEPEST = 16.0
"""Pixels beyond which a bump is a shape that was drawn."""

SURE_DEPTH = 10.0
"""Pixels up to which a bump is surely a slip of the brush; a larger one may be a shape that was drawn."""

LONGEST = 60.0
"""Pixels of line that a bump leans on at most."""

WIDEST = 5.0
"""Length along the line over depth; flatter ones are a fill that lies a little beside its line all along."""

PIECE = 2
"""Pixels between the boxes of two pieces of one bump."""

FRINGE = 4.0
"""Pixels of depth below which several bumps in a row are pieces of such a fill."""

LEAST_AREA = 5
"""Pixels of a bump; fewer are crumbs of a blend."""

LARGE = 0.3
"""Share of its own paint's area across the line from which a bump is a part itself."""

BARE = (0.42, 0.92)
"""Share of its border on which a bump meets its surroundings bare; a corner between lines has less."""

TONES_DEPTH = (3.0, 9.0)
"""Depths in pixels of a bump of one tone in another that is a spill, where the two meet bare elsewhere."""

TOUCH = 1.5
"""Pixels from the line within which a pixel leans on it."""

FREE = 2.0
"""Pixels from the line from which a pixel of the bump is away from it."""

CUT = 3
"""Pixels from there to another fill of the bump's color, of which it is but an end."""

THREAD = 4.0
"""Pixels that a bump's color goes on past it, blended, from which it is the thick of a drawn line."""

THIN = 1.5
"""Pixels from its edge to which such a line is deep at most, where it is taken for ink."""

FADED = 0.2
"""Share of the bump's color that such blends have at least."""

MOST_OF_IT = 1.3
"""The same at most: a darker line has more."""

OTHER_INK = 14.0
"""Codes off the way between the two colors up to which a pixel is a blend of just these."""

MUCH_LARGER = 4.0
"""Areas of the bump that such a fill has at least; a piece of the same bump has less."""

FAN = (0.0, -25.0, 25.0, -50.0, 50.0)
"""Degrees off the straight way across the line at which the bump's own paint is looked for."""

LEAST_VOTES = 2
"""Marches (of three places and five directions) that must meet the bump's own paint."""

PAST = (3.0, 5.0, 7.0)
"""Pixels past each end of a bump of such tones at which its paint must still lie across the line."""

Spots = NDArray[np.float64]


def bumps_beyond(drawing: Drawing) -> Iterator[Bump]:
    """Find the bumps beyond a line.

    Args:
        drawing: the cel, taken apart.

    Yields:
        The bumps by their region's id.
    """
    leaning = {
        region: lean for region in _small_fills(drawing) if (lean := _lean(drawing, region)) is not None
    }
    # Where fills lie a little beside their lines, many thin ones lean on lines, and a flat bump says nothing.
    neat = sum(lean.depth < SHALLOW for lean in leaning.values()) <= NEAT
    bumps = [
        bump
        for region, lean in leaning.items()
        if _right_size(lean, neat) and (bump := _bump(drawing, region, lean)) is not None
    ]
    for bump in bumps:
        if _in_a_fringe(bump, bumps) or _is_cut_off(drawing, bump.region) or _is_piece(bump, bumps):
            continue
        if _is_thread(drawing, bump):
            continue
        yield bump


def _small_fills(drawing: Drawing) -> list[int]:
    """Return the ids of the fills of a bump's size that stand partly on a line and partly bare."""
    regions = drawing.regions
    fills = np.flatnonzero(drawing.paints & (drawing.index != NONE))
    ids = fills + regions.clears
    border = np.maximum(regions.inked[ids] + regions.bare[ids], 1)
    share = regions.bare[ids] / border
    fit = (regions.area[ids] >= LEAST_AREA) & (regions.area[ids] <= DEEPEST * LONGEST)
    fit &= (share >= BARE[0]) & (share <= BARE[1])
    return [int(region) for region in ids[fit]]


def _in_a_fringe(bump: Bump, bumps: list[Bump]) -> bool:
    """Tell whether a shallow bump has another of the same paint close by, both pieces of one long fringe."""
    x, y, w, h = bump.box
    for other in bumps:
        if other is bump or (other.home, other.other) != (bump.home, bump.other):
            continue
        left, top, wide, high = other.box
        gap = max(left - x - w, x - left - wide, top - y - h, y - top - high)
        if PIECE < gap <= 2 * max(w, h) and max(bump.depth, other.depth) < FRINGE:
            return True
    return False


def _is_piece(bump: Bump, bumps: list[Bump]) -> bool:
    """Tell whether blended pixels part a bump from a larger piece of itself: one spill is one fault."""
    x, y, w, h = bump.box
    for other in bumps:
        if other is bump or other.home != bump.home or (other.area, other.region) < (bump.area, bump.region):
            continue
        left, top, wide, high = other.box
        if max(left - x - w, x - left - wide, top - y - h, y - top - high) <= PIECE:
            return True
    return False


@dataclass(frozen=True, eq=False)
class _Leaning:
    """How a small fill leans on a line.

    Attributes:
        rows: of its pixels.
        cols: of its pixels.
        reach: distance in pixels of each from the line.
        depth: the largest of these.
        touch: `(n, 2)` x, y of the pixels on the line, in order along it.
        towards: unit vector from the farthest pixel to the line.
        length: of the line that it leans on, pixels.
    """

    rows: NDArray[np.int64]
    cols: NDArray[np.int64]
    reach: NDArray[np.float32]
    depth: float
    touch: Spots
    towards: Spots
    length: float


def _bump(drawing: Drawing, region: int, lean: _Leaning) -> Bump | None:
    """Return the bump that a small fill of the right size is; None where it is none."""
    home = _home(drawing, region, lean)
    other = _surroundings(drawing, region)
    if home is None or other is None or color_of(drawing, other) == color_of(drawing, region):
        return None
    area = int(drawing.regions.area[region])
    if area > LARGE * drawing.regions.area[home] or _drawn(drawing, region, home, other, lean):
        return None
    left, top = int(lean.cols.min()), int(lean.rows.min())
    box = (left, top, int(lean.cols.max()) - left + 1, int(lean.rows.max()) - top + 1)
    inner = int(np.abs(lean.reach - lean.depth / 2 - 0.5).argmin())
    spot = (int(lean.cols[inner]), int(lean.rows[inner]))
    sure = SHALLOW <= lean.depth <= SURE_DEPTH
    return Bump(region, home, other, False, sure, lean.depth, box, spot, area)


def _lean(drawing: Drawing, region: int) -> _Leaning | None:
    """Measure how a small region leans on a line; None where it does not, or is shut in by it."""
    rows, cols, reach = _pixels(drawing, region)
    near = reach < TOUCH
    if not near.any():
        return None
    deepest = int(reach.argmax())
    touch = np.stack([cols, rows], axis=1)[near].astype(np.float64)
    towards = touch.mean(axis=0) - (cols[deepest], rows[deepest])
    away = float(np.hypot(*towards))
    if away < 0.5:
        return None
    towards = towards / away
    along = touch @ np.array([-towards[1], towards[0]])
    length = float(np.ptp(along)) + 1.0
    return _Leaning(rows, cols, reach, float(reach[deepest]), touch[along.argsort()], towards, length)


def _right_size(lean: _Leaning, neat: bool) -> bool:
    if lean.depth < SHALLOW:
        widest = WIDEST_NEAT if neat else WIDEST_FAINT if lean.depth < FAINT else WIDEST_SHALLOW
        return lean.depth >= LEAST_DEPTH and lean.length <= widest * lean.depth
    return lean.depth <= DEEPEST and lean.length <= min(LONGEST, WIDEST * lean.depth + 2.0)


def _drawn(drawing: Drawing, region: int, home: int, other: int, lean: _Leaning) -> bool:
    """Tell whether two tones that meet without a line elsewhere may well meet so here too."""
    if not TONES_DEPTH[0] <= lean.depth <= TONES_DEPTH[1] and _are_tones(drawing, region, other):
        return True
    return bare_by_design(drawing, home, other, 0) and not _home_goes_on(drawing, home, lean)


def _is_cut_off(drawing: Drawing, region: int) -> bool:
    """Tell whether the bump is the end of a fill of its color on this side, cut off by blended pixels."""
    lean = _lean(drawing, region)
    if lean is None:
        return True
    color = color_of(drawing, region)
    ids, area = drawing.regions.ids, drawing.regions.area
    off = lean.reach >= FREE
    rows, cols = lean.rows[off], lean.cols[off]
    x, y = lean.towards
    for right, down in ((-x, -y), (-y, x), (y, -x)):  # away from the line, and along it both ways
        down_to = np.clip(rows + round(CUT * down), 0, ids.shape[0] - 1)
        right_to = np.clip(cols + round(CUT * right), 0, ids.shape[1] - 1)
        seen = ids[down_to, right_to]
        near = {int(other) for other in np.unique(seen) if other > 0 and other != region}
        if any(
            color_of(drawing, other) == color and area[other] > MUCH_LARGER * area[region] for other in near
        ):
            return True
    return False


def _is_thread(drawing: Drawing, bump: Bump) -> bool:
    """Tell whether the bump's color goes on past it as a line too thin to be pure, such as a seam."""
    clears, (x, y, w, h) = drawing.regions.clears, bump.box
    if bump.other <= clears:
        return False
    pad = int(THREAD) + 4
    rows, cols = slice(max(0, y - pad), y + h + pad), slice(max(0, x - pad), x + w + pad)
    ids = drawing.regions.ids[rows, cols]
    paint, beside = (drawing.flats.rgb[one - clears].astype(np.float64) for one in (bump.region, bump.other))
    way = (paint - beside) / max(1.0, float(((paint - beside) ** 2).sum()))
    seen = drawing.ground.rgba[rows, cols, :3] - beside
    share = seen @ way
    off = np.abs(seen - share[:, :, None] * (paint - beside)).max(axis=2)
    # Such a line is thin enough to be taken for ink here and there: its color tells.
    blend = (share >= FADED) & (share <= MOST_OF_IT) & (off <= OTHER_INK)
    blend &= (ids == bump.other) | _thin_pieces(ids == LINE)
    blend |= ids == bump.region
    _, joined = cv2.connectedComponents(blend.astype(np.uint8), connectivity=8)
    own = joined == joined[ids == bump.region][0]
    line = cv2.distanceTransform(((ids != LINE) | blend).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    bare = cv2.distanceTransform((ids != bump.region).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return bool((bare[own & (line >= FREE)] >= THREAD).any())


def _thin_pieces(line: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the pieces of line that are nowhere as thick as the pen that the bump leans on."""
    count, found = cv2.connectedComponents(line.astype(np.uint8), connectivity=8)
    pieces = np.asarray(found, np.int32)
    depth = cv2.distanceTransform(line.astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    thickest = np.zeros(count)
    np.maximum.at(thickest, pieces.ravel(), np.asarray(depth).ravel())
    thin: NDArray[np.bool_] = (thickest <= THIN)[pieces]
    return np.asarray(line & thin)


def _pixels(
    drawing: Drawing, region: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float32]]:
    """Return the rows and columns of a small region, rim included, and how far each lies from the line."""
    x, y, w, h = (int(v) for v in drawing.regions.box[region])
    pad = int(DEEPEST) + 2
    top, left = max(0, y - pad), max(0, x - pad)
    window = drawing.regions.ids[top : y + h + pad, left : x + w + pad]
    rows, cols = np.nonzero(window == region)
    far = cv2.distanceTransform((window != LINE).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    # OpenCV's distances differ in their last digit from run to run: rounded, so that ties break alike.
    return rows + top, cols + left, np.asarray(far[rows, cols].round(3), np.float32)


def _surroundings(drawing: Drawing, region: int) -> int | None:
    """Return the region with most of the bump's bare border."""
    pairs = drawing.regions.pairs
    met = np.concatenate([pairs[pairs[:, 0] == region, 1], pairs[pairs[:, 1] == region, 0]])
    if not len(met):
        return None
    seen, counts = np.unique(met, return_counts=True)
    return int(seen[counts.argmax()])


def _home(drawing: Drawing, region: int, lean: _Leaning) -> int | None:
    """Return the region of the bump's own paint across the line; None where something else lies there.

    Marches fan out, since behind a corner or a slanting line the paint does not lie straight across.
    """
    color = color_of(drawing, region)
    touch = [lean.touch[int(share * (len(lean.touch) - 1) + 0.5)] for share in (0.2, 0.5, 0.8)]
    ways = np.array([_turned(lean.towards, turn) for turn in FAN])
    votes: dict[int, int] = {}
    for seen in _across(drawing, np.repeat(touch, len(ways), axis=0), np.tile(ways, (len(touch), 1))):
        if seen is not None and color_of(drawing, seen) == color:
            votes[seen] = votes.get(seen, 0) + 1
    if sum(votes.values()) < LEAST_VOTES:
        return None
    return max(votes, key=lambda seen: votes[seen])


def _are_tones(drawing: Drawing, region: int, other: int) -> bool:
    """Tell whether fills of the two colors meet bare elsewhere, for longer than here: light and shadow."""
    first, second = color_of(drawing, region), color_of(drawing, other)
    if second is None or second == NONE:
        return False
    regions = drawing.regions
    flats = np.maximum(regions.pairs - regions.clears, 0)
    colors = np.where(flats > 0, drawing.index[flats], NONE)
    met = int((np.sort(colors, axis=1) == sorted((first or 0, second))).all(axis=1).sum())
    return met > 2 * int(regions.bare[region])


def _home_goes_on(drawing: Drawing, home: int, lean: _Leaning) -> bool:
    """Tell whether across the line home reaches past both ends of the bump.

    Where a shadow's edge passes under a line, it stands on both sides of the line at the same place.
    """
    color = color_of(drawing, home)
    along = np.array([-lean.towards[1], lean.towards[0]])
    for end, sign in ((lean.touch[0], -1.0), (lean.touch[-1], 1.0)):
        starts = np.array([end + sign * step * along for step in PAST])
        seen = _across(drawing, starts, np.tile(lean.towards, (len(PAST), 1)))
        same = [region for region in seen if region is not None and color_of(drawing, region) == color]
        if len(same) < len(PAST) - 1:
            return False
    return True


def _turned(direction: Spots, degrees: float) -> Spots:
    """Return a direction turned by some degrees."""
    angle = np.radians(degrees)
    x, y = direction
    return np.array([x * np.cos(angle) - y * np.sin(angle), x * np.sin(angle) + y * np.cos(angle)])


def _across(drawing: Drawing, starts: Spots, towards: Spots) -> list[int | None]:
    """March from `(n, 2)` places on the line's near edge across the line; return the first regions met."""
    ids = drawing.regions.ids
    steps = np.arange(1.0, 2.0 * drawing.ink.pen + 5.0)
    cols, rows = (
        np.rint(starts[:, axis, None] + steps * towards[:, axis, None]).astype(np.int64) for axis in (0, 1)
    )
    inside = (cols >= 0) & (cols < ids.shape[1]) & (rows >= 0) & (rows < ids.shape[0])
    seen = np.where(inside, ids[np.where(inside, rows, 0), np.where(inside, cols, 0)], 0)
    met = (seen > 0) & np.logical_or.accumulate(seen == LINE, axis=1)
    place = np.arange(len(seen)), met.argmax(axis=1)
    return [
        region if some else None
        for region, some in zip(seen[place].tolist(), met[place].tolist(), strict=True)
    ]
