"""A scanned cel made ready for the checks: in register, in sRGB, evened, its card even and its fills flat.

The work is done at about 150 pixels an inch: a pixel is then 0.17 mm, a third of the smallest spot that
matters. Only the peg holes are measured at the scan's full size.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb_to_linear
from cel_check.model.colormodel import Palette
from cel_check.picture.picture import Picture
from cel_check.scan.apply import encoded, linear_srgb
from cel_check.scan.backing import alike, even_by_card
from cel_check.scan.clear_card import clear_card
from cel_check.scan.flatten import Flattened, flatten
from cel_check.scan.profile import Profile
from cel_check.scan.punch import MM_PER_INCH, Punch
from cel_check.scan.register import OffRegister, Registration, in_register, register

WORK_DPI = 150.0
"""Pixels an inch at which a scan is taken apart."""


_DUST_MM, _RIM, _HAIR_MM = 0.2, 2, 3.0
"""Millimeters up to which a lone mark is as thin as dust or hair, pixels of blur around it, and how long."""

_UNSURE = 0.3
"""ΔE00 of a fill's mean for each level of spread: slow texture does not average out (a house choice)."""


@dataclass(frozen=True)
class Bed:
    """How a cel lay on the scanner.

    Attributes:
        dpi: pixels an inch of the scan.
        punch: the peg holes' measures and side.
        backing: the card's own sRGB; None to take what the border shows.
    """

    dpi: float
    punch: Punch
    backing: tuple[int, int, int] | None = None


@dataclass(frozen=True, eq=False)
class Prepared:
    """A scan as the checks take it.

    Attributes:
        picture: like a digital painting on a card, at the working size.
        back: `(2, 3)` from x, y of it to x, y of the scan as it was read.
        off: why the scan is not in register; None where it is.
        notes: what was done, one sentence each.
        unsure: ΔE00 within which a fill's color is known, by its spread.
    """

    picture: Picture
    back: NDArray[np.float64]
    off: OffRegister | None
    notes: tuple[str, ...]
    unsure: float


def prepare(
    picture: Picture,
    palette: Palette,
    profile: Profile | None,
    bed: Bed,
) -> Prepared:
    """Make a scan ready for the checks.

    Args:
        picture: the scan as read.
        palette: the level's colors.
        profile: the scanner's; None where there is none, and the file's own colors hold.
        bed: how the cel lay.
    """
    dpi, punch = bed.dpi, bed.punch
    found = register(picture, dpi, punch)
    small, scale = _smaller(picture, dpi)
    move = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    notes: list[str] = []
    if isinstance(found, Registration):
        move = _at(found.move, scale)
        small = in_register(small, replace(found, move=move), dpi * scale, punch)
    linear = _linear(small, profile)
    card = even_by_card(linear, bed.backing)
    small = encoded(linear, replace(small, rgb16=None))
    rgb = np.ascontiguousarray(small.rgba[:, :, :3])
    cleared = clear_card(rgb, card.srgb, dpi * scale)
    clear, specks = _without_dust(cleared.clear, dpi * scale)
    rgb[clear] = card.srgb
    known = np.array([*(color.srgb for color in palette.colors), card.srgb], np.uint8)
    flat = flatten(rgb, known, dpi * scale)
    small = replace(small, rgba=_clear(flat, clear, card.srgb), opaque=False)
    specks += cleared.dust + flat.specks
    if specks:
        notes.append(f"{specks} specks smaller than 0.33 mm were taken for dust.")
    notes += alike(palette, card)
    off = found if isinstance(found, OffRegister) else None
    return Prepared(small, _back(move, scale), off, (*small.notes, *notes), _UNSURE * flat.spread)


def _without_dust(clear: NDArray[np.bool_], dpi: float) -> tuple[NDArray[np.bool_], int]:
    """Clear lone specks and hairs: as thin as dust once the blur's rim is off; return how many."""
    art = np.asarray(~clear, np.uint8)
    side = max(1, round(_DUST_MM * dpi / MM_PER_INCH))
    core = cv2.erode(art, np.ones((side + _RIM, side + _RIM), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(art, connectivity=8)
    thin = np.ones(count, bool)
    thin[np.unique(labels[core > 0])] = False
    thin &= stats[:, 2:4].max(axis=1) < _HAIR_MM * dpi / MM_PER_INCH
    thin[0] = True
    dust: NDArray[np.bool_] = thin[labels]
    return dust, int(thin[1:].sum())


def _clear(flat: Flattened, clear: NDArray[np.bool_], card: tuple[int, int, int]) -> NDArray[np.uint8]:
    """Return `(h, w, 4)` straight-alpha pixels with the card taken away, out of soft rims as well.

    A rim's pixel is a mix of the card and of the fill next to it; alpha is that fill's share.
    """
    clear = clear | (flat.rgb == np.array(card, np.uint8)).all(axis=2)
    solid = flat.flat & ~clear
    near = cv2.dilate(np.asarray(clear, np.uint8), np.ones((5, 5), np.uint8)) > 0
    rim = near & ~clear & ~solid
    rgba = np.dstack([flat.rgb, np.where(clear, 0, 255).astype(np.uint8)])
    rgba[clear] = 0
    if not rim.any() or not solid.any():
        return rgba
    _, nearest = cv2.distanceTransformWithLabels(
        np.asarray(~solid, np.uint8), cv2.DIST_L2, cv2.DIST_MASK_5, labelType=cv2.DIST_LABEL_PIXEL
    )
    colors = np.zeros((int(nearest.max()) + 1, 3), np.uint8)
    colors[nearest[solid]] = flat.rgb[solid]
    full = colors[nearest[rim]].astype(np.float64) - card
    part = ((flat.rgb[rim].astype(np.float64) - card) * full).sum(axis=1) / np.maximum(
        (full**2).sum(axis=1), 1.0
    )
    rgba[rim, :3] = colors[nearest[rim]]
    rgba[rim, 3] = np.rint(np.clip(part, 0, 1) * 255).astype(np.uint8)
    return rgba


def _smaller(picture: Picture, dpi: float) -> tuple[Picture, float]:
    """Return a scan at the working resolution, and by how much it was scaled."""
    scale = min(1.0, WORK_DPI / dpi)
    size = (max(1, round(picture.width * scale)), max(1, round(picture.height * scale)))
    rgba = np.asarray(cv2.resize(picture.rgba, size, interpolation=cv2.INTER_AREA), np.uint8)
    rgba[:, :, 3] = 255
    return replace(picture, rgba=rgba, rgb16=None), scale


def _at(move: NDArray[np.float64], scale: float) -> NDArray[np.float64]:
    """Return a move of the full picture as one of the smaller; a pixel's middle is half a pixel in."""
    half = np.array([0.5, 0.5])
    shift = scale * (move[:, :2] @ (half / scale - half) + move[:, 2] + half) - half
    return np.column_stack([move[:, :2], shift])


def _back(move: NDArray[np.float64], scale: float) -> NDArray[np.float64]:
    """Return from the smaller picture in register to the full scan as it was read."""
    full = np.vstack([move, [0.0, 0.0, 1.0]])
    grow = np.array([[1 / scale, 0, 0.5 / scale - 0.5], [0, 1 / scale, 0.5 / scale - 0.5], [0, 0, 1.0]])
    return np.asarray((grow @ np.linalg.inv(full))[:2], np.float64)


def _linear(picture: Picture, profile: Profile | None) -> NDArray[np.float32]:
    if profile is not None:
        return linear_srgb(picture, profile)
    table = srgb_to_linear(np.arange(256) / 255.0).astype(np.float32)
    return table[picture.rgba[:, :, :3]]
