"""Faults put into cels that are right, at a known place and size: pure functions of a cel and a generator.

Each returns None where the cel has no place for the fault, rather than a fault that nobody could see.
"""

import json
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

import cv2
import numpy as np
from art import Color, straight
from cases import Case, compose, save
from colors import delta_e, nearest_delta, shifted
from gaps import line_gap
from leaked import Leaked, leaked_line
from numpy.typing import NDArray
from shapes import blob, disk, distance, ink_stretch, inked_share, parts, pick, spill_shape

from cel_check.faults import Box, FaultKind, Point

Picture = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Truth:
    """What was put in.

    Attributes:
        kind: the fault kind that a checker would name.
        variant: which of its forms.
        size: what `unit` says.
        unit: meaning of `size`: `ΔE00`, `px` (radius, depth, diameter or length, by kind) or `px2`.
        box: x, y, width, height of the changed place.
        point: a pixel on it.
        mask: `(height, width)` of the box: the pixels that are wrong.
        area: number of those pixels.
    """

    kind: FaultKind
    variant: str
    size: float
    unit: str
    box: Box
    point: Point
    mask: Mask
    area: int


Injected = tuple[NDArray[np.uint8], Truth]


@dataclass(frozen=True)
class _Label:
    kind: FaultKind
    variant: str
    size: float
    unit: str


def _ground(case: Case) -> NDArray[np.float64]:
    card = case.style.card
    return np.zeros(4) if card is None else np.array([*card, 255.0])


def _solid(color: Color) -> NDArray[np.float64]:
    return np.array([*color, 255.0])


def premultiplied_cel(case: Case) -> Picture:
    """Return the cel as it is before rounding, premultiplied, 0 to 255."""
    picture = compose(case.colors, case.paint, case.ink)
    return picture + (255.0 - np.clip(picture[..., 3:], 0, 255)) * _ground(case) / 255.0


def _finish(case: Case, picture: Picture, changed: Mask, wrong: Mask, label: _Label) -> Injected | None:
    """Round the changed pixels, leave all others as they were, and note where the fault is."""
    rgba = case.rgba.copy()
    rgba[changed] = straight(picture[changed][None])[0]
    wrong = wrong & (rgba != case.rgba).any(axis=2)
    if not wrong.any():
        return None
    x, y, width, height = (int(value) for value in cv2.boundingRect(wrong.astype(np.uint8)))
    mask = wrong[y : y + height, x : x + width].copy()
    inside = distance(np.pad(mask, 1))[1:-1, 1:-1]
    deep_y, deep_x = np.unravel_index(int(inside.argmax()), inside.shape)
    point = (x + int(deep_x), y + int(deep_y))
    box = (x, y, width, height)
    return rgba, Truth(label.kind, label.variant, label.size, label.unit, box, point, mask, int(mask.sum()))


def _cover(case: Case, share: NDArray[np.float64], color: NDArray[np.float64]) -> tuple[Picture, Mask]:
    """Lay `color` (premultiplied) over the cel with `share` 0 to 1."""
    weight = share[..., None]
    return premultiplied_cel(case) * (1 - weight) + weight * color, share > 0


def off_model(case: Case, rng: np.random.Generator) -> Injected | None:
    """Repaint one whole fill, its blended rim included, at ΔE00 3, 5 or 10 from its color."""
    target = float(rng.choice([3.0, 5.0, 10.0]))
    found = pick(rng, [part for part in parts(case) if part.area >= 150 and part.depth >= 3])
    if found is None:
        return None
    color = case.colors[found.color]
    others = tuple(other for other in case.colors if other != color)
    wrong = shifted(color, target, others, rng)
    if wrong is None:
        return None
    share = found.share(case)[..., None] / 255.0
    picture = premultiplied_cel(case) + share * (_solid(wrong) - _solid(color))
    label = _Label(FaultKind.OFF_MODEL, f"ΔE {target:g}", target, "ΔE00")
    return _finish(case, picture, share[..., 0] > 0, found.mask, label)


def pinhole(case: Case, rng: np.random.Generator, size: float = 0.0) -> Injected | None:
    """Leave a round spot of radius 2, 3, 4 or 6 px, or `size` px wide, inside a fill without paint."""
    radius = size / 2 or float(rng.choice([2, 3, 4, 6]))
    spot = _spot_in_fill(case, rng, radius + 4)
    if spot is None:
        return None
    share = disk(case.rgba.shape[:2], spot, radius, case.style.crisp)
    picture, changed = _cover(case, share, _ground(case))
    return _finish(case, picture, changed, share >= 0.5, _Label(FaultKind.UNPAINTED, "pinhole", radius, "px"))


def clear_part(case: Case, rng: np.random.Generator) -> Injected | None:
    """Leave a whole part that ink shuts in without paint."""
    art = int(np.count_nonzero(case.paint.max(axis=0) > 127))
    fit = [part for part in parts(case) if part.area >= 60 and part.depth >= 3 and part.area < 0.4 * art]
    fit = [part for part in fit if _differs(case, part.color) and inked_share(case, part) >= 0.97]
    found = pick(rng, fit)
    if found is None:
        return None
    share = found.share(case)[..., None] / 255.0
    picture = premultiplied_cel(case) + share * (_ground(case) - _solid(case.colors[found.color]))
    label = _Label(FaultKind.UNPAINTED, "whole part", float(found.area), "px2")
    return _finish(case, picture, share[..., 0] > 0, found.mask, label)


def _differs(case: Case, color: int) -> bool:
    card = case.style.card
    return card is None or delta_e(card, case.colors[color]) >= 10


def _spot_in_fill(case: Case, rng: np.random.Generator, room: float) -> Point | None:
    """Return a pixel that has `room` px of one fill around it, of a color unlike the card."""
    fit = [part for part in parts(case) if part.depth > room and _differs(case, part.color)]
    found = pick(rng, fit)
    if found is None:
        return None
    rows, columns = np.nonzero(distance(found.mask) > room)
    index = int(rng.integers(len(rows)))
    return int(columns[index]), int(rows[index])


def spill(case: Case, rng: np.random.Generator, size: float = 0.0) -> Injected | None:
    """Let paint run 3 to 8 px, or `size`, past the far edge of its ink line, under the line or over it."""
    depth, over = size or float(rng.uniform(3, 8)), bool(rng.random() < 0.5)
    width = float(depth * rng.uniform(1, 3))
    thickest = 1.5 * width if over else 60.0  # across a thicker line it would be a streak, not a spill
    shape = spill_shape(case, rng, (depth, width), thickest)
    if shape is None and over:
        over, shape = False, spill_shape(case, rng, (depth, width), 60.0)
    if shape is None:
        return None
    share = shape.far if not over else np.maximum(shape.far, shape.line)
    paint, picture = _solid(case.colors[shape.color]), premultiplied_cel(case)
    weight = share[..., None]
    if over:
        picture = picture * (1 - weight) + weight * paint
    else:
        ink = compose(case.colors, np.zeros_like(case.ink), case.ink)
        bare = 1 - np.clip(ink[..., 3:], 0, 255) / 255.0
        picture = ink + (picture - ink) * (1 - weight) + weight * bare * paint
    where = "onto paint" if shape.onto_paint else "onto clear"
    label = _Label(FaultKind.SPILL, f"{'over' if over else 'under'} ink, {where}", shape.depth, "px")
    seen = share > 0.5 if over else (share > 0.5) & (case.ink.max(axis=0) < 128)
    return _finish(case, picture, share > 0, seen, label)


def _dirt(case: Case, rng: np.random.Generator, ground: tuple[Color, ...]) -> Color | None:
    for _ in range(50):
        gray = rng.integers(40, 190)
        color = int(min(gray + rng.integers(0, 30), 255)), int(gray + rng.integers(0, 12)), int(gray)
        if nearest_delta(color, case.colors) >= 4 and nearest_delta(color, ground) >= 10:
            return color
    return None


def stray(case: Case, rng: np.random.Generator, size: float = 0.0) -> Injected | None:
    """Put a blob of 3 to 15 px, or `size`, of ink, paint or dirt on the clear cel, near the art or not."""
    size, near = size or float(rng.uniform(3, 15)), bool(rng.random() < 0.4)
    card = () if case.style.card is None else (case.style.card,)
    what = str(rng.choice(["ink", "paint", "dirt"]))
    layer = case.ink if what == "ink" else case.paint
    used = [case.colors[i] for i in range(len(layer)) if layer[i].any()]
    fit = [color for color in used if nearest_delta(color, card) >= 10]
    color = _dirt(case, rng, card) if what == "dirt" else pick(rng, fit)
    gap = distance((case.paint.max(axis=0) == 0) & (case.ink.max(axis=0) == 0)) - size * 0.75
    room = (gap >= 4) & (gap < 9) if near else gap >= 10
    edge = int(size) + 2
    room[:edge], room[-edge:], room[:, :edge], room[:, -edge:] = False, False, False, False
    rows, columns = np.nonzero(room)
    if color is None or not len(rows):
        return None
    index = int(rng.integers(len(rows)))
    share = blob(case.rgba.shape[:2], (int(columns[index]), int(rows[index])), size, case.style.crisp, rng)
    picture, changed = _cover(case, share, _solid(color))
    label = _Label(FaultKind.STRAY, f"{what}, {'near' if near else 'away'}", size, "px")
    return _finish(case, picture, changed, share >= 0.5, label)


def dirt(case: Case, rng: np.random.Generator, size: float = 0.0) -> Injected | None:
    """Put a speck of 3 to 15 px, or `size`, of dirt inside a fill."""
    size = size or float(rng.uniform(3, 15))
    spot = _spot_in_fill(case, rng, size * 0.75 + 4)
    if spot is None:
        return None
    under = case.rgba[spot[1], spot[0], :3]
    color = _dirt(case, rng, ((int(under[0]), int(under[1]), int(under[2])),))
    if color is None:
        return None
    share = blob(case.rgba.shape[:2], spot, size, case.style.crisp, rng)
    picture, changed = _cover(case, share, _solid(color))
    return _finish(case, picture, changed, share >= 0.5, _Label(FaultKind.STRAY, "dirt in fill", size, "px"))


def ink_color(case: Case, rng: np.random.Generator) -> Injected | None:
    """Redraw 20 to 150 px of an ink line, whole width, in a color off the model at ΔE00 5, 10 or 20."""
    target, length = float(rng.choice([5.0, 10.0, 20.0])), float(rng.uniform(20, 150))
    stretch = ink_stretch(case, rng, length)
    if stretch is None:
        return None
    color = case.colors[stretch.color]
    wrong = shifted(
        color, target, tuple(other for other in case.colors if other != color), rng, clearance=5.0
    )
    if wrong is None:
        return None
    share = stretch.weight * case.ink[stretch.color] / 255.0
    picture = premultiplied_cel(case) + share[..., None] * (_solid(wrong) - _solid(color))
    label = _Label(FaultKind.INK_COLOR, f"ΔE {target:g}", stretch.length, "px")
    return _finish(case, picture, share > 0, share >= 0.5, label)


def open_line(case: Case, rng: np.random.Generator, size: float = 0.0) -> Injected | None:
    """Take 2 to 12 px, `size` px or 0.5 to 3 of its widths out of a line; its two sides meet in the gap."""
    gap = line_gap(case, rng, size)
    if gap is None:
        return None
    first, second = (_ground(case) if side == 0 else _solid(case.colors[side - 1]) for side in gap.sides)
    share, part = gap.share[..., None], gap.first[..., None]
    picture = premultiplied_cel(case) * (1 - share) + share * (part * first + (1 - part) * second)
    inked = case.ink.sum(axis=0, dtype=np.int32)
    sides = "paint and clear" if 0 in gap.sides else "two paints"
    label = _Label(FaultKind.OPEN_LINE, sides, gap.length, "px")
    return _finish(case, picture, gap.share > 0, (gap.share >= 0.5) & (inked >= 128), label)


def leaked(case: Case, rng: np.random.Generator) -> Injected | None:
    """Take a stretch out of a line between two parts, through which the paint of one ran into the other."""
    return _alike(case, leaked_line(case, rng, onto_clear=False))


def left_clear(case: Case, rng: np.random.Generator) -> Injected | None:
    """Take a stretch out of a part's outline, and leave the part without paint."""
    return _alike(case, leaked_line(case, rng, onto_clear=True))


def _alike(case: Case, found: Leaked | None) -> Injected | None:
    """Paint both sides of a gap alike."""
    if found is None:
        return None
    paint = _ground(case) if found.paint is None else _solid(case.colors[found.paint])
    into = found.into.share(case)[..., None] / 255.0
    picture = premultiplied_cel(case) + into * (paint - _solid(case.colors[found.into.color]))
    share = found.gap.share[..., None]
    picture = picture * (1 - share) + share * paint
    inked = case.ink.sum(axis=0, dtype=np.int32)
    before = "were alike" if found.paint == found.into.color else "ran over"
    label = _Label(
        FaultKind.OPEN_LINE, before if found.paint is not None else "left clear", found.gap.length, "px"
    )
    changed = (found.gap.share > 0) | (into[..., 0] > 0)
    return _finish(case, picture, changed, (found.gap.share >= 0.5) & (inked >= 128), label)


KINDS: dict[str, Callable[[Case, np.random.Generator], Injected | None]] = {
    "off-model": off_model,
    "pinhole": pinhole,
    "clear-part": clear_part,
    "spill": spill,
    "stray": stray,
    "dirt": dirt,
    "ink-color": ink_color,
    "open-line": open_line,
    "leaked": leaked,
    "left-clear": left_clear,
}
"""Every injection by the name that `--kinds` takes."""


def remembered(path: Path, make: Callable[[], Injected | None]) -> Injected | None:
    """Return what was put in, from a file; made and written there first where it is not."""
    if not path.exists():
        result = make()
        if result is None:
            save(path, facts=np.array("null"))
            return None
        facts = asdict(result[1])
        mask = facts.pop("mask")
        save(path, facts=np.array(json.dumps(facts)), rgba=result[0], mask=mask)
        return result
    with np.load(path) as data:
        facts = json.loads(str(data["facts"]))
        if facts is None:
            return None
        facts.update(kind=FaultKind(facts["kind"]), box=tuple(facts["box"]), point=tuple(facts["point"]))
        return data["rgba"], Truth(**facts, mask=data["mask"])
