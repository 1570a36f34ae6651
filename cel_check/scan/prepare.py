"""A scanned cel made ready for the checks: in register, in sRGB, evened, its card even and its fills flat.

The work is done at about 150 pixels an inch: a pixel is then 0.17 mm, a third of the smallest spot that
matters. Only the peg holes are measured at the scan's full size.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb_to_linear
from cel_check.model.colormodel import Palette, Use
from cel_check.picture.picture import Picture
from cel_check.scan.apply import encoded, linear_srgb
from cel_check.scan.backing import alike, even_by_card
from cel_check.scan.clear_card import clear_card
from cel_check.scan.dust import Full, without_dust
from cel_check.scan.flatten import Flattened, Inks, flatten
from cel_check.scan.lift import lift
from cel_check.scan.profile import Profile
from cel_check.scan.punch import Punch
from cel_check.scan.register import OffRegister, Registration, in_register, register, without_holes

WORK_DPI = 150.0
"""Pixels an inch at which a scan is taken apart."""


_SHARPER = 0.7
"""Share of what a blur of one pixel takes away that is put back: what the sensor and the turn cost."""

_PAD = 8
"""Pixels kept around the art, more than any neighborhood reaches."""

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
        unsure: ΔE00 within which a fill's color is known, by the spread that most have.
        own: `(h, w)` the same of each pixel's own fill, by its own spread; 0 on rims.
    """

    picture: Picture
    back: NDArray[np.float64]
    off: OffRegister | None
    notes: tuple[str, ...]
    unsure: float
    own: NDArray[np.float32]


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
    else:
        small = without_holes(small, found, scale, dpi * scale, punch)
    back = _back(move, scale)
    linear = _linear(small, profile)
    card = even_by_card(linear, bed.backing)
    small = encoded(linear, replace(small, rgb16=None))
    rgb = np.ascontiguousarray(small.rgba[:, :, :3])
    rgb = _sharper(rgb)
    cleared = clear_card(rgb, card.srgb, dpi * scale, [color.srgb for color in palette.colors])
    clear, specks = without_dust(cleared.clear, Full(picture.rgba, back, dpi), dpi * scale)
    rgba, flat = _lifted(rgb, clear, palette, card.srgb, dpi * scale)
    small = replace(small, rgba=rgba, opaque=False)
    specks += cleared.dust + flat.specks
    if specks:
        notes.append(f"{specks} specks smaller than 0.33 mm were taken for dust.")
    notes += alike(palette, card)
    off = found if isinstance(found, OffRegister) else None
    return Prepared(small, back, off, (*small.notes, *notes), _UNSURE * flat.spread, _UNSURE * flat.own)


def _sharper(rgb: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a picture with steeper edges: no pixel leaves the range of its neighbors, so nothing rings."""
    soft = cv2.GaussianBlur(rgb, (0, 0), 1.0)
    sharp = cv2.addWeighted(rgb, 1 + _SHARPER, soft, -_SHARPER, 0)
    around = np.ones((3, 3), np.uint8)
    return np.asarray(cv2.max(cv2.min(sharp, cv2.dilate(rgb, around)), cv2.erode(rgb, around)), np.uint8)


def _lifted(
    rgb: NDArray[np.uint8], clear: NDArray[np.bool_], palette: Palette, card: tuple[int, int, int], dpi: float
) -> tuple[NDArray[np.uint8], Flattened]:
    """Make the art flat and lift it off its card; only the art's own rectangle is looked at."""
    out = np.zeros((*clear.shape, 4), np.uint8)
    x, y, w, h = cv2.boundingRect((~clear).view(np.uint8))
    left, top = max(0, x - _PAD), max(0, y - _PAD)
    art = (slice(top, y + h + _PAD), slice(left, x + w + _PAD))
    colors = np.array([color.srgb for color in palette.colors], np.uint8).reshape(-1, 3)
    inks = Inks(colors, np.array([color.use is not Use.PAINT for color in palette.colors], bool))
    known = np.concatenate([colors, np.array([card], np.uint8)])
    pixels = rgb[art].copy()
    pixels[clear[art]] = card
    flat = flatten(pixels, known, dpi, inks)
    out[art] = lift(flat, clear[art], card, colors[inks.which], dpi)
    own = np.zeros(clear.shape, np.float32)
    own[art] = flat.own
    return out, replace(flat, own=own)


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
