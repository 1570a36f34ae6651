"""`ink-color`: an ink line whose color is not on the model.

Only the ridge of a line is judged, where the pen's color stands pure; a line too thin to have a pure pixel is
judged on the pixel that carries most ink.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.checks.common import named, nearest
from cel_check.color.difference import ciede2000
from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.ink import ink_colors
from cel_check.drawing.match import LINE_SLACK, NONE
from cel_check.drawing.sparse import grouped, joined_near
from cel_check.faults import Box, Fault, FaultKind, FoundColor, SendTo, Verdict
from cel_check.model.colormodel import Use
from cel_check.settings import Settings

PURE_DEPTH = 1.4
"""Pixels of depth from which a ridge pixel is covered by the pen whole, at any angle of the line."""

LEAST_LENGTH = 8
"""Pixels of ridge from which a stretch counts; a junction of three paints makes a shorter one."""

LEAST_PENS = 0.4
"""The same in pen widths."""

MOST_UNSTEADY = 0.5
"""Share of a stretch's pixels that must have its one color; else it is a run of blends."""

SLIVER, SLIVER_BESIDE = 0.6, 2
"""Share of a stretch's pixels that have a right ink within so many pixels on two opposite sides: it is
what shows of the paint between two lines that run together. A stretch in a wrong ink has none."""

WHOLE_DEPTH = 2.2
"""Pixels of depth below which a thin line's ridge may be covered by the pen in part and show its fill."""

SHOWS_THROUGH, HAIRLINE, BLENDED = (0.35, 0.65), 1.2, 5.0
"""Share of the fill beside it that shows through such a pixel at most, and through one of a line that is less
deep than so many pixels; levels of 8-bit RGB by which a blend is off the straight line from ink to fill."""

BESIDE = (2, 3, 4)
"""Pixels to the sides at which such a line's fills are looked for."""

WAYS = ((0, 1), (1, 0), (1, 1), (1, -1))
"""Steps (rows, columns) across a line, whichever way it runs."""

SAME_INK = 4.0
"""ΔE*ab between neighboring stretches that are one stretch of one wrong ink."""


@dataclass(frozen=True, eq=False)
class _Pure:
    """Pixels of lines on which the pen's color stands pure, one row each.

    Attributes:
        rows, cols: place in the ground.
        reach: pixels from there to the edge of the line that the pixel stands for.
        lab: CIE L*a*b*, D65.
    """

    rows: NDArray[np.int64]
    cols: NDArray[np.int64]
    reach: NDArray[np.float64]
    lab: NDArray[np.float64]

    def only(self, chosen: NDArray[np.int64] | NDArray[np.bool_]) -> "_Pure":
        """Return some of the pixels."""
        rows, cols, reach = self.rows[chosen], self.cols[chosen], self.reach[chosen]
        return _Pure(rows, cols, reach, self.lab[chosen])


def ink_color(drawing: Drawing, settings: Settings, claimed: set[int]) -> tuple[Fault, ...]:
    """Find stretches of line in a color that is no ink of the model.

    Args:
        drawing: the cel, taken apart.
        settings: the thresholds of the run.
        claimed: not used; lines are no regions.
    """
    if not any(color.use is not Use.PAINT for color in drawing.palette.colors):
        return ()
    wrong = _wrong_pixels(drawing)
    if len(wrong.rows) < LEAST_LENGTH:
        return ()
    pieces = grouped(joined_near(wrong.rows, wrong.cols, 5))
    stretches = [
        steady
        for piece in pieces
        if len(piece) >= LEAST_LENGTH and (steady := _steady(drawing, wrong.only(piece))) is not None
    ]
    return tuple(_fault(drawing, *group) for group in _inks(stretches))


def _wrong_pixels(drawing: Drawing) -> _Pure:
    """Return the lines' pure pixels in a color off every ink.

    Pure are the ridges, and all of a wrong stretch that is a flat by itself.

    A stretch as short as it is wide has hardly any ridge, and its flat tells its size exactly.
    """
    rows, cols = drawing.ink.ridge.T
    reach = drawing.ink.depth[rows, cols]
    flats = drawing.flats.filled
    stretch = drawing.lines & (drawing.index == NONE)
    keep = (reach >= PURE_DEPTH) & ~stretch[flats[rows, cols]]
    rows, cols, reach = rows[keep], cols[keep], reach[keep].astype(np.float64)
    if stretch.any():
        more = np.divmod(np.flatnonzero(stretch[flats]), flats.shape[1])
        rows, cols = np.concatenate([rows, more[0]]), np.concatenate([cols, more[1]])
        reach = np.concatenate([reach, np.ones(len(more[0]))])
    packed = drawing.ground.rgba.view(np.uint32).ravel()[rows * flats.shape[1] + cols]
    unique, back = np.unique(packed, return_inverse=True)
    lab = srgb8_to_lab(unique.view(np.uint8).reshape(-1, 4)[:, :3])
    off = np.flatnonzero(_off_every_ink(drawing, lab)[back])
    thin = off[reach[off] < WHOLE_DEPTH]
    most = np.where(reach[thin] < HAIRLINE, SHOWS_THROUGH[1], SHOWS_THROUGH[0])
    blended = thin[_is_blend(drawing, rows[thin], cols[thin], most)]
    off = np.setdiff1d(off, blended, assume_unique=True)
    return _Pure(rows[off], cols[off], reach[off], lab[back[off]])


def _is_blend(
    drawing: Drawing, rows: NDArray[np.int64], cols: NDArray[np.int64], most: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Tell which `(n,)` pixels of thin lines are a right ink that a fill beside them shows through."""
    found = drawing.ground.rgba[rows, cols, :3].astype(np.float64)
    blend = np.zeros(len(rows), bool)
    if not len(rows):
        return blend
    ids, clear, inks = drawing.flats.filled, drawing.ground.clear, ink_colors(drawing.palette)
    height, width = ids.shape
    # Label 0 is no flat: on an opaque picture what is clear has the card's color, else nothing shows through.
    shown, colors = drawing.paints.copy(), drawing.flats.rgb.copy()
    shown[0], colors[0] = drawing.ground.card is not None, drawing.ground.card or (0, 0, 0)
    down, right = _aside(BESIDE).reshape(-1, 2, 1).transpose(1, 0, 2)
    place = np.clip(rows + down, 0, height - 1), np.clip(cols + right, 0, width - 1)
    beside = ids[place]
    there = shown[beside] & ((beside > 0) | (clear[place] > 0))
    # The same fill lies on many sides of a pixel, and is asked about once.
    pixel, fill = np.divmod(np.unique(np.nonzero(there)[1] * len(shown) + beside[there]), len(shown))
    for ink in inks:
        blend[pixel[_lies_between(found[pixel], ink, colors[fill], most[pixel])]] = True
    return blend


def _aside(reach: Sequence[int]) -> NDArray[np.int64]:
    """Return `(directions, 2 sides, reach, 2)` the steps (rows, columns) so far to the sides of a line."""
    far = np.array(reach)
    return np.asarray(np.array(WAYS)[:, None, None] * np.stack([far, -far])[None, :, :, None])


def _lies_between(
    found: NDArray[np.float64], ink: NDArray[np.float64], fill: NDArray[np.uint8], most: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Tell which `(n, 3)` colors are an ink that lets at most such a `(n,)` share of a fill show through."""
    span = fill - ink
    share = ((found - ink) * span).sum(axis=1) / np.maximum((span * span).sum(axis=1), 1.0)
    away = np.linalg.norm(found - ink - np.clip(share, 0.0, most)[:, None] * span, axis=1)
    return np.asarray(away <= BLENDED)


def _off_every_ink(drawing: Drawing, lab: NDArray[np.float64]) -> NDArray[np.bool_]:
    inks = [color for color in drawing.palette.colors if color.use is not Use.PAINT]
    slack = LINE_SLACK if drawing.ground.noisy else 0.0
    allowed = np.array([color.tolerance + slack for color in inks])
    apart = ciede2000(lab[:, None, :], np.array([color.lab for color in inks])[None])
    off: NDArray[np.bool_] = (apart / allowed).min(axis=1) > 1.0
    return off


def _steady(drawing: Drawing, stretch: _Pure) -> _Pure | None:
    """Return the pixels of a stretch that have its one color; None where it is too short or has none."""
    extent = float(np.hypot(np.ptp(stretch.rows), np.ptp(stretch.cols))) + 1.0
    if extent < max(LEAST_LENGTH, LEAST_PENS * drawing.ink.pen):
        return None
    steady = np.linalg.norm(stretch.lab - np.median(stretch.lab, axis=0), axis=1) < SAME_INK
    if steady.sum() < LEAST_LENGTH or steady.mean() < MOST_UNSTEADY:
        return None
    whole = stretch.only(steady)
    return None if _is_sliver(drawing, whole) else whole


def _is_sliver(drawing: Drawing, stretch: _Pure) -> bool:
    """Tell whether a stretch is what two lines that run together leave between them, blended into ink."""
    # (pixels, directions, sides, reach); the art is padded by more.
    aside = _aside(range(1, SLIVER_BESIDE + 1))
    rows, cols = (
        place[:, None, None, None] + aside[None, ..., axis]
        for axis, place in enumerate((stretch.rows, stretch.cols))
    )
    colors, which = np.unique(drawing.ground.rgba.view(np.uint32)[rows, cols, 0], return_inverse=True)
    right = ~_off_every_ink(drawing, srgb8_to_lab(colors.view(np.uint8).reshape(-1, 4)[:, :3]))
    inked = right[which.reshape(rows.shape)] & (drawing.ink.line[rows, cols] > 0)
    between = inked.any(axis=3).all(axis=2).any(axis=1)
    return float(between.mean()) >= SLIVER


def _inks(stretches: list[_Pure]) -> list[tuple[_Pure, int]]:
    """Join stretches of one wrong ink, one cause being one fault; return pixels and number of stretches."""
    left = sorted(stretches, key=lambda stretch: -len(stretch.rows))
    groups = []
    while left:
        lead = np.median(left[0].lab, axis=0)
        same = [float(np.linalg.norm(np.median(one.lab, axis=0) - lead)) < SAME_INK for one in left]
        joined = [one for one, alike in zip(left, same, strict=True) if alike]
        names = ("rows", "cols", "reach", "lab")
        whole = _Pure(*(np.concatenate([getattr(one, name) for one in joined]) for name in names))
        groups.append((whole, len(joined)))
        left = [one for one, alike in zip(left, same, strict=True) if not alike]
    return groups


def _fault(drawing: Drawing, ink: _Pure, pieces: int) -> Fault:
    """Describe one wrong ink."""
    typical = int(np.linalg.norm(ink.lab - np.median(ink.lab, axis=0), axis=1).argmin())
    color = drawing.ground.rgba[ink.rows[typical], ink.cols[typical], :3]
    lab = (float(ink.lab[typical][0]), float(ink.lab[typical][1]), float(ink.lab[typical][2]))
    match = nearest(drawing, lab, lambda c: c.use is not Use.PAINT)
    x, y, w, h = _box(drawing, ink)
    what = (
        f"A stretch of line of {drawing.length(max(w, h))} is"
        if pieces == 1
        else f"{pieces} stretches of line are"
    )
    return Fault(
        kind=FaultKind.INK_COLOR,
        verdict=Verdict.RETAKE,
        text=(
            f"{what} {match.delta_e:.1f} ΔE00 off {named(match)} "
            f"(allowed {match.tolerance:g}). Ink again in {named(match)}."
        ),
        send_to=SendTo.INK,
        confidence=0.97,
        box=drawing.box(x, y, w, h),
        point=drawing.point(int(ink.cols[typical]), int(ink.rows[typical])),
        area_px=_area(drawing, ink, (x, y, w, h)),
        found=FoundColor("#{:02X}{:02X}{:02X}".format(*(int(v) for v in color)), _rounded(lab)),
        nearest=match,
        expected=match,
        contrast=match.delta_e,
    )


def _box(drawing: Drawing, ink: _Pure) -> Box:
    """Return the box of the line that pure pixels stand for, in the ground."""
    height, width = drawing.ink.line.shape
    reach = np.rint(ink.reach).astype(np.int64) - 1
    left, top = max(0, int((ink.cols - reach).min())), max(0, int((ink.rows - reach).min()))
    right = min(width, int((ink.cols + reach).max()) + 1)
    bottom = min(height, int((ink.rows + reach).max()) + 1)
    return left, top, right - left, bottom - top


def _area(drawing: Drawing, ink: _Pure, box: Box) -> int:
    """Return the number of line pixels within reach of the pure ones."""
    x, y, w, h = box
    seeds = np.full((h, w), 255, np.uint8)
    seeds[ink.rows - y, ink.cols - x] = 0
    near = cv2.distanceTransform(seeds, cv2.DIST_L2, cv2.DIST_MASK_5) <= max(
        1.0, float(ink.reach.max()) - 0.5
    )
    return int((near & (drawing.ink.line[y : y + h, x : x + w] > 0)).sum())


def _rounded(lab: tuple[float, float, float]) -> tuple[float, float, float]:
    return round(lab[0], 2), round(lab[1], 2), round(lab[2], 2)
