"""`ink-color`: an ink line whose color is not on the model.

Only the ridge of a line is judged, where the pen's color stands pure; a line too thin to have a pure pixel is
judged on the pixel that carries most ink.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.checks.common import named, nearest, pixels
from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE, distances
from cel_check.faults import Fault, FaultKind, FoundColor, SendTo, Verdict
from cel_check.model.colormodel import Use
from cel_check.settings import Settings

PURE_DEPTH = 1.4
"""Pixels of depth from which a ridge pixel is covered by the pen whole, at any angle of the line."""

LEAST_LENGTH = 8
"""Pixels of ridge from which a stretch counts; a junction of three paints makes a shorter one."""

LEAST_PENS = 0.4
"""The same in pen widths."""

SAME_INK = 4.0
"""ΔE*ab between neighboring stretches that are one stretch of one wrong ink."""


def ink_color(drawing: Drawing, settings: Settings, claimed: set[int]) -> tuple[Fault, ...]:
    """Find stretches of line in a color that is no ink of the model.

    Args:
        drawing: the cel, taken apart.
        settings: the thresholds of the run.
        claimed: not used; lines are no regions.
    """
    if not any(color.use is not Use.PAINT for color in drawing.palette.colors):
        return ()
    rows, cols, lab, off = _ridge(drawing)
    if not off.any():
        return ()
    mask = np.zeros(drawing.ink.line.shape, np.uint8)
    mask[rows[off], cols[off]] = 255
    joined = cv2.dilate(mask, np.ones((5, 5), np.uint8))
    _, labels = cv2.connectedComponents(joined, connectivity=8)
    where = labels[rows, cols]
    stretches = []
    for stretch in np.unique(where[off]):
        members = np.nonzero(off & (where == stretch))[0]
        steady = _steady(drawing, rows[members], cols[members], lab[members])
        if steady is not None:
            stretches.append(members[steady])
    return tuple(
        _fault(drawing, rows[group], cols[group], lab[group], pieces)
        for group, pieces in _inks(stretches, lab)
    )


def _ridge(
    drawing: Drawing,
) -> tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64], NDArray[np.bool_]]:
    """Return rows, columns and Lab of the lines' pure pixels, and whether each is off every ink of the model.

    Those are the ridges, and all of a stretch that is a flat by itself: one as short as it is wide has no ridge.
    """
    rows, cols = drawing.ink.ridge.T
    deep = drawing.ink.depth[rows, cols] >= PURE_DEPTH
    stretch = drawing.lines & (drawing.index == NONE)
    if stretch.any():
        more = np.divmod(np.flatnonzero(stretch[drawing.flats.labels]), drawing.flats.labels.shape[1])
        rows, cols = np.concatenate([rows[deep], more[0]]), np.concatenate([cols[deep], more[1]])
    else:
        rows, cols = rows[deep], cols[deep]
    rgba = drawing.ground.rgba[rows, cols]
    packed = np.ascontiguousarray(rgba).view(np.uint32)[:, 0] if len(rows) else np.zeros(0, np.uint32)
    unique, back = np.unique(packed, return_inverse=True)
    colors = unique.view(np.uint8).reshape(-1, 4)[:, :3]
    lab = srgb8_to_lab(colors)
    allowed = np.array([color.tolerance for color in drawing.palette.colors])
    inks = np.array([color.use is not Use.PAINT for color in drawing.palette.colors])
    table = distances(lab, drawing.palette) if len(lab) else np.zeros((0, len(allowed)))
    used = table / allowed
    off = used[:, inks].min(axis=1) > 1.0 if len(lab) else np.zeros(0, bool)
    return rows, cols, lab[back], off[back]


def _steady(
    drawing: Drawing, rows: NDArray[np.int64], cols: NDArray[np.int64], lab: NDArray[np.float64]
) -> NDArray[np.bool_] | None:
    """Tell which pixels of a stretch of ridge have its one color; None where it is too short or has none."""
    extent = float(np.hypot(np.ptp(rows), np.ptp(cols))) + 1.0
    least = max(LEAST_LENGTH, LEAST_PENS * drawing.ink.pen)
    steady = np.linalg.norm(lab - np.median(lab, axis=0), axis=1) < SAME_INK
    if extent < least or steady.sum() < LEAST_LENGTH or steady.mean() < 0.5:
        return None
    return steady


def _inks(
    stretches: list[NDArray[np.int64]], lab: NDArray[np.float64]
) -> list[tuple[NDArray[np.int64], int]]:
    """Join stretches of one wrong ink: one cause is one fault. Returns the pixels and the number of stretches."""
    left = sorted(stretches, key=lambda members: -len(members))
    groups = []
    while left:
        lead = np.median(lab[left[0]], axis=0)
        same = [np.linalg.norm(np.median(lab[members], axis=0) - lead) < SAME_INK for members in left]
        joined = [members for members, one in zip(left, same, strict=True) if one]
        groups.append((np.concatenate(joined), len(joined)))
        left = [members for members, one in zip(left, same, strict=True) if not one]
    return groups


def _fault(
    drawing: Drawing,
    rows: NDArray[np.int64],
    cols: NDArray[np.int64],
    lab: NDArray[np.float64],
    pieces: int,
) -> Fault:
    """Describe one wrong ink."""
    typical = int(np.linalg.norm(lab - np.median(lab, axis=0), axis=1).argmin())
    color = drawing.ground.rgba[rows[typical], cols[typical], :3]
    found_lab = (float(lab[typical][0]), float(lab[typical][1]), float(lab[typical][2]))
    match = nearest(drawing, found_lab, lambda c: c.use is not Use.PAINT)
    reach = int(np.ceil(drawing.ink.depth[rows, cols].max()))
    x, y = int(cols.min()) - reach, int(rows.min()) - reach
    w, h = int(np.ptp(cols)) + 2 * reach + 1, int(np.ptp(rows)) + 2 * reach + 1
    what = (
        f"A stretch of line of {pixels(max(w, h))} is" if pieces == 1 else f"{pieces} stretches of line are"
    )
    return Fault(
        kind=FaultKind.INK_COLOR,
        verdict=Verdict.RETAKE,
        text=(
            f"{what} {match.delta_e:.1f} ΔE00 off {named(match)} "
            f"(allowed {match.tolerance:g}). Ink again in {named(match)}."
        ),
        send_to=SendTo.INK,
        confidence=0.9,
        box=drawing.box(x, y, w, h),
        point=drawing.point(int(cols[typical]), int(rows[typical])),
        area_px=int(len(rows) * 2 * drawing.ink.depth[rows, cols].mean()),
        found=FoundColor("#{:02X}{:02X}{:02X}".format(*(int(v) for v in color)), _rounded(found_lab)),
        nearest=match,
        expected=match,
        contrast=match.delta_e,
    )


def _rounded(lab: tuple[float, float, float]) -> tuple[float, float, float]:
    return round(lab[0], 2), round(lab[1], 2), round(lab[2], 2)
