"""Starts a color model from painted cels: the flat paints and inks that pictures hold, with where they sit.

A flat color is one that fills a block of 3 x 3 pixels somewhere, or that thin lines repeat exactly though no
mix of two flat colors gives it. Blended rims are neither. Line or fill is told by the pen: a line is long for
its width, and no wider than twice the width of most such lines.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.clear import Ground, card_color, ground_of
from cel_check.drawing.flats import Flats, find_flats
from cel_check.faults import Box
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.picture.picture import Picture

Rgb = tuple[int, int, int]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SURELY_LONG, LONG = 25.0, 4.0
"""Area in squared widths from which a flat is a line whatever its width, and from which one of the pen's
width is."""

PENS = 1.5
"""Pen widths up to which a long flat is a line; a short one of that width says neither line nor fill."""

UNDECIDED, LINE, FILL = 0, 1, 2
"""What a flat says of its color's use."""

LEAST_SOLID = 9
"""Pixels of a flat from which its color counts: a block of 3 x 3."""

LEAST_THIN, OFF_MIX = 24, 12.0
"""Pixels of a color that only thin lines have, and its distance in 8-bit RGB from every mix of two others."""

LEAST_NOISY, OFF_MIX_NOISY = 150, 40.0
"""The same on pictures with compression's noise, where thin lines hold no block of 8 x 8."""

NARROW = 3.5
"""Pixels of width up to which bits of one color are a line that its blended rims have cut into pieces."""

SAME_NOISY = 3.0
"""ΔE00 within which colors of a picture with compression's noise are one."""

MIXED_USE = 0.25
"""Share of a color's area that must be line, or fill, for it to be used as both."""


@dataclass(frozen=True)
class FoundColor:
    """One flat color of some pictures.

    Attributes:
        srgb: the exact color, 8 bits a channel (of a noisy picture: its mean).
        use: what it seems to be for.
        area: pixels, over all pictures.
        places: how many separate flats it fills.
        largest: pixels of the largest of them.
        box: x, y, width, height of that one.
        file: in which picture that is.
        files: how many of the pictures hold the color.
    """

    srgb: Rgb
    use: Use
    area: int
    places: int
    largest: int
    box: Box
    file: str
    files: int

    @property
    def hex(self) -> str:
        """The color as `#RRGGBB`."""
        return "#{:02X}{:02X}{:02X}".format(*self.srgb)


@dataclass(frozen=True)
class FoundColors:
    """What pictures hold: paints first and then inks, each by area, and what a person should know."""

    colors: tuple[FoundColor, ...]
    notes: tuple[str, ...]


@dataclass
class _Tally:
    """What is gathered of one color over all pictures."""

    area: int = 0
    long: bool = False
    line: int = 0
    fill: int = 0
    places: int = 0
    largest: int = 0
    box: Box = (0, 0, 0, 0)
    file: str = ""
    files: set[str] = field(default_factory=set)


def find_colors(pictures: Iterable[tuple[str, Picture]]) -> FoundColors:
    """List the flat colors of pictures.

    Args:
        pictures: name and picture, one at a time.
    """
    tallies: dict[Rgb, _Tally] = {}
    notes: list[str] = []
    for name, picture in pictures:
        card = card_color(picture.rgba) if picture.opaque else None
        ground = ground_of(picture, _card_palette(card))
        notes += _notes(name, ground, card)
        if not ground.empty:
            _add(tallies, name, ground)
    colors = tuple(_found(rgb, tally) for rgb, tally in tallies.items())
    order = sorted(colors, key=lambda one: (one.use is Use.INK, -one.area, one.srgb))
    return FoundColors(tuple(order), tuple(notes))


def _card_palette(card: Rgb | None) -> Palette:
    """Return a palette of the card's color alone: a paint of that color inside the art is then kept."""
    rgb = card or (0, 0, 0)
    lab = srgb8_to_lab(np.array(rgb, np.uint8))
    color = ModelColor(
        "card", "Card", Use.PAINT, rgb, (float(lab[0]), float(lab[1]), float(lab[2])), 1.0, None, "card"
    )
    return Palette((color,), ("card",))


def _notes(name: str, ground: Ground, card: Rgb | None) -> list[str]:
    notes = []
    if ground.empty:
        notes.append(f"{name}: there is nothing on it.")
    elif card is not None:
        notes.append(f"{name}: taken for painted on a card of #{card[0]:02X}{card[1]:02X}{card[2]:02X}.")
    if ground.noisy:
        notes.append(f"{name}: has the noise of lossy compression; its colors are means.")
    return notes


def _add(tallies: dict[Rgb, _Tally], name: str, ground: Ground) -> None:
    """Add one picture's flats to the tallies of their colors."""
    flats = find_flats(ground.rgba, ground.clear, ground.noisy)
    colors = _colors_of(ground, flats)
    real = _real(flats, colors)
    area = np.bincount(flats.filled.ravel(), minlength=len(colors))
    roles, long = _roles(flats, colors, area, real)
    x, y = ground.origin
    for flat in np.flatnonzero(real).tolist():
        rgb = (int(colors[flat, 0]), int(colors[flat, 1]), int(colors[flat, 2]))
        tally = tallies.setdefault(rgb, _Tally())
        size = int(area[flat])
        tally.area += size
        tally.long |= bool(long[flat])
        tally.line += size if roles[flat] == LINE else 0
        tally.fill += size if roles[flat] == FILL else 0
        tally.places += 1
        tally.files.add(name)
        if size > tally.largest:
            left, top, width, height = (int(v) for v in flats.box[flat])
            tally.largest, tally.file, tally.box = size, name, (left + x, top + y, width + 1, height + 1)


def _colors_of(ground: Ground, flats: Flats) -> NDArray[np.uint8]:
    """Return the `(n, 3)` color of each flat: that of most of its pixels; on noisy pictures merged means."""
    if flats.noisy:
        return _merged(flats)
    inside = np.flatnonzero(flats.labels)
    pixels = ground.rgba.reshape(-1, 4)[inside, :3].astype(np.int64)
    code = (pixels[:, 0] << 16) | (pixels[:, 1] << 8) | pixels[:, 2]
    keys, counts = np.unique((flats.labels.ravel()[inside].astype(np.int64) << 24) | code, return_counts=True)
    order = np.argsort(counts, kind="stable")  # the most frequent comes last, and stays
    mode = np.zeros(len(flats.area), np.int64)
    mode[keys[order] >> 24] = keys[order] & 0xFFFFFF
    return np.stack([mode >> 16, mode >> 8 & 255, mode & 255], axis=1).astype(np.uint8)


def _merged(flats: Flats) -> NDArray[np.uint8]:
    """Return each flat's mean color, or that of a larger flat from which it hardly differs."""
    colors = flats.rgb.copy()
    order = np.argsort(-flats.area[1:], kind="stable") + 1
    chosen: list[int] = []
    for flat in order.tolist():
        if chosen:
            apart = ciede2000(flats.lab[chosen], flats.lab[flat])
            near = int(apart.argmin())
            if apart[near] <= SAME_NOISY:
                colors[flat] = flats.rgb[chosen[near]]
                continue
        chosen.append(flat)
    return colors


def _real(flats: Flats, colors: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Return which flats are of a color that was put there, and no blend of two others."""
    code = (colors.astype(np.int64) @ np.array([1 << 16, 1 << 8, 1])).astype(np.int64)
    solid = flats.solid(flats.area >= LEAST_SOLID)
    known = np.unique(code[solid])
    real = np.isin(code, known)
    thin, where = np.unique(code[1:], return_inverse=True)
    pixels = np.bincount(where, weights=flats.area[1:], minlength=len(thin))
    least, off = (LEAST_NOISY, OFF_MIX_NOISY) if flats.noisy else (LEAST_THIN, OFF_MIX)
    candidates = thin[(pixels >= least) & ~np.isin(thin, known)]
    if len(candidates):
        mixes = _distance_to_mixes(_rgb_of(candidates), _rgb_of(known))
        real |= np.isin(code, candidates[mixes > off])
    real[0] = False
    return real


def _rgb_of(codes: Ints) -> Floats:
    return np.stack([codes >> 16, codes >> 8 & 255, codes & 255], axis=1).astype(np.float64)


def _distance_to_mixes(colors: Floats, known: Floats) -> Floats:
    """Return how far each color is from the nearest straight line between two known ones, in 8-bit RGB."""
    if not len(known):
        return np.full(len(colors), np.inf)
    first, second = np.triu_indices(len(known))
    start, along = known[first], known[second] - known[first]
    length = np.maximum(np.square(along).sum(axis=1), 1e-9)
    nearest = np.empty(len(colors))
    for place, color in enumerate(colors):
        share = np.clip(((color - start) * along).sum(axis=1) / length, 0.0, 1.0)
        nearest[place] = np.linalg.norm(start + share[:, None] * along - color, axis=1).min()
    return nearest


def _roles(
    flats: Flats, colors: NDArray[np.uint8], area: Ints, real: NDArray[np.bool_]
) -> tuple[Ints, NDArray[np.bool_]]:
    """Tell lines from fills.

    Returns:
        What each flat is (a `LINE` is long and about as wide as the pen, a wider one is `FILL`), and which
        flats are long enough to be a line beyond doubt.
    """
    core = (flats.filled > 0).astype(np.uint8)
    # Flats may touch once their rims are given back: a border between two labels parts them.
    core[:, 1:][flats.filled[:, 1:] != flats.filled[:, :-1]] = 0
    core[1:][flats.filled[1:] != flats.filled[:-1]] = 0
    depth = cv2.distanceTransform(core, cv2.DIST_L2, cv2.DIST_MASK_5)
    deepest = np.zeros(len(area))
    np.maximum.at(deepest, flats.filled.ravel(), depth.ravel())
    width = np.maximum(2.0 * deepest, 1.0)
    slender = _whole(colors, area, width) / (width * width)
    sure = real & (slender >= SURELY_LONG)
    if not sure.any():
        return np.full(len(area), FILL), sure
    pen = _weighted_median(width[sure], area[sure])
    as_wide = width <= max(PENS * pen, NARROW)
    roles = np.where(as_wide & (slender >= LONG), LINE, np.where(as_wide, UNDECIDED, FILL))
    return roles, sure & as_wide


def _whole(colors: NDArray[np.uint8], area: Ints, width: Floats) -> Floats:
    """Return each flat's area; that of all of its color where every one of them is narrow."""
    code = colors.astype(np.int64) @ np.array([1 << 16, 1 << 8, 1])
    _, where = np.unique(code, return_inverse=True)
    widest = np.zeros(int(where.max(initial=0)) + 1)
    np.maximum.at(widest, where[1:], width[1:])
    total = np.bincount(where[1:], weights=area[1:], minlength=len(widest))
    return np.where(widest[where] <= NARROW, total[where], area).astype(np.float64)


def _weighted_median(values: Floats, weights: Ints) -> float:
    order = np.argsort(values)
    share = np.cumsum(weights[order]) / weights.sum()
    return float(values[order][int(np.searchsorted(share, 0.5))])


def _found(rgb: Rgb, tally: _Tally) -> FoundColor:
    line, fill = tally.line / tally.area, tally.fill / tally.area
    use = Use.PAINT
    if tally.long and line > fill:
        use = Use.INK
    if tally.long and min(line, fill) >= MIXED_USE:
        use = Use.BOTH
    return FoundColor(
        rgb, use, tally.area, tally.places, tally.largest, tally.box, tally.file, len(tally.files)
    )


def as_toml(found: FoundColors, files: Sequence[str]) -> str:
    """Return found colors as the text of a color model, ready to be named."""
    several = f"{files[0]} and {len(files) - 1} more" if len(files) > 1 else files[0]
    lines = [
        f"# Found in {_one_line(several)}. Name the character and each color, and give the paint numbers."
    ]
    lines += [f"# {_one_line(note)}" for note in found.notes]
    lines += ["schema = 1", "", "[model]", 'character = "Unnamed"']
    counts = dict.fromkeys(Use, 0)
    lab = srgb8_to_lab(np.array([color.srgb for color in found.colors], np.uint8).reshape(-1, 3))
    ids: list[str] = []
    for number, color in enumerate(found.colors):
        counts[color.use] += 1
        word = {Use.PAINT: "paint", Use.INK: "ink", Use.BOTH: "paint-and-ink"}[color.use]
        ids.append(f"{word}-{counts[color.use]}")
        name = f"{word.replace('-', ' ').capitalize()} {counts[color.use]}"
        lines += ["", "[[color]]", f"# {_where(color, len(files))}", *_near(ids, lab, number)]
        lines += [f'id   = "{ids[-1]}"', f'name = "{name}"', f'use  = "{color.use.value}"']
        lines += [f'srgb = "{color.hex}"']
    return "\n".join(lines) + "\n"


def _where(color: FoundColor, files: int) -> str:
    x, y, width, height = color.box
    places = f"{color.places:,} places" if color.places > 1 else "1 place"
    inside = f" of {_one_line(color.file)}" if files > 1 else ""
    at = f"at x {x}, y {y} ({width} x {height}){inside}"
    largest = f"; the largest, {color.largest:,} px, {at}" if color.places > 1 else f" {at}"
    return f"{color.area:,} px in {places}{largest}"


def _near(ids: Sequence[str], lab: Floats, number: int) -> list[str]:
    """Return a remark on an earlier color from which this one hardly differs."""
    if number == 0:
        return []
    apart = ciede2000(lab[:number], lab[number])
    nearest = int(apart.argmin())
    return [f"# only {apart[nearest]:.1f} ΔE00 from {ids[nearest]}"] if apart[nearest] < 2.0 else []


def _one_line(text: str) -> str:
    return "".join(sign if sign.isprintable() else "?" for sign in text)
