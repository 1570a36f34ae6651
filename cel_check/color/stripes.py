"""Regular patterns of light and dark stripes on one picture: where they lie, and how many pairs they count.

A pattern is where straight lines of any direction meet long rows of stripes (`stripe_rows`), so stripes that
lean, curved ones and rows of repeated shapes (checks, palings) are patterns too, and where besides one wave
or two hold the light's power: grain and leaves, whose rows are even by chance, have none that stands out.
What a picture is too small to show is no stripe.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.stripe_rows import CELL, DIRECTIONS, Lines, Runs, kept, lines_over, runs_along

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
Rows = tuple[Lines, Runs]
"""Lines, and the runs of stripes that they meet."""

STEP = CELL
"""Pixels from line to line; every fourth one is laid first, and then every second one twice."""
GOES_ON = 6
"""Stripes, light and dark, from which a row of them may be the corner of a pattern."""
HINT, HINTED = 8, 0.05
"""Stripes of a row that hints at a pattern, and share of the picture that such rows cover where there is one:
gratings of six pairs on a quarter of the picture, in 18 directions, 0.14 and more of it (a house choice)."""
LEAST, SURELY = 0.02, 0.1
"""Share of the picture that a pattern's longest rows cover at least, and their share of the pattern."""
ONE_WAVE = 0.5
"""Share of the light's power that two waves hold where stripes are regular (a house choice)."""
FILLED = 0.5
"""Share of such a place that the pattern fills, where it fills any so far."""
PLACE, FINEST = 5, 24
"""Pairs across a place at which waves are looked at, and pixels across the smallest."""
_BLOCK = np.ones((3, 3), np.uint8)


@dataclass(frozen=True, eq=False)
class Stripes:
    """A pattern of stripes on a picture.

    Attributes:
        cells: `(h / 3, w / 3)`: cells of 3 x 3 pixels that lie in it.
        pairs: of light and dark that a straight line across it meets.
    """

    cells: Mask
    pairs: int

    @property
    def area(self) -> float:
        """Share of the picture that lies in the pattern."""
        return float(self.cells.mean())


def stripes_of(pictures: Sequence[Floats], pairs: int) -> tuple[Stripes | None, ...]:
    """Return what of each picture lies in patterns of more than so many pairs; None where there are none.

    Args:
        pictures: `(h, w)` float32 cd/m2 each, all of one size.
        pairs: light and dark pairs that are allowed.
    """
    if not pictures:
        return ()
    # Nearly all pictures have hardly a row of stripes along every fourth line, and no more lines are laid.
    lines = lines_over(*pictures[0].shape, 4 * STEP)
    rows = runs_along(pictures, lines, min(HINT, _bars_beyond(pairs)))
    return tuple(
        None if _cover([(lines, runs)]).max() < HINTED else _stripes(picture, pairs)
        for picture, runs in zip(pictures, rows, strict=True)
    )


def _rows(picture: Floats, aside: int, least: int) -> Rows:
    """Return every second line over a picture, with its rows of at least so many stripes."""
    lines = lines_over(*picture.shape, 2 * STEP, aside)
    return lines, runs_along([picture], lines, least)[0]


def _bars_beyond(pairs: int) -> int:
    """Return the stripes that are too many.

    A stripe more on one side makes no pair more: a pattern may end in a dark stripe on either side.
    """
    return 2 * pairs + 1


def _stripes(picture: Floats, pairs: int) -> Stripes | None:
    """Return the pattern of one picture.

    Lines across a pattern's corners meet fewer pairs than those across its middle: with them the pattern goes
    on as far as it hangs together.
    """
    beyond = _bars_beyond(pairs)
    rows = [_rows(picture, aside, min(GOES_ON, beyond)) for aside in (0, STEP)]
    long = [(laid, kept(runs, runs.bars >= beyond)) for laid, runs in rows]
    if _cover(long).max() < LEAST:
        return None
    cells = _grown(picture.shape, rows, long)
    if not cells.any() or _one_wave(picture, cells, _width(long)) < ONE_WAVE:
        return None
    return Stripes(cells, _pairs(long))


def _grown(size: tuple[int, ...], rows: Sequence[Rows], long: Sequence[Rows]) -> Mask:
    """Return the cells of the patterns that the long ones of the rows of stripes lie in."""
    shape = tuple(-(-side // CELL) for side in size)
    surely = _covered(long).reshape(shape)
    around = surely | _covered(_along(rows, long)).reshape(shape)
    # A single line that meets a row of things by chance is no pattern.
    opened = cv2.morphologyEx(around.astype(np.uint8), cv2.MORPH_OPEN, _BLOCK)
    _, labels = cv2.connectedComponents(opened, connectivity=8)
    sizes, own = np.bincount(labels.ravel()), np.bincount(labels[surely], minlength=labels.max() + 1)
    belongs = (own >= SURELY * sizes) & (own >= LEAST * surely.size)
    belongs[0] = False
    return np.asarray(belongs[labels])


def _one_wave(luminance: Floats, cells: Mask, width: float) -> float:
    """Return which share of the light's power its two strongest waves hold, in places of five pairs' size.

    Args:
        luminance: `(h, w)` cd/m2.
        cells: where to look.
        width: of a pair, in pixels.

    Returns:
        The median over the places: near 0.8 for even stripes, 0.6 for checks, below 0.3 for grain.
    """
    shape = luminance.shape
    high, wide = (min(side, max(FINEST, round(PLACE * width))) for side in shape)
    mask = np.repeat(np.repeat(cells, CELL, axis=0), CELL, axis=1)[: shape[0], : shape[1]]
    window = np.outer(np.hanning(high + 2)[1:-1], np.hanning(wide + 2)[1:-1]).astype(np.float32)
    filled = []
    for top in _starts(shape[0], high):
        for left in _starts(shape[1], wide):
            place = np.s_[top : top + high, left : left + wide]
            weight = window * mask[place]
            filled.append((float(weight.sum()), luminance[place], weight))
    enough = min(FILLED * window.sum(), max(full for full, _, _ in filled))
    return float(np.median([_strongest(light, weight) for full, light, weight in filled if full >= enough]))


def _starts(whole: int, part: int) -> list[int]:
    """Return where parts begin that overlap by half and reach from end to end."""
    count = 1 + -(-2 * (whole - part) // part)
    return [round(start) for start in np.linspace(0, whole - part, count)]


def _strongest(light: Floats, weight: Floats) -> float:
    """Return the share of the power that lies in the two strongest waves, and right beside them."""
    mean = (light * weight).sum() / weight.sum()
    waves = np.fft.rfft2((light - mean) * weight)
    half = waves.real**2 + waves.imag**2
    mirrored = half[-np.arange(len(half)), (light.shape[1] - 1) // 2 : 0 : -1]
    power = np.concatenate([half, mirrored], axis=1)
    whole = float(power.sum())
    flat, share = power.ravel(), 0.0
    for _ in range(2):
        around = _around(int(flat.argmax()), power.shape)
        share += float(flat[around].sum())
        flat[around] = 0.0
    return share / whole if whole else 0.0


def _around(place: int, shape: tuple[int, ...]) -> list[int]:
    """Return the flat places of a wave, of its mirror image and of those beside them."""
    (high, wide), aside = shape, (-1, 0, 1)
    row, column = divmod(place, wide)
    every = {
        (sign * row + down) % high * wide + (sign * column + across) % wide
        for sign in (1, -1)
        for down in aside
        for across in aside
    }
    return list(every)


def _along(rows: Sequence[Rows], long: Sequence[Rows]) -> tuple[Rows, ...]:
    """Return the runs in the direction in which the long ones cover most, and in those beside it."""
    most = _cover(long).argmax()
    return tuple(
        (lines, kept(runs, (lines.direction[runs.line] - most + 1) % DIRECTIONS <= 2)) for lines, runs in rows
    )


def _cover(rows: Sequence[Rows]) -> NDArray[np.float64]:
    """Return `(directions,)` the share of the picture that each direction's runs cover."""
    samples = sum(np.bincount(lines.direction, np.diff(lines.first), DIRECTIONS) for lines, _ in rows)
    lengths = (
        np.bincount(lines.direction[runs.line], runs.end - runs.begin, DIRECTIONS) for lines, runs in rows
    )
    return np.asarray(sum(lengths) / samples)


def _bars(rows: Sequence[Rows]) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return the length of each run, in pixels, and its number of stripes."""
    return (
        np.concatenate([runs.end - runs.begin for _, runs in rows]),
        np.concatenate([runs.bars for _, runs in rows]),
    )


def _width(rows: Sequence[Rows]) -> float:
    """Return the width of a pair, in pixels: the median over the runs."""
    lengths, bars = _bars(rows)
    return float(np.median(2 * lengths / bars))


def _pairs(rows: Sequence[Rows]) -> int:
    """Return the pairs that only a twentieth of the runs, by length, pass."""
    lengths, bars = _bars(rows)
    order = np.argsort(bars)
    passed = np.cumsum(lengths[order])
    return int(bars[order[np.searchsorted(passed, 0.95 * passed[-1])]] + 1) // 2


def _covered(rows: Sequence[Rows]) -> Mask:
    """Return `(cells,)`: where at least half of the samples of any direction lie in runs."""
    hits = np.sum([_hits(lines, runs) for lines, runs in rows], axis=0)
    held = np.sum([lines.held for lines, _ in rows], axis=0)
    return np.asarray(((2 * hits >= held) & (hits > 0)).any(axis=0))


def _hits(lines: Lines, runs: Runs) -> NDArray[np.intp]:
    """Return `(directions, cells)` samples that lie in runs."""
    steps = np.zeros(len(lines.cell) + 1, np.int64)
    np.add.at(steps, np.rint(runs.begin + 0.5).astype(np.intp), 1)
    np.add.at(steps, np.rint(runs.end + 0.5).astype(np.intp), -1)
    inside = np.cumsum(steps[:-1]) > 0
    return np.bincount(lines.cell[inside], minlength=lines.held.size).reshape(lines.held.shape)
