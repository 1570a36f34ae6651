"""Faults planted in finished cels, pixel by pixel, each with its truth."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from drawing_kit.cel import HEIGHT, WIDTH, Pixels, rgb

Mask = NDArray[np.float64]
Point = tuple[float, float]
FINE = 8  # sub-pixels a side for soft edges


@dataclass(frozen=True)
class Planted:
    """What was done: the pixels after, the box and the area of all that changed, and a sentence."""

    kind: str
    pixels: Pixels
    box: tuple[int, int, int, int] | None
    area: int | None
    what: str


def changed(kind: str, before: Pixels, after: Pixels, what: str) -> Planted:
    """The record of a fault, its box and area measured from the two pictures."""
    differs = (before != after).any(axis=2)
    ys, xs = np.nonzero(differs)
    box = (int(xs.min()), int(ys.min()), int(np.ptp(xs)) + 1, int(np.ptp(ys)) + 1)
    return Planted(kind, after, box, int(differs.sum()), what)


def ellipse(center: Point, rx: float, ry: float, hard: bool = False) -> Mask:
    """How much of each pixel an ellipse covers, 0 to 1."""
    x0, y0 = int(center[0] - rx) - 2, int(center[1] - ry) - 2
    w, h = int(2 * rx) + 5, int(2 * ry) + 5
    grid = (np.arange(FINE) + 0.5) / FINE
    x = (np.arange(w)[:, None] + grid).ravel() + x0 - center[0]
    y = (np.arange(h)[:, None] + grid).ravel() + y0 - center[1]
    within = ((x[None, :] / rx) ** 2 + (y[:, None] / ry) ** 2 <= 1.0).astype(float)
    share = within.reshape(h, FINE, w, FINE).mean(axis=(1, 3))
    out = np.zeros((HEIGHT, WIDTH))
    out[y0 : y0 + h, x0 : x0 + w] = np.round(share) if hard else share
    return out


def lay(pixels: Pixels, mask: Mask, color: str) -> Pixels:
    """Paint laid over a cel (straight alpha, source over)."""
    below = pixels[..., 3] / 255.0
    alpha = mask + below * (1 - mask)
    mixed = (
        mask[..., None] * np.array(rgb(color)) + (below * (1 - mask))[..., None] * pixels[..., :3]
    ) / np.maximum(alpha, 1e-9)[..., None]
    out = pixels.copy()
    on = mask > 0
    out[on, :3] = np.round(mixed[on]).astype(np.uint8)
    out[on, 3] = np.round(alpha[on] * 255).astype(np.uint8)
    return out


def part_at(pixels: Pixels, point: Point, color: str) -> NDArray[np.bool_]:
    """The connected pixels of exactly `color` that hold `point`."""
    same = ((pixels[..., :3] == rgb(color)).all(axis=2) & (pixels[..., 3] == 255)).astype(np.uint8)
    labels = cv2.connectedComponents(same, connectivity=4)[1]
    number = labels[int(point[1]), int(point[0])]
    if number == 0:
        raise ValueError(f"{point} does not lie on {color}")
    return np.asarray(labels == number)


def clear_part(pixels: Pixels, point: Point, paint: str, ink: str) -> Pixels:
    """Take the paint out of a part; its blended rim keeps what is ink in it."""
    part = part_at(pixels, point, paint)
    rim = cv2.dilate(part.astype(np.uint8), np.ones((3, 3), np.uint8), iterations=2).astype(bool) & ~part
    out = pixels.copy()
    out[part] = 0
    axis = np.array(rgb(ink), dtype=float) - rgb(paint)
    share = ((pixels[rim][:, :3].astype(float) - rgb(paint)) @ axis) / (axis @ axis)
    alpha = np.round(np.clip(share, 0, 1) * 255)
    out[rim, :3] = np.where(alpha[:, None] > 0, rgb(ink), 0)
    out[rim, 3] = alpha
    return out


def pinhole(pixels: Pixels, center: Point, radius: float) -> Pixels:
    """A round spot without paint."""
    out = pixels.copy()
    out[..., 3] = np.round(out[..., 3] * (1 - ellipse(center, radius, radius))).astype(np.uint8)
    out[out[..., 3] == 0] = 0
    return out


def recolor(pixels: Pixels, where: NDArray[np.bool_], old: str, new: str) -> Pixels:
    """Pixels of exactly `old` become `new`."""
    out = pixels.copy()
    hit = where & (out[..., :3] == rgb(old)).all(axis=2)
    out[hit, :3] = rgb(new)
    return out


def repaint(pixels: Pixels, part: NDArray[np.bool_], paints: tuple[str, str], ink: str) -> Pixels:
    """A part gets another paint; its rim becomes the same blend of the new paint and ink as of the old."""
    rim = part.copy()
    for axis in (0, 1):
        for step in (-1, 1):
            rim |= np.roll(part, step, axis=axis)
    old, new, line = (np.array(rgb(color), float) for color in (*paints, ink))
    axis_of_blends = line - old
    share = np.clip((pixels[rim][:, :3] - old) @ axis_of_blends / (axis_of_blends @ axis_of_blends), 0, 1)
    out = pixels.copy()
    out[rim, :3] = np.round(pixels[rim][:, :3] + (1 - share)[:, None] * (new - old)).clip(0, 255)
    return out


def left_edge(pixels: Pixels, row: int, between: tuple[int, int]) -> int:
    """The first pixel that is not clear on a row, between two columns."""
    columns = np.flatnonzero(pixels[row, between[0] : between[1], 3] > 127)
    return int(columns[0]) + between[0]


def open_gap(pixels: Pixels, rows: tuple[int, int], between: tuple[int, int], paint: str) -> Pixels:
    """Take an upright line away on some rows: clear cel up to its middle, the paint behind it from there."""
    out = pixels.copy()
    inside = (pixels[..., :3] == rgb(paint)).all(axis=2) & (pixels[..., 3] == 255)
    for row in range(*rows):
        columns = np.arange(*between)
        first = int(columns[pixels[row, between[0] : between[1], 3] > 0][0])
        last = int(columns[(columns > first) & inside[row, between[0] : between[1]]][0])
        middle = (first + last) // 2
        out[row, first:middle] = 0
        out[row, middle:last] = (*rgb(paint), 255)
    return out
