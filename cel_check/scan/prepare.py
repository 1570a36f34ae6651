"""A scanned cel made ready for the checks: in register, in sRGB, evened, its card even and its fills flat.

The work is done at about 150 pixels an inch: a pixel is then 0.17 mm, a third of the smallest spot that
matters. Only the peg holes are measured at the scan's full size.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import linear_of_code
from cel_check.model.colormodel import Palette, Use
from cel_check.picture.picture import Picture
from cel_check.scan.apply import evened, linear_srgb
from cel_check.scan.backing import Backing, alike, card_behind
from cel_check.scan.clear_card import clear_card
from cel_check.scan.dust import Full, without_dust
from cel_check.scan.flatten import Flattened, Inks, Own, flatten
from cel_check.scan.lift import lift
from cel_check.scan.profile import Profile
from cel_check.scan.punch import Punch
from cel_check.scan.register import OffRegister, Registration, cover_found, cover_punched, register

WORK_DPI = 150.0
"""Pixels an inch at which a scan is taken apart."""


_SHARPER = 0.4
"""Share of what a blur of one pixel takes away that is put back: what the sensor costs."""

_COARSE = 4
"""Times by which the picture is made smaller once more to look at its card."""

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
        picture: like a digital painting on clear cel, at the working size, as its sheet lay.
        back: `(2, 3)` from x, y of it to x, y of the scan as it was read.
        move: `(2, 3)` from x, y of it to x, y in register; the same where it is not known.
        card: the card behind it.
        off: why the scan is not in register; None where it is.
        notes: what was done, one sentence each.
        unsure: ΔE00 within which a fill's color is known, by the spread that most have.
        own: the same of each pixel's own fill, by its own spread; 0 on rims.
    """

    picture: Picture
    back: NDArray[np.float64]
    move: NDArray[np.float64]
    card: Backing
    off: OffRegister | None
    notes: tuple[str, ...]
    unsure: float
    own: Own


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
    dpi, notes = bed.dpi, list(picture.notes)
    found = register(picture, dpi, bed.punch)
    codes, scale = _smaller(picture.rgba, dpi)
    move = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    if isinstance(found, Registration):
        move = _at(found.move, scale)
        cover_punched(codes, move, dpi * scale, bed.punch)
        notes.append(found.sentence())
    else:
        cover_found(codes, found, scale, dpi * scale, bed.punch)
    rgb, card = _developed(codes, profile, bed.backing)
    cleared = clear_card(rgb, card.srgb, dpi * scale, [color.srgb for color in palette.colors])
    clear, specks = without_dust(cleared.clear, Full(picture.rgba, _back(scale), dpi), dpi * scale)
    rgba, flat = _lifted(rgb, clear, palette, card.srgb, dpi * scale)
    specks += cleared.dust + flat.specks
    if specks:
        notes.append(f"{specks} specks smaller than 0.33 mm were taken for dust.")
    notes += alike(palette, card)
    off = found if isinstance(found, OffRegister) else None
    small = replace(picture, rgba=rgba, rgb16=None, opaque=False)
    return Prepared(small, _back(scale), move, card, off, tuple(notes), _UNSURE * flat.spread, flat.own)


def _developed(
    codes: NDArray[np.uint8], profile: Profile | None, backing: tuple[int, int, int] | None
) -> tuple[NDArray[np.uint8], Backing]:
    """Return a scan's sRGB codes, evened by its card and with steeper edges, and the card."""
    coarse = (max(1, codes.shape[1] // _COARSE), max(1, codes.shape[0] // _COARSE))
    few = np.asarray(cv2.resize(codes, coarse, interpolation=cv2.INTER_AREA), np.uint8)
    linear = linear_of_code(8).astype(np.float32)[few] if profile is None else linear_srgb(few, profile)
    card, light = card_behind(linear, backing)
    return _sharper(evened(codes, profile, light)), card


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
    pixels = np.empty_like(rgb[art], order="C")
    cv2.rectangle(pixels, (0, 0), pixels.shape[1::-1], card, cv2.FILLED)
    cv2.copyTo(rgb[art], (~clear[art]).view(np.uint8), pixels)
    flat = flatten(pixels, known, dpi, inks)
    out[art] = lift(flat, clear[art], card, colors[inks.which], dpi)
    return out, replace(flat, own=replace(flat.own, spreads=_UNSURE * flat.own.spreads, corner=(left, top)))


def _smaller(rgba: NDArray[np.uint8], dpi: float) -> tuple[NDArray[np.uint8], float]:
    """Return the `(h, w, 3)` codes of a scan at the working resolution, and by how much it was scaled."""
    scale = min(1.0, WORK_DPI / dpi)
    size = (max(1, round(rgba.shape[1] * scale)), max(1, round(rgba.shape[0] * scale)))
    times = round(1 / scale)
    if times * scale == 1.0 and min(rgba.shape[:2]) >= times:
        # Whole blocks of pixels: a row left over would soften the scan, and cost OpenCV ten times as much.
        size = (rgba.shape[1] // times, rgba.shape[0] // times)
        rgba = rgba[: size[1] * times, : size[0] * times]
    small = cv2.resize(rgba, size, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.cvtColor(small, cv2.COLOR_RGBA2RGB), np.uint8), scale


def _at(move: NDArray[np.float64], scale: float) -> NDArray[np.float64]:
    """Return a move of the full picture as one of the smaller; a pixel's middle is half a pixel in."""
    half = np.array([0.5, 0.5])
    shift = scale * (move[:, :2] @ (half / scale - half) + move[:, 2] + half) - half
    return np.column_stack([move[:, :2], shift])


def _back(scale: float) -> NDArray[np.float64]:
    """Return from the smaller picture to the full scan as it was read."""
    return np.array([[1 / scale, 0, 0.5 / scale - 0.5], [0, 1 / scale, 0.5 / scale - 0.5]])
