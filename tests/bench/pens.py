"""A thinner pen on the drawings' lines, with the paint run on to where the new lines lie."""

import cv2
import numpy as np
from art import Art
from numpy.typing import NDArray
from styles import PENS, Style

UNITS = 72
NATURAL_PEN = 2.0
MOST_BARE = 14
"""Pixels of a border that a thinner pen may leave bare: about one pen width, at a line's end."""

Shares = NDArray[np.uint8]


def thin_lines(
    art: Art, style: Style, size: int, shares: tuple[Shares, Shares], most_bare: int = MOST_BARE
) -> tuple[Shares, Shares, float | None]:
    """Redraw the lines with the thinnest pen from `style.pen` up that covers the borders the old ones did.

    The drawings' fills end anywhere under their lines, so a thinner pen alone would leave paint beside it.
    The paint on each side runs on under the old line to its middle, where it meets the other side's.
    Where line ends only met because they were thick, no thin pen will do and the drawing keeps its own.
    """
    paint, wide = shares
    scale = size / UNITS
    seen = cv2.dilate(wide.max(axis=0), np.ones((3, 3), np.uint8)) > 0
    labels = np.where(paint.max(axis=0) == 255, paint.argmax(axis=0) + 1, 0)
    labels[(paint.max(axis=0) == 0) & (wide.max(axis=0) == 0)] = len(paint) + 1
    seen |= _slits(np.where(seen, 0, labels).astype(np.int32))
    run_on = _nearest(np.where(seen, 0, labels).astype(np.int32))
    for pen in (pen for pen in PENS if style.pen is not None and style.pen <= pen < NATURAL_PEN * scale):
        art.restyle(pen / scale, style.ink_color, style.crisp)
        thin = _ink_shares(art, size)
        line = np.minimum(thin.astype(np.int32).sum(axis=0), 255)
        under = _no_islands(run_on, seen, line)
        if _bare(under, seen, line) <= most_bare:
            out = [np.where(seen, (under == i + 1) * (255 - line), old) for i, old in enumerate(paint)]
            whose = _nearest(np.where(thin.max(axis=0) > 127, thin.argmax(axis=0) + 1, 0).astype(np.int32))
            shut = (under == 0) * (255 - line)  # a gap of nothing but old ink between two new lines
            inked = [old + (whose == i + 1) * shut for i, old in enumerate(thin)]
            return np.array(out, dtype=np.uint8), np.array(inked, dtype=np.uint8), pen
    return paint, wide, None


def _slits(labels: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Return the pieces of under 30 px: slits beside a thick line that a thin one would lay open."""
    small = np.zeros(labels.shape, dtype=bool)
    for label in range(1, int(labels.max()) + 1):
        count, pieces, stats, _ = cv2.connectedComponentsWithStats(
            (labels == label).astype(np.uint8), connectivity=4
        )
        few = (stats[:, cv2.CC_STAT_AREA] < 30) & (np.arange(count) > 0)
        small |= few[pieces]
    return small


def _no_islands(
    labels: NDArray[np.int32], seen: NDArray[np.bool_], line: NDArray[np.int32]
) -> NDArray[np.int32]:
    """Give to its surroundings whatever of a label is cut off, by a new line, from where the label shows.

    Pixels with nothing but line around them get no label (0).
    """
    out = labels.copy()
    for label in range(1, int(labels.max()) + 1):
        free = ((labels == label) & (line < 128)).astype(np.uint8)
        count, pieces = cv2.connectedComponents(free, connectivity=4)
        rooted = np.zeros(count, dtype=bool)
        rooted[pieces[~seen]] = True
        out[~rooted[pieces] & (free > 0)] = 0
    for _ in range(int(np.count_nonzero(out == 0) > 0) * 200):
        spread = _spread(np.where(line < 128, out, 0))
        grown = np.where((out == 0) & (line < 128), spread, out)
        if np.array_equal(grown, out):
            break
        out = grown
    return np.where((out == 0) & (line >= 128), labels, out)


def _spread(labels: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return for every pixel its own label, or where it has none that of one of its four neighbors."""
    around = np.pad(labels, 1)
    sides = (around[:-2, 1:-1], around[2:, 1:-1], around[1:-1, :-2], around[1:-1, 2:])
    out = labels
    for side in sides:
        out = np.where(out == 0, side, out)
    return out


def _bare(labels: NDArray[np.int32], seen: NDArray[np.bool_], line: NDArray[np.int32]) -> int:
    """Count pixels where two labels meet in the room of the old lines and no new line covers the border."""
    border = np.zeros(labels.shape, dtype=bool)
    border[:-1] |= labels[:-1] != labels[1:]
    border[:, :-1] |= labels[:, :-1] != labels[:, 1:]
    inked = cv2.dilate(line.astype(np.uint8), np.ones((3, 3), np.uint8)) > 100
    return int(np.count_nonzero(border & seen & ~inked))


def _nearest(labels: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return for every pixel the label of the nearest labelled one."""
    free = (labels == 0).astype(np.uint8)
    _, index = cv2.distanceTransformWithLabels(free, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    table = np.zeros(int(index.max()) + 1, dtype=np.int32)
    table[index[free == 0]] = labels[free == 0]
    return np.asarray(table[index])


def _ink_shares(art: Art, size: int) -> Shares:
    colors = tuple(sorted(art.colors()))
    strokes = sorted({shape.stroke for shape in art.shapes if shape.line and shape.stroke is not None})
    black = dict.fromkeys(colors, (0, 0, 0))
    out = np.zeros((len(colors), size, size), dtype=np.uint8)
    for start in range(0, len(strokes), 3):
        swap = dict(black)
        for channel, color in enumerate(strokes[start : start + 3]):
            swap[color] = (255 * (channel == 0), 255 * (channel == 1), 255 * (channel == 2))
        picture = art.render(size, black, swap)
        for channel, color in enumerate(strokes[start : start + 3]):
            out[colors.index(color)] = np.rint(picture[..., channel])
    return out
