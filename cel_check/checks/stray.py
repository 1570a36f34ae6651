"""`stray`: paint, ink or dirt where there should be nothing.

On the clear cel: a small mark that touches nothing. Inside a fill: a small spot, without a line around it, in
a color that is not on the model. Dots that are drawn on purpose are as wide as the pen at least, and often
come in groups; a dot that could be one of those is a query.
"""

from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.checks.common import model_match, named, nearest
from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import NONE
from cel_check.drawing.regions import LINE
from cel_check.drawing.sparse import grouped, joined
from cel_check.faults import Fault, FaultKind, FoundColor, ModelMatch, SendTo, Verdict
from cel_check.model.colormodel import Use
from cel_check.settings import Settings

LARGEST = 24
"""Side in pixels up to which a lone mark can be a stray; larger are drawn on purpose or another fault."""

LEAST_NOISY = 5
"""Side in pixels below which a mark is the noise of lossy compression, where a picture has it."""

LEAST_SOFT = 4
"""Pixels of a soft spot."""

LARGEST_SOFT = 9
"""Side in pixels of a soft spot; a larger one holds a flat."""

FAINT = 30.0
"""Distance in 8-bit RGB from its fill from which a soft spot is seen."""

ALONG = 0.97
"""Cosine between a blend and the way to a model color from which the blend is of that color."""

THIN = 0.75
"""Pen widths below which a dot was not drawn with the pen."""

SOFT_RIM = 1.5
"""Pixels that a soft spot's blended rim adds to its size."""

GROUP = 0.35
"""Relative difference in size up to which two lone marks look like dots of one pattern."""


def stray(drawing: Drawing, settings: Settings, claimed: set[int]) -> tuple[Fault, ...]:
    """Find specks on the clear cel and in fills.

    Args:
        drawing: the cel, taken apart.
        settings: the thresholds of the run.
        claimed: region ids that other faults explain; the specks found here are added.
    """
    return (*_on_clear(drawing, claimed), *_in_fills(drawing, claimed), *_soft_spots(drawing))


def _on_clear(drawing: Drawing, claimed: set[int]) -> list[Fault]:
    """Find small marks that touch nothing."""
    art = cast("NDArray[np.uint8]", cv2.bitwise_not(drawing.ground.clear))
    if _is_one_piece(drawing, art):
        return []
    count, labels, found, _ = cv2.connectedComponentsWithStats(art, connectivity=8)
    stats = np.asarray(found, np.int32)
    sizes = stats[:, 2:4].max(axis=1)
    least = LEAST_NOISY if drawing.ground.noisy else 1
    small = [mark for mark in range(1, count) if least <= sizes[mark] <= LARGEST]
    lone = [mark for mark in small if not _has_twin(mark, small, stats)]
    faults = []
    for mark in small:
        x, y, w, h = (int(v) for v in stats[mark, :4])
        window = labels[y : y + h, x : x + w] == mark
        ids = drawing.regions.ids[y : y + h, x : x + w][window]
        # Its soft rim is the clear cel's, which every mark has around it.
        inside = {int(v) for v in np.unique(ids) if v > drawing.regions.clears}
        if inside & claimed:
            continue
        claimed.update(inside)
        faults.append(_speck(drawing, (x, y, w, h), window, mark in lone))
    return faults


def _is_one_piece(drawing: Drawing, art: NDArray[np.uint8]) -> bool:
    """Tell whether all art is 8-connected, as on most cels: faster than to count the pieces."""
    rows = drawing.regions.rows
    length = np.where((rows.region > drawing.regions.clears) | (rows.region == LINE), rows.length, 0)
    run = int(length.argmax())
    if not length[run]:
        return False
    rest = art.copy()
    cv2.floodFill(rest, None, (int(rows.left[run]), int(rows.row[run])), 0, flags=8)
    return not rest.any()


def _has_twin(mark: int, others: list[int], stats: NDArray[np.int32]) -> bool:
    """Tell whether another small mark of nearly the same size lies near: dots of one pattern."""
    area = float(stats[mark, cv2.CC_STAT_AREA])
    reach = 12.0 * float(stats[mark, 2:4].max()) + 20.0
    for other in others:
        if other == mark:
            continue
        near = np.hypot(*(stats[other, :2] - stats[mark, :2]).astype(float)) < reach
        if near and abs(float(stats[other, cv2.CC_STAT_AREA]) - area) <= GROUP * area:
            return True
    return False


def _speck(drawing: Drawing, box: tuple[int, int, int, int], window: NDArray[np.bool_], lone: bool) -> Fault:
    """Describe a mark on the clear cel, and say how sure it is no dot that was meant."""
    x, y, w, h = box
    found, nearest_match, on_model = _color(drawing, box, window)
    size = max(w, h)
    thin = size < THIN * drawing.ink.pen
    sure = not on_model or thin or size <= 4
    verdict = Verdict.RETAKE if sure and lone else Verdict.QUERY
    what = named(nearest_match) if on_model else "dirt or a color that is not on the model"
    rows, cols = np.nonzero(window)
    middle = int(((cols - cols.mean()) ** 2 + (rows - rows.mean()) ** 2).argmin())
    return Fault(
        kind=FaultKind.STRAY,
        verdict=verdict,
        text=f"A speck of {drawing.length(size)} on the clear cel ({what}). Wipe it off"
        + (", unless it is drawn on purpose." if verdict is Verdict.QUERY else "."),
        send_to=SendTo.PAINT,
        confidence=0.98 if verdict is Verdict.RETAKE else 0.9 if lone else 0.3,
        box=drawing.box(x, y, w, h),
        point=drawing.point(x + int(cols[middle]), y + int(rows[middle])),
        area_px=int(window.sum()),
        found=found,
        nearest=nearest_match,
        contrast=40.0,
    )


def _color(
    drawing: Drawing, box: tuple[int, int, int, int], window: NDArray[np.bool_]
) -> tuple[FoundColor, ModelMatch, bool]:
    """Return a mark's color (median of its most opaque pixels), the nearest of the model, whether it fits."""
    x, y, w, h = box
    rgba = drawing.ground.rgba[y : y + h, x : x + w][window]
    solid = rgba[rgba[:, 3] >= max(1, int(rgba[:, 3].max()) - 8)]
    rgb = np.rint(np.median(solid[:, :3], axis=0)).astype(np.uint8)
    lab = tuple(round(float(v), 2) for v in srgb8_to_lab(rgb))
    match = nearest(drawing, lab, lambda color: True)  # type: ignore[arg-type]
    found = FoundColor("#{:02X}{:02X}{:02X}".format(*(int(v) for v in rgb)), lab)  # type: ignore[arg-type]
    return found, match, match.delta_e <= match.tolerance


def _in_fills(drawing: Drawing, claimed: set[int]) -> list[Fault]:
    """Find small off-model spots that lie bare in one fill."""
    faults = []
    for flat in np.nonzero(drawing.paints & (drawing.index == NONE))[0]:
        region = drawing.regions.id_of_flat(int(flat))
        _, _, w, h = (int(v) for v in drawing.flats.box[flat])
        if (
            region in claimed
            or max(w, h) > LARGEST
            or drawing.ground.noisy
            or drawing.regions.inked_share(region) > 0.1
        ):
            continue
        around = _fills_around(drawing, region)
        if len(around) != 1:
            continue
        claimed.add(region)
        faults.append(_spot(drawing, int(flat), region, around[0]))
    return faults


def _soft_spots(drawing: Drawing) -> list[Fault]:
    """Find spots in one fill that are too small and soft for a flat: loose pixels that touch no line."""
    loose = drawing.ink.loose
    if not len(loose) or drawing.ground.noisy:
        return []
    firm = drawing.ink.line.copy()
    firm[loose[:, 0], loose[:, 1]] = 0
    lone = cv2.dilate(firm, np.ones((7, 7), np.uint8))[loose[:, 0], loose[:, 1]] == 0
    if not lone.any():
        return []
    width = firm.shape[1]
    spots = np.sort(loose[lone, 0] * width + loose[lone, 1])
    faults = []
    for members in grouped(joined(spots, (1, width - 1, width, width + 1))):
        rows, cols = np.divmod(spots[members], width)
        y, x = int(rows[0]), int(cols.min())
        h, w = int(rows[-1]) + 1 - y, int(cols.max()) + 1 - x
        if len(members) < LEAST_SOFT or max(w, h) > LARGEST_SOFT:
            continue
        window = np.zeros((h, w), bool)
        window[rows - y, cols - x] = True
        fault = _soft_spot(drawing, (x, y, w, h), window)
        if fault is not None:
            faults.append(fault)
    return faults


def _soft_spot(drawing: Drawing, box: tuple[int, int, int, int], window: NDArray[np.bool_]) -> Fault | None:
    """Describe a soft spot; None where it does not lie in one fill, or could be a detail in a model color."""
    x, y, w, h = box
    around = drawing.regions.ids[y - 2 : y + h + 2, x - 2 : x + w + 2]
    ids = around[around != LINE]
    line = (drawing.ink.line[y - 2 : y + h + 2, x - 2 : x + w + 2] > 0).sum()
    if not len(ids) or (ids != ids[0]).any() or ids[0] <= drawing.regions.clears or line != window.sum():
        return None
    fill = drawing.regions.flat_of_id(int(ids[0]))
    index = int(drawing.index[fill])
    pixels_in = drawing.ground.rgba[y : y + h, x : x + w, :3].astype(np.float64)
    apart = np.linalg.norm(pixels_in - drawing.flats.rgb[fill], axis=2) * window
    row, col = np.unravel_index(int(apart.argmax()), apart.shape)
    away = pixels_in[row, col] - drawing.flats.rgb[fill]
    if index == NONE or apart.max() < FAINT or _may_be_drawn(drawing, fill, away, max(w, h)):
        return None
    lab = srgb8_to_lab(pixels_in[row, col].astype(np.uint8))
    place = (float(lab[0]), float(lab[1]), float(lab[2]))
    match = nearest(drawing, place, lambda color: True)
    paint = _match(drawing, index)
    size = drawing.length(max(w, h))
    r, g, b = (int(v) for v in pixels_in[row, col])
    return Fault(
        kind=FaultKind.STRAY,
        verdict=Verdict.RETAKE,
        text=f"A spot of {size} that is no color of the model in {named(paint)}. Clean it or paint over it.",
        send_to=SendTo.PAINT,
        confidence=0.97,
        box=drawing.box(x, y, w, h),
        point=drawing.point(x + int(col), y + int(row)),
        area_px=int(window.sum()),
        found=FoundColor(
            f"#{r:02X}{g:02X}{b:02X}", (round(place[0], 2), round(place[1], 2), round(place[2], 2))
        ),
        nearest=match,
        expected=paint,
        contrast=match.delta_e,
    )


def _may_be_drawn(drawing: Drawing, fill: int, away: NDArray[np.float64], size: int) -> bool:
    """Tell whether a blended color lies between its fill and a color of the model: a small drawn detail.

    A dot in the ink's direction that is thinner than the pen was not drawn with it.
    """
    for color in drawing.palette.colors:
        towards = np.array(color.srgb, np.float64) - drawing.flats.rgb[fill]
        length = float(np.linalg.norm(towards))
        along = float(away @ towards) >= ALONG * length * float(np.linalg.norm(away))
        thin = color.use is not Use.PAINT and size - SOFT_RIM < THIN * drawing.ink.pen
        if length > FAINT and along and not thin:
            return True
    return False


def _fills_around(drawing: Drawing, region: int) -> list[int]:
    """Return the palette colors of the fills that a region touches."""
    pairs = drawing.regions.pairs
    other = np.concatenate([pairs[pairs[:, 0] == region, 1], pairs[pairs[:, 1] == region, 0]])
    flats = np.unique(other) - drawing.regions.clears
    return [int(drawing.index[flat]) if flat > 0 else NONE for flat in flats]


def _spot(drawing: Drawing, flat: int, region: int, around: int) -> Fault:
    """Describe a spot of dirt in a fill."""
    x, y, w, h = (int(v) for v in drawing.flats.box[flat])
    lab = drawing.flats.lab[flat]
    match = nearest(drawing, (float(lab[0]), float(lab[1]), float(lab[2])), lambda color: True)
    where = f" in {named(_match(drawing, around))}" if around != NONE else ""
    return Fault(
        kind=FaultKind.STRAY,
        verdict=Verdict.RETAKE,
        text=f"A spot of {drawing.length(max(w, h) + 1)} that is no color of the model{where}. "
        "Clean it or paint over it.",
        send_to=SendTo.PAINT,
        confidence=0.97,
        box=drawing.box(x, y, w + 1, h + 1),
        point=drawing.point(x + w / 2, y + h / 2),
        area_px=int(drawing.regions.area[region]),
        found=drawing.found(flat),
        nearest=match,
        expected=_match(drawing, around) if around != NONE else None,
        contrast=match.delta_e,
    )


def _match(drawing: Drawing, index: int) -> ModelMatch:
    return model_match(drawing.palette.colors[index], 0.0, "the paint all around the spot")
