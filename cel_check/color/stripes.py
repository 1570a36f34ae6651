"""Regular patterns of light and dark stripes on one picture: where they lie, and how many pairs they count.

A pattern is where straight lines of any direction meet long rows of stripes (`stripe_rows`), so stripes that
lean, curved ones and rows of repeated shapes (checks, palings) are patterns too, and where besides one wave
or two hold the light's power: grain and leaves, whose rows are even by chance, have none that stands out.
What a picture is too small to show is no stripe.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.stripe_rows import CELL, DIRECTIONS, Lines, Runs, kept, lines_over, runs_along

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]

STEP = CELL
"""Pixels from line to line."""
GOES_ON = 6
"""Stripes, light and dark, from which a row of them may be the corner of a pattern."""
FEW = 2
"""Times as far apart are the lines that are laid first: what none of them finds is no pattern."""
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


def stripes_of(luminance: NDArray[np.float64], pairs: int) -> Stripes | None:
    """Return what of a picture lies in patterns of more than so many pairs; None where there are none.

    Lines across a pattern's corners meet fewer pairs than those across its middle: with them the pattern goes
    on as far as it hangs together.

    Args:
        luminance: `(h, w)` cd/m2.
        pairs: light and dark pairs that are allowed.
    """
    small, size = np.asarray(luminance, np.float32), luminance.shape
    # A stripe more on one side makes no pair more: a pattern may end in a dark stripe on either side.
    stripes = 2 * pairs + 1
    few = lines_over(*size, FEW * STEP)
    if _cover(runs_along(small, few, stripes), few).max() < LEAST:
        return None
    lines = lines_over(*size, STEP)
    long = runs_along(small, lines, stripes)
    if _cover(long, lines).max() < LEAST:
        return None
    cells = _grown(small, long, lines)
    if not cells.any() or _one_wave(small, cells, _width(long)) < ONE_WAVE:
        return None
    return Stripes(cells, _pairs(long))


def _grown(luminance: Floats, long: Runs, lines: Lines) -> Mask:
    """Return the cells of the patterns that long rows of stripes lie in."""
    shape = tuple(-(-side // CELL) for side in luminance.shape)
    surely = _covered(long, lines).reshape(shape)
    short = _along(runs_along(luminance, lines, GOES_ON), long, lines)
    around = surely | _covered(short, lines).reshape(shape)
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
    window = np.outer(np.hanning(high + 2)[1:-1], np.hanning(wide + 2)[1:-1])
    filled: list[tuple[float, float]] = []
    for top in _starts(shape[0], high):
        for left in _starts(shape[1], wide):
            place = np.s_[top : top + high, left : left + wide]
            weight = window * mask[place]
            if weight.any():
                filled.append((weight.sum() / window.sum(), _strongest(luminance[place], weight)))
    enough = min(FILLED, max(full for full, _ in filled))
    return float(np.median([share for full, share in filled if full >= enough]))


def _starts(whole: int, part: int) -> list[int]:
    """Return where parts begin that overlap by half and reach from end to end."""
    count = 1 + -(-2 * (whole - part) // part)
    return [round(start) for start in np.linspace(0, whole - part, count)]


def _strongest(light: Floats, weight: NDArray[np.float64]) -> float:
    """Return the share of the power that lies in the two strongest waves, and right beside them."""
    mean = (light * weight).sum() / weight.sum()
    power = np.abs(np.fft.fft2((light - mean) * weight)) ** 2
    whole = power.sum()
    share = 0.0
    for _ in range(2):
        row, column = np.unravel_index(int(power.argmax()), power.shape)
        for sign in (1, -1):  # a wave and its mirror image
            rows = (sign * row + np.arange(-1, 2)) % power.shape[0]
            columns = (sign * column + np.arange(-1, 2)) % power.shape[1]
            share += float(power[np.ix_(rows, columns)].sum())
            power[np.ix_(rows, columns)] = 0.0
    return share / whole if whole else 0.0


def _along(runs: Runs, long: Runs, lines: Lines) -> Runs:
    """Return the runs in the direction in which the long ones cover most, and in those beside it."""
    aside = (lines.direction[runs.line] - _cover(long, lines).argmax() + 1) % DIRECTIONS
    return kept(runs, aside <= 2)


def _cover(runs: Runs, lines: Lines) -> NDArray[np.float64]:
    """Return `(directions,)` the share of the picture that each direction's runs cover."""
    samples = np.bincount(lines.direction, np.diff(lines.first), DIRECTIONS)
    return np.asarray(np.bincount(lines.direction[runs.line], runs.end - runs.begin, DIRECTIONS) / samples)


def _width(runs: Runs) -> float:
    """Return the width of a pair, in pixels: the median over the runs."""
    return float(np.median(2 * (runs.end - runs.begin) / runs.bars))


def _pairs(runs: Runs) -> int:
    """Return the pairs that only a twentieth of the runs, by length, pass."""
    order = np.argsort(runs.bars)
    lengths = np.cumsum((runs.end - runs.begin)[order])
    return int(runs.bars[order[np.searchsorted(lengths, 0.95 * lengths[-1])]] + 1) // 2


def _covered(runs: Runs, lines: Lines) -> Mask:
    """Return `(cells,)`: where at least half of the samples of any direction lie in runs."""
    steps = np.zeros(len(lines.cell) + 1, np.int64)
    np.add.at(steps, np.rint(runs.begin + 0.5).astype(np.intp), 1)
    np.add.at(steps, np.rint(runs.end + 0.5).astype(np.intp), -1)
    inside = np.cumsum(steps[:-1]) > 0
    hits = np.bincount(lines.cell[inside], minlength=lines.held.size).reshape(lines.held.shape)
    return np.asarray(((2 * hits >= lines.held) & (hits > 0)).any(axis=0))
