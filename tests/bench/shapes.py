"""Places and shapes for the injections: parts of a cel, blobs, the side of a line, a stretch of a line."""

from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

import cv2
import numpy as np
from cases import Case
from colors import delta_e
from numpy.typing import NDArray
from skimage.morphology import skeletonize

from cel_check.faults import Point

Mask = NDArray[np.bool_]
Share = NDArray[np.float64]
T = TypeVar("T")


def pick(rng: np.random.Generator, choices: Sequence[T]) -> T | None:
    """Return one of `choices` at random, or None where there are none."""
    return choices[int(rng.integers(len(choices)))] if choices else None


def distance(mask: Mask) -> NDArray[np.float32]:
    """Return for every pixel of `mask` how far it is from the nearest pixel outside."""
    return np.asarray(cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE))


@dataclass(frozen=True, eq=False)
class PartTruth:
    """One connected fill: pixels that are wholly of one paint."""

    color: int
    area: int
    depth: float
    mask: Mask

    def share(self, case: Case) -> NDArray[np.uint8]:
        """Return the paint's share here and in the rim, up to where another fill of the color is nearer."""
        paint = case.paint[self.color]
        mine = cv2.distanceTransform((~self.mask).astype(np.uint8), cv2.DIST_L2, 5)
        others = ((paint == 255) & ~self.mask).astype(np.uint8)
        other = (
            cv2.distanceTransform(1 - others, cv2.DIST_L2, 5) if others.any() else np.full(mine.shape, 99.0)
        )
        return np.where((mine <= 4) & (mine < other), paint, 0).astype(np.uint8)


def parts(case: Case) -> list[PartTruth]:
    """Return every fill of at least 40 px of a color that no ink line has."""
    found = []
    for color in range(len(case.paint)):
        if case.ink[color].any():
            continue
        core = (case.paint[color] == 255).astype(np.uint8)
        count, labels, stats, _ = cv2.connectedComponentsWithStats(core, connectivity=4)
        deep = distance(core > 0)
        for label in range(1, count):
            area = int(stats[label, cv2.CC_STAT_AREA])
            if area >= 40:
                mask = labels == label
                found.append(PartTruth(color, area, float(deep[mask].max()), mask))
    return found


def inked_share(case: Case, part: PartTruth) -> float:
    """Return the share of the fill's border, 2 px outside its rim, that is ink."""
    body = (part.share(case) > 127).astype(np.uint8)
    ring = (cv2.dilate(body, np.ones((5, 5), np.uint8)) > 0) & (body == 0)
    inked = case.ink.sum(axis=0, dtype=np.int32) >= 100
    return float(np.count_nonzero(ring & inked) / max(1, np.count_nonzero(ring)))


def _grid(shape: tuple[int, ...], center: Point) -> tuple[Share, Share]:
    rows, columns = np.mgrid[: shape[0], : shape[1]].astype(np.float64)
    return columns - center[0], rows - center[1]


def disk(shape: tuple[int, ...], center: Point, radius: float, crisp: bool) -> Share:
    """Return the share 0 to 1 of a disk in every pixel."""
    x, y = _grid(shape, center)
    share = np.clip(radius + 0.5 - np.hypot(x, y), 0, 1)
    return np.asarray((share >= 0.5) * 1.0 if crisp else share)


def blob(shape: tuple[int, ...], center: Point, size: float, crisp: bool, rng: np.random.Generator) -> Share:
    """Return the share 0 to 1 of a blob of mean diameter `size` whose outline wavers by up to a quarter."""
    x, y = _grid(shape, center)
    angle, radius = np.arctan2(y, x), np.full(x.shape, size / 2)
    for wave in (2, 3, 5):
        radius *= 1 + rng.uniform(0, 0.12) * np.cos(wave * angle + rng.uniform(0, 6.28))
    share = np.clip(radius + 0.5 - np.hypot(x, y), 0, 1)
    return np.asarray((share >= 0.5) * 1.0 if crisp else share)


@dataclass(frozen=True, eq=False)
class SpillShape:
    """A spill: `far` past the line's far edge, `line` on the line itself (shares 0 to 1); lengths in px."""

    color: int
    onto_paint: bool
    depth: float
    line_width: float
    far: Share
    line: Share


def labels_of(case: Case) -> NDArray[np.int32]:
    """Return paint index + 1, 0 on the ground, -1 on ink and -2 where a pixel is blended otherwise."""
    label = np.where(case.paint.max(axis=0) == 255, case.paint.argmax(axis=0) + 1, -2)
    label = np.where(case.ink.max(axis=0) >= 128, -1, label)
    empty = (case.paint.max(axis=0) == 0) & (case.ink.max(axis=0) == 0)
    return np.where(empty, 0, label).astype(np.int32)


def _line_behind(
    labels: NDArray[np.int32], start: Point, inward: tuple[float, float]
) -> tuple[float, int] | None:
    """Walk through the line and return its width and the paint behind it (index + 1), if it is clear cut."""
    seen = []
    for step in range(1, 60):
        x, y = round(start[0] + inward[0] * step), round(start[1] + inward[1] * step)
        if not (0 <= y < labels.shape[0] and 0 <= x < labels.shape[1]):
            return None
        seen.append(int(labels[y, x]))
        if len(seen) > 9 and len(set(seen[-6:])) == 1 and seen[-1] >= 0:
            break
    width = sum(1 for label in seen if label < 0)
    behind = seen[-1]
    clean = all(label in (behind, -1, -2) for label in seen) and seen.count(-1) >= 2
    return (float(width), behind) if clean and behind > 0 else None


Fields = tuple[NDArray[np.int32], NDArray[np.float32], NDArray[np.float32]]
"""Labels, distance to the nearest ink, and that distance (negative inside) smoothed."""


def spill_shape(
    case: Case, rng: np.random.Generator, extent: tuple[float, float], thickest: float
) -> SpillShape | None:
    """Find a line that parts paint from clear or from another paint, and shape a spill across it.

    Paint of a color that lines have too is left out on both sides: no line is seen to be crossed.

    Args:
        case: the cel.
        rng: source of the place.
        extent: depth past the line and width along it, px.
        thickest: the widest line to cross, px.
    """
    labels = labels_of(case)
    ink = case.ink.max(axis=0) >= 128
    out = distance(~ink)
    fields = (labels, out, cv2.GaussianBlur(out - distance(ink), (0, 0), 2.0))
    rows, columns = np.nonzero((out >= 2) & (out < 3) & (labels >= 0))
    for _ in range(60 if len(rows) else 0):
        index = int(rng.integers(len(rows)))
        spot = int(columns[index]), int(rows[index])
        normal = _outward(fields[2], spot)
        if normal is None:
            continue
        behind = _line_behind(labels, spot, (-normal[0], -normal[1]))
        far = int(labels[spot[1], spot[0]])
        if behind is None or behind[0] > thickest or behind[1] == far:
            continue
        if seen_apart(case, behind[1] - 1, far) and not inked(case, behind[1]) and not inked(case, far):
            shape = _spill_at(case, fields, (spot, normal, behind), extent, rng)
            if shape is not None:
                return shape
    return None


def inked(case: Case, label: int) -> bool:
    """Tell whether lines have a fill's color too."""
    return label > 0 and bool(case.ink[label - 1].any())


def _outward(smooth: NDArray[np.float32], spot: Point) -> tuple[float, float] | None:
    """Return the direction away from the line, or None near the cel's edge and where it is not clear."""
    x, y = spot
    if not (60 < x < smooth.shape[1] - 60 and 60 < y < smooth.shape[0] - 60):
        return None
    slope = float(smooth[y, x + 1] - smooth[y, x - 1]), float(smooth[y + 1, x] - smooth[y - 1, x])
    length = float(np.hypot(*slope))
    return None if length < 0.5 else (slope[0] / length, slope[1] / length)


def _spill_at(
    case: Case,
    fields: Fields,
    place: tuple[Point, tuple[float, float], tuple[float, int]],
    extent: tuple[float, float],
    rng: np.random.Generator,
) -> SpillShape | None:
    """Shape the spill at one place; None where anything but the line and the far side is in its way."""
    labels, out, _ = fields
    spot, normal, behind = place
    far = int(labels[spot[1], spot[0]])
    along, across = _grid(labels.shape, spot)
    u, v = -normal[1] * along + normal[0] * across, normal[0] * along + normal[1] * across
    depth, width = extent
    around = (np.abs(u) <= width / 2 + 4) & (v > -2) & (v < depth + 8)
    line = (np.abs(u) < width / 2) & (v > -behind[0] - 1) & (v < -2)
    straight = (
        np.isin(labels[line], (-1, -2, behind[1])).mean() >= 0.98 and (labels[line] == -1).mean() >= 0.6
    )
    if not straight or not np.isin(labels[around & (out > 1.5)], (far,)).all():
        return None
    if (labels[around & (v > 3)] == -1).any():
        return None  # another line bounds the far side here: the bump would fill a corner whole
    bulge = np.sqrt(np.clip(1 - (2 * u / width) ** 2, 0, 1)) * (
        1 + 0.15 * np.cos(5 * u / width + rng.uniform(0, 6))
    )
    height = depth * bulge / bulge[around].max()
    near = around & (v > -4)
    grown = np.where(near & (height > 0), np.clip(height - np.where(out > 0, out - 0.5, 0) + 0.5, 0, 1), 0.0)
    neck = width / 2 * (1 - 0.25 * np.sin(np.clip((v + 2) / (behind[0] + 2), -1, 0) * np.pi) ** 2)
    on_line = np.where(line | (near & (out == 0)), np.clip(neck - np.abs(u) + 0.5, 0, 1), 0.0)
    if case.style.crisp:
        grown, on_line = np.rint(grown), np.rint(on_line)
    reached = float(out[grown > 0.5].max()) if (grown > 0.5).any() else 0.0
    if not 3.0 <= reached <= 9:
        return None
    return SpillShape(behind[1] - 1, far > 0, reached, behind[0], grown, on_line)


def seen_apart(case: Case, paint: int, far: int) -> bool:
    """Tell whether a paint (index) can be told from a side (label, 0 the ground)."""
    ground = case.style.card if far == 0 else case.colors[far - 1]
    return ground is None or delta_e(case.colors[paint], ground) >= 8


@dataclass(frozen=True, eq=False)
class Stretch:
    """A stretch of an ink line: `weight` 0 to 1 over the line's whole width."""

    color: int
    length: float
    weight: Share


def ink_stretch(case: Case, rng: np.random.Generator, length: float) -> Stretch | None:
    """Find a stretch of line without a fork, about `length` px long, of one ink."""
    ink = case.ink.max(axis=0) >= 128
    bones, half = skeletonize(ink), distance(ink)
    rows, columns = np.nonzero(bones)
    for _ in range(60 if len(rows) else 0):
        index = int(rng.integers(len(rows)))
        start = int(rows[index]), int(columns[index])
        color = int(case.ink[:, start[0], start[1]].argmax())
        path = _walk(bones, start, length / 2)
        reach = max(np.ptp([p[0] for p in path]), np.ptp([p[1] for p in path])) if path else 0
        if not path or len(path) < 0.7 * length or reach < 14:
            continue
        widths = [float(half[row, column]) for row, column in path]
        if max(widths) > 1.4 * float(np.median(widths)) + 1:
            continue  # a fork or a merger of lines: no one would call that a stretch
        if any(case.ink[color, row, column] < 200 for row, column in path):
            continue
        return Stretch(color, float(len(path)), _weight(bones, path, case.style.crisp))
    return None


def _walk(bones: Mask, start: tuple[int, int], reach: float) -> list[tuple[int, int]]:
    """Return the bone pixels within `reach` steps of `start`; none where the line forks there."""
    steps = {start: 0}
    queue = deque([start])
    while queue:
        row, column = queue.popleft()
        near = [
            (r, c)
            for r in range(max(row - 1, 0), min(row + 2, bones.shape[0]))
            for c in range(max(column - 1, 0), min(column + 2, bones.shape[1]))
            if bones[r, c] and (r, c) != (row, column)
        ]
        if len(near) > 3:
            return []
        for spot in near:
            if spot not in steps and steps[row, column] < reach:
                steps[spot] = steps[row, column] + 1
                queue.append(spot)
    ends = sum(1 for count in steps.values() if count >= int(reach))
    return list(steps) if ends <= 4 else []


def _weight(bones: Mask, path: list[tuple[int, int]], crisp: bool) -> Share:
    """Return 1 where a bone pixel of the path is the nearest one; softened at the ends unless crisp."""
    _, nearest = cv2.distanceTransformWithLabels(
        (~bones).astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    weight = np.isin(nearest, [nearest[row, column] for row, column in path]).astype(np.float64)
    return weight if crisp else np.asarray(cv2.blur(weight, (3, 3)))
