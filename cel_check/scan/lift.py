"""Lifts the art off its card: what was mixed with the card gets an alpha, as on clear cel.

A soft rim between art and card is a mix of the card and of one color, the fill beside it or an ink; alpha is
that color's share. A hole in a fill that is hardly wider than the blur shows no pure card anywhere: it is
known by its pixels, which lie between the fill and the card.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.scan.clear_card import off_shade
from cel_check.scan.flatten import Flattened
from cel_check.scan.harden import beside_of, mix_of
from cel_check.scan.punch import MM_PER_INCH

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Rgb = tuple[int, int, int]

_RIM = 5
"""Side in pixels of the window in which a pixel beside the card is its rim: two pixels of blur."""

_HOLE_MM = 2.0
"""Diameter up to which a hole may lack pure card: more has a core that is cleared by its color."""

_CARD, _MIDDLE = 32.0, 0.25
"""Levels within which the middle of a hole must come to the card, in light or in shadow; and the share of the
fill's color in it at most: blur leaves so much of a fill of strong contrast in half a millimeter."""

_BLURRED = 64.0
"""Levels within which it may come where that is explained by the fill's color: what else is so far off the
card is not looked at."""

_MIXED = 28.0
"""Levels by which a pixel may be off the mix of two colors: more is a third one."""

_AHEAD = 4.0
"""Levels by which an ink must explain a rim's pixel better than the fill beside it: less is grain."""

_ONE_FILL = 0.6
"""Share of the pixels around a hole that must be of its fill: a line may pass close by on one side."""

_BARE = 0.3
"""Share of a fill's color in a hole's pixel below which it is bare: blur leaves so much in 0.5 mm."""


def lift(flat: Flattened, clear: NDArray[np.bool_], card: Rgb, inks: Bytes, dpi: float) -> Bytes:
    """Return `(h, w, 4)` straight-alpha sRGB with the card taken away.

    Args:
        flat: the scan without its grain.
        clear: `(h, w)` where the card shows.
        card: its sRGB.
        inks: `(n, 3)` the inks that a rim may be of.
        dpi: pixels an inch.
    """
    clear = clear | (cv2.inRange(flat.rgb, card, card) > 0)
    opaque = np.asarray(~clear).view(np.uint8)
    rgba = np.asarray(cv2.copyTo(cv2.cvtColor(flat.rgb, cv2.COLOR_RGB2RGBA), opaque), np.uint8)
    _open_rims(rgba, flat, clear, (card, inks))
    _open_holes(rgba, flat, clear, (card, dpi))
    return rgba


def _open_rims(rgba: Bytes, flat: Flattened, clear: NDArray[np.bool_], colors: tuple[Rgb, Bytes]) -> None:
    """Take the card out of the rims beside it, in place."""
    card, inks = colors
    solid = flat.flat & ~clear
    near = cv2.dilate(clear.view(np.uint8), np.ones((_RIM, _RIM), np.uint8)) > 0
    rim = np.flatnonzero(near & ~clear & ~solid)
    if not len(rim):
        return
    found, own = flat.rgb.reshape(-1, 3)[rim].astype(np.float64), np.array(card, np.float64)
    # A thin line has no flat of its own: each ink may be what the rim is of.
    fills = [beside_of(flat.rgb, solid, rim)] if solid.any() else []
    options = [*fills, *(np.broadcast_to(ink, (len(rim), 3)) for ink in inks)]
    color, share, off = _best(found, options or [_strongest(flat.rgb, rim, card)], own)
    odd = np.flatnonzero(off > _MIXED)
    color[odd], share[odd], off[odd] = _best(found[odd], [_strongest(flat.rgb, rim[odd], card)], own)
    alien = np.flatnonzero(off > _MIXED)
    color[alien], share[alien] = flat.rgb.reshape(-1, 3)[rim[alien]], 1.0
    pixels = rgba.reshape(-1, 4)
    pixels[rim, :3] = color
    pixels[rim, 3] = np.rint(share * 255).astype(np.uint8)


def _best(found: Floats, options: list[Bytes], card: Floats) -> tuple[Bytes, Floats, Floats]:
    """Return which option each `(n, 3)` color is mixed of with the card, its share, and what is left over.

    What is hardly more than card is a mix of anything with it: the first option, the fill beside, goes ahead.
    """
    mixes = [mix_of(found, option.astype(np.float64), card) for option in options]
    ahead = [off + (_AHEAD if n else 0.0) for n, (_, off) in enumerate(mixes)]
    best, pick = np.argmin(ahead, axis=0), np.arange(len(found))
    share, off = (np.array([mix[n] for mix in mixes])[best, pick] for n in (0, 1))
    return np.array(options)[best, pick], share, off


def _strongest(rgb: Bytes, where: NDArray[np.int64], card: Rgb) -> Bytes:
    """Return the color farthest from the card in each pixel's window: that of a speck without a core."""
    height, width = rgb.shape[:2]
    rows, columns = np.divmod(where, width)
    steps = np.arange(_RIM) - _RIM // 2
    near = np.clip(rows[:, None, None] + steps[:, None], 0, height - 1) * width
    near = (near + np.clip(columns[:, None, None] + steps, 0, width - 1)).reshape(len(where), _RIM * _RIM)
    colors = rgb.reshape(-1, 3)[near]
    farthest = np.abs(colors.astype(np.int16) - np.array(card, np.int16)).max(axis=2).argmax(axis=1)
    strongest: Bytes = colors[np.arange(len(where)), farthest]
    return strongest


def _open_holes(rgba: Bytes, flat: Flattened, clear: NDArray[np.bool_], terms: tuple[Rgb, float]) -> None:
    """Take the card out of small holes that lie in one fill, in place."""
    card, dpi = terms
    bare = ~clear & ~flat.flat
    like = _like_card(flat, np.flatnonzero(bare.ravel()), card)
    if not len(like):
        return
    seeds = np.zeros(bare.shape, np.uint8)
    seeds.ravel()[like] = 1
    count, labels, stats, _ = cv2.connectedComponentsWithStats(seeds, connectivity=8)
    for spot in range(1, count):
        x, y, w, h = stats[spot, :4].tolist()
        if max(w, h) <= _HOLE_MM * dpi / MM_PER_INCH:
            window = (slice(max(0, y - _RIM), y + h + _RIM), slice(max(0, x - _RIM), x + w + _RIM))
            _open_hole(rgba[window], flat, window, labels[window] == spot, card)


def _like_card(flat: Flattened, where: NDArray[np.int64], card: Rgb) -> NDArray[np.int64]:
    """Return which places (flat indices) look like the card, or like it with a little of the fill beside."""
    found = flat.rgb.reshape(-1, 3)[where].astype(np.float32)
    off = off_shade(found, card)
    sure, maybe = off < _CARD, np.flatnonzero((off >= _CARD) & (off < _BLURRED))
    if len(maybe) and flat.flat.any():
        beside = beside_of(flat.rgb, flat.flat, where[maybe]).astype(np.float32)
        share, left = mix_of(found[maybe], beside, np.array(card, np.float32))
        sure[maybe] = (share < _BARE) & (left < _MIXED)
    return where[sure]


def _open_hole(
    rgba: Bytes, flat: Flattened, window: tuple[slice, slice], seed: NDArray[np.bool_], card: Rgb
) -> None:
    """Take the card out of what may be a hole, in place: where it is mixed of the one fill around it."""
    around = np.ones((3, 3), np.uint8)
    core = cv2.dilate(seed.view(np.uint8), around) > 0
    near = cv2.dilate(core.view(np.uint8), around) > 0
    solid = flat.flat[window] & (rgba[:, :, 3] == 255)
    if not solid.any() or (rgba[near, 3] < 255).any():
        return
    ring = solid & (cv2.dilate(near.view(np.uint8), np.ones((5, 5), np.uint8)) > 0)
    colors, counts = np.unique(rgba[ring if ring.any() else solid][:, :3], axis=0, return_counts=True)
    color, own = colors[counts.argmax()].astype(np.float64), np.array(card, np.float64)
    share, off = mix_of(flat.rgb[window].reshape(-1, 3).astype(np.float64), color, own)
    # What is flat and of another color is a fill or a line, whatever it could be mixed of.
    other = flat.flat[window] & (flat.rgb[window] != colors[counts.argmax()]).any(axis=2)
    share, mixed = share.reshape(near.shape), (off.reshape(near.shape) < _MIXED) & ~other
    beside = near & ~core
    if not (mixed[core].all() and mixed[beside].mean() > _ONE_FILL and share[core].min() < _MIDDLE):
        return
    mixed &= near
    share[share < _BARE] = 0.0
    pixels = np.column_stack([np.tile(color, (int(mixed.sum()), 1)), np.rint(share[mixed] * 255)])
    pixels[share[mixed] == 0.0] = 0
    rgba[mixed] = pixels.astype(np.uint8)
