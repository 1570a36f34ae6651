"""Rows of light and dark stripes that straight lines over a picture meet, whatever the stripes' orientation.

A row is one where each step from light to dark and back counts as a change in `flash` (20 cd/m2, the darker
below 160 cd/m2: Ofcom's guidance on regular patterns, as restated in public code) and the pairs are of one
width, or widen and narrow little by little as they recede. Lines are laid in eight directions.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.flash import CHANGE, DARKER

Floats = NDArray[np.float32]
Places = NDArray[np.intp]
Mask = NDArray[np.bool_]

DIRECTIONS = 8
"""Of the lines, even over half a turn: no pattern is crossed more than 11 degrees askew by all of them."""
CELL = 3
"""Pixels on the side of a cell."""
EVEN, SLACK = 0.2, 0.5
"""How far a pair may be wider or narrower than the next one: share of the wider one, and pixels by which an
edge may be misplaced (house choices)."""
THIN = 0.25
"""Share of a pair that its thinner stripe takes at least: lines between boards are no stripes (a house
choice)."""
CLEAR = CHANGE / 2
"""cd/m2 of one rise or fall that a swing between light and dark has at least: small waves make no edge."""
_STILL = 0.8
"""cd/m2 from pixel to pixel that are no step: the widest stripes that a frame can show five pairs of, rising
by 20 cd/m2 from edge to edge, rise by more."""


@dataclass(frozen=True, eq=False)
class Lines:
    """All lines over a picture, their samples a pixel apart, one line after the other.

    Attributes:
        whole: `(rows, 256, 2)` whole pixel of each sample, as `cv2.remap` takes it; the last row is
            filled up.
        parts: `(rows, 256)` the rest of the way to it, likewise.
        first: `(n + 1,)` the first sample of each line, and the number of samples.
        direction: `(n,)` each line's direction.
        cell: `(samples,)` cell of each sample, numbered through all directions.
        held: `(directions, cells)` samples in each cell.
    """

    whole: NDArray[np.int32]
    parts: NDArray[np.int32]
    first: Places
    direction: Places
    cell: Places
    held: Places


@dataclass(frozen=True, eq=False)
class Runs:
    """Runs of regular stripes: their first and last place among the samples, line and number of stripes."""

    begin: NDArray[np.float64]
    end: NDArray[np.float64]
    line: Places
    bars: Places


def kept(runs: Runs, which: Mask) -> Runs:
    """Return some of the runs."""
    return Runs(runs.begin[which], runs.end[which], runs.line[which], runs.bars[which])


@lru_cache(maxsize=4)
def lines_over(height: int, width: int, apart: int, aside: int = 0) -> Lines:
    """Lay lines over a picture in all directions, so many pixels apart, and so many aside of its middle."""
    across = -(-width // CELL)
    cells = -(-height // CELL) * across
    columns, rows, cell, counts, directions = [], [], [], [], []
    for number in range(DIRECTIONS):
        x, y, length = _laid((height, width), apart, aside, np.pi * number / DIRECTIONS)
        columns.append(x)
        rows.append(y)
        place = np.rint(y).astype(np.intp) // CELL * across + np.rint(x).astype(np.intp) // CELL
        cell.append(number * cells + place)
        counts.append(length)
        directions.append(np.full(len(length), number))
    every = np.concatenate(cell)
    held = np.bincount(every, minlength=DIRECTIONS * cells).reshape(DIRECTIONS, cells)
    first = np.concatenate([[0], np.cumsum(np.concatenate(counts))])
    x_map, y_map = (_filled(np.concatenate(part)) for part in (columns, rows))
    whole, parts = cv2.convertMaps(x_map, y_map, cv2.CV_16SC2)
    return Lines(np.asarray(whole), np.asarray(parts), first, np.concatenate(directions), every, held)


def _filled(places: NDArray[np.float64]) -> Floats:
    """Return one row of places as rows of 256: OpenCV takes no row of more than 32767."""
    return np.resize(places, (-(-len(places) // 256), 256)).astype(np.float32)


def _laid(
    size: tuple[int, int], apart: int, start: int, angle: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], Places]:
    """Return columns and rows of the samples of lines in one direction, and the length of each line."""
    height, width = size
    reach = int(np.hypot(height, width) / 2) + apart
    aside = np.arange(-reach // apart * apart + start, reach + 1, apart)[:, None]
    along = np.arange(-reach, reach + 1)[None, :]
    # Through the middle of a pixel, so that level and upright lines need no mixing.
    x = width // 2 + along * np.cos(angle) - aside * np.sin(angle)
    y = height // 2 + along * np.sin(angle) + aside * np.cos(angle)
    inside = (x > -0.5) & (x < width - 0.5) & (y > -0.5) & (y < height - 0.5)
    length = inside.sum(axis=1)
    return np.clip(x[inside], 0, width - 1), np.clip(y[inside], 0, height - 1), length[length > 0]


def runs_along(pictures: Sequence[Floats], lines: Lines, least: int) -> tuple[Runs, ...]:
    """Return the runs of at least so many regular stripes, of each of some pictures.

    The lines of all pictures are gone along together: one step of many costs hardly more than one of few. A
    line that meets what it met on the picture before has the same runs, and is not gone along again: of
    frames in order, three lines of four.

    Args:
        pictures: `(h, w)` float32 cd/m2 each, of the size that the lines were laid for; best in order.
        lines: to go along.
        least: stripes, light and dark.
    """
    sampled = np.stack([_sampled(picture, lines) for picture in pictures])
    new = _new(sampled, lines.first)
    lengths = np.diff(lines.first)
    values = sampled[np.repeat(new, lengths, axis=1)]
    first = np.append(0, np.cumsum(np.broadcast_to(lengths, new.shape)[new]))
    runs = _runs(values, first, least)
    # A line that is not new is the last one that was: they are numbered in order.
    newest = np.maximum.accumulate(np.where(new, np.cumsum(new).reshape(new.shape) - 1, 0), axis=0)
    return tuple(_again(runs, own, first, lines.first) for own in newest)


def _new(sampled: Floats, first: Places) -> Mask:
    """Return `(k, n)`: on which of k pictures each line meets something else than on the one before."""
    new = np.ones((len(sampled), len(first) - 1), np.bool_)
    new[1:] = np.logical_or.reduceat(sampled[1:] != sampled[:-1], first[:-1], axis=1)
    return new


def _again(runs: Runs, own: Places, first: Places, laid: Places) -> Runs:
    """Return the runs of one picture's lines.

    Args:
        runs: of all that were gone along.
        own: `(n,)` which of these each line is.
        first: the first sample of each of these.
        laid: the first sample of each of the picture's lines.
    """
    starts = np.searchsorted(runs.line, own)
    counts = np.searchsorted(runs.line, own, side="right") - starts
    line = np.repeat(np.arange(len(own)), counts)
    which = np.arange(len(line)) + (starts - (np.cumsum(counts) - counts))[line]
    moved = laid[line] - first[own[line]]
    return Runs(runs.begin[which] + moved, runs.end[which] + moved, line, runs.bars[which])


def _runs(values: Floats, first: Places, least: int) -> Runs:
    """Return the runs of at least so many regular stripes along lines, whose first samples are `first`."""
    turns, of_line = _turns(values, first)
    clear = np.abs(np.diff(values[turns])) >= CLEAR
    often = np.bincount(of_line[1:][clear], minlength=len(first) - 1) >= least - 1
    some = often[of_line]
    pivots, of_line = _pivots(values, turns[some], of_line[some])
    some = np.bincount(of_line, minlength=len(first) - 1)[of_line] >= least
    edges, line = _edges(values, pivots[some], of_line[some])
    enough = np.bincount(line, minlength=len(first) - 1) >= least - 1
    some = enough[line]
    return _regular(*_with_borders(edges[some], line[some], first), least)


def _sampled(picture: Floats, lines: Lines) -> Floats:
    """Return what lines meet on a picture, one line after the other."""
    sampled = cv2.remap(picture, lines.whole, lines.parts, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(sampled, np.float32).ravel()[: len(lines.cell)]


def _turns(values: Floats, first: Places) -> tuple[Places, Places]:
    """Return samples at which a line stops rising or falling, with its ends, and the line of each."""
    steps = np.diff(values)
    steps[first[1:-1] - 1] = 0.0
    moving = np.flatnonzero(np.abs(steps) >= _STILL)
    rising = steps[moving] > 0
    turned = moving[1:][rising[1:] != rising[:-1]]
    at = np.zeros(len(values), np.bool_)
    at[turned], at[first[:-1]], at[first[1:] - 1] = True, True, True
    turns = np.flatnonzero(at)
    return turns, np.searchsorted(first, turns, side="right") - 1


def _pivots(values: Floats, turns: Places, of_line: Places) -> tuple[Places, Places]:
    """Return the samples of each line at which it swings back by enough, and the line of each.

    All lines go through their turns together, as `flash` takes pixels through frames; those with most turns
    stand first, and one whose turns are over takes no further part.
    """
    lines, place, counts = np.unique(of_line, return_index=True, return_counts=True)
    if not len(lines):
        return turns, of_line
    order = np.argsort(-counts, kind="stable")
    lines, place, counts = lines[order], place[order], counts[order]
    going = len(lines) - np.searchsorted(counts[::-1], np.arange(counts[0]), side="right")
    low = turns[place]
    swings = _Swings(low, low.copy(), values[low], values[low], np.zeros(len(low), np.int8))
    found: list[tuple[Places, Places]] = []
    for number in range(1, len(going)):
        now = turns[place[: going[number]] + number]
        swung, pivots = _swung(swings, now, values[now])
        if len(swung):
            found.append((pivots, lines[swung]))
    ended = np.flatnonzero(swings.way)
    found.append((np.where(swings.way > 0, swings.high, swings.low)[ended], lines[ended]))
    pivots, line = (np.concatenate(part) for part in zip(*found, strict=True))
    order = np.argsort(pivots, kind="stable")
    return pivots[order], line[order]


@dataclass(frozen=True, eq=False)
class _Swings:
    """How lines swing: samples of their darkest and lightest turn since the last, cd/m2 there, which way."""

    low: Places
    high: Places
    darkest: Floats
    lightest: Floats
    way: NDArray[np.int8]


def _swung(swings: _Swings, now: Places, value: Floats) -> tuple[Places, Places]:
    """Take the first lines to their next turn, in place; return those that swing back, and from where."""
    low, high, way = (part[: len(now)] for part in (swings.low, swings.high, swings.way))
    darkest, lightest = swings.darkest[: len(now)], swings.lightest[: len(now)]
    np.copyto(low, now, where=value < darkest)
    np.copyto(high, now, where=value > lightest)
    np.minimum(darkest, value, out=darkest)
    np.maximum(lightest, value, out=lightest)
    up = (way <= 0) & (value - darkest >= CHANGE) & (darkest < DARKER)
    down = (way >= 0) & (lightest - value >= CHANGE) & (value < DARKER)
    swung = np.flatnonzero(up | down)
    rises = up[swung]
    pivots = np.where(rises, low[swung], high[swung])
    way[swung] = np.where(rises, 1, -1)
    low[swung] = high[swung] = now[swung]
    darkest[swung] = lightest[swung] = value[swung]
    return swung, pivots


def _edges(values: Floats, pivots: Places, line: Places) -> tuple[NDArray[np.float64], Places]:
    """Return where lines pass the middle between one swing's end and the next, and the line of each edge."""
    same = np.flatnonzero(line[1:] == line[:-1])
    start, stop = pivots[same], pivots[same + 1]
    spans = stop - start
    swing = np.repeat(np.arange(len(same)), spans)
    offset = np.arange(len(swing)) - np.repeat(np.cumsum(spans) - spans, spans)
    here = start[swing] + offset
    middle = (values[start] + values[stop])[swing] / 2
    one, other = values[here] - middle, values[here + 1] - middle
    crossing = np.flatnonzero((one * other <= 0) & (one != other))
    first = np.flatnonzero(np.diff(swing[crossing], prepend=-1))
    at = crossing[first]
    return here[at] + one[at] / (one[at] - other[at]).astype(np.float64), line[same][swing[at]]


def _with_borders(
    edges: NDArray[np.float64], line: Places, first: Places
) -> tuple[NDArray[np.float64], Places, Mask]:
    """Add the picture's borders as edges: a stripe that runs off the picture ends there."""
    own = np.unique(line)
    every = np.concatenate([edges, first[own] - 0.5, first[own + 1] - 0.5])
    border = np.concatenate([np.zeros(len(edges), np.bool_), np.ones(2 * len(own), np.bool_)])
    lines = np.concatenate([line, own, own])
    order = np.lexsort((every, lines))
    return every[order], lines[order], border[order]


def _regular(edges: NDArray[np.float64], line: Places, border: Mask, least: int) -> Runs:
    """Return runs of at least so many stripes whose pairs are even."""
    bars, cut = np.diff(edges), border[1:] | border[:-1]
    cut &= line[1:] == line[:-1]
    pairs = bars[:-1] + bars[1:]
    cut_pair = cut[:-1] | cut[1:]
    even = cut_pair | (np.minimum(bars[:-1], bars[1:]) >= THIN * pairs)
    even &= line[2:] == line[:-2]
    wider, narrower = np.maximum(pairs[:-1], pairs[1:]), np.minimum(pairs[:-1], pairs[1:])
    goes_on = np.zeros(len(even), np.bool_)
    goes_on[1:] = even[:-1] & even[1:] & (wider - narrower <= EVEN * wider + SLACK)
    starts = np.flatnonzero(even & ~goes_on)
    count = np.bincount(np.cumsum(even & ~goes_on)[even] - 1, minlength=len(starts)) + 1
    begin, end = _with_ends(bars, even, starts, starts + count)
    runs = Runs(edges[begin], edges[end], line[begin], end - begin)
    return kept(runs, runs.bars >= least)


def _with_ends(bars: NDArray[np.float64], even: Mask, begin: Places, end: Places) -> tuple[Places, Places]:
    """Return runs with one more stripe at either end where it is no wider than the others of its kind.

    A stripe that the picture's border cuts, or the pattern's own edge, may be narrower.
    """
    limit = (1 + EVEN) * bars + SLACK
    before, after = np.maximum(begin - 1, 0), np.minimum(end, len(bars) - 1)
    first = (begin > 0) & even[before] & (bars[before] <= limit[before + 2])
    last = (end < len(bars)) & even[after - 1] & (bars[after] <= limit[after - 2])
    return begin - first, end + last
