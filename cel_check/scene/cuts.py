"""Which straight cuts of `checks.cut_short` the camera sees: inside the field, and covered by no other cel.

A head is drawn on a level of its own and ends straight where the collar hides it, or where the neck below
goes on in the same paint. Such a cut nobody sees, so it is no fault.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cel_check.faults import Fault, FaultKind
from cel_check.scene.camera import Field, Rect, seen_rect
from cel_check.scene.composite import Compositor, Layer
from cel_check.scene.frames import Exposure, Exposures
from cel_check.scene.results import CelResult
from cel_check.scene.scene import Scene

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]

SAMPLES = 33
"""Places along a cut that are looked at."""

LEAST_SEEN = 0.5
"""Share of a cut that must be seen: of a neck or a wrist next to nothing is, of an arm cut off nearly all."""

STEP = 1.5
"""Pixels of the small frame to either side of a cut: past the pixel that the cut itself blends."""

SOLID = 128
"""Alpha from which a cel hides what is below."""


@dataclass(frozen=True, eq=False)
class _Cut:
    """A cut on the small frame: `(n, 2)` x, y just inside the art and just past it."""

    inside: Points
    past: Points


def with_seen_cuts(
    scene: Scene, cels: Sequence[CelResult], exposures: Exposures, camera: Compositor
) -> tuple[CelResult, ...]:
    """Return the cels without those cuts that no frame surely shows.

    Args:
        scene: as loaded. Without a sheet nobody knows what lies around a cel, and a scan ends where its sheet
            does: of these no cut is kept.
        cels: its cels as checked.
        exposures: its frames.
        camera: lays them.
    """
    frames = {exposure.frame: exposure for exposure in exposures.frames}
    known = scene.sheet is not None and not scene.loose and scene.source != "scan"
    rects = seen_rects(scene, camera.size)
    done = []
    for cel in cels:
        shown = exposures.shown_on.get((cel.level, cel.drawing), ()) if known else ()
        faults = tuple(
            fault
            for fault in cel.faults
            if fault.kind is not FaultKind.SHORT_OF_FIELD
            or any(_is_seen(cel, fault, frames[frame], rects.get(frame), camera) for frame in shown)
        )
        done.append(cel if len(faults) == len(cel.faults) else replace(cel, faults=faults))
    return tuple(done)


def seen_rects(scene: Scene, size: tuple[int, int]) -> Mapping[int, Rect]:
    """Return what the camera sees of a frame of that size, by frame; only where the sheet says."""
    if scene.sheet is None:
        return {}
    fields: Sequence[Field | None] = scene.sheet.fields
    return {
        row.frame: seen_rect(field, size, scene.field)
        for row, field in zip(scene.sheet.rows, fields, strict=bool(fields))
        if field is not None
    }


def _is_seen(cel: CelResult, fault: Fault, exposure: Exposure, rect: Rect | None, camera: Compositor) -> bool:
    own = (cel.level, cel.drawing)
    layers = {key: camera.layer(key) for key in exposure.cels}
    layer = layers.get(own)
    cut = _cut(fault, layer, camera) if layer else None
    if cut is None or any(one is None for one in layers.values()):
        return False
    seen = _within(cut, rect or (0.0, 0.0, float(camera.size[0]), float(camera.size[1])))
    above = False
    for key in exposure.cels:
        other = layers[key]
        if key == own or other is None:
            above = above or key == own
            continue
        seen &= ~_covers(other, cut.past, camera.size)
        if above:
            seen &= ~_covers(other, cut.inside, camera.size)
    return float(seen.mean()) >= LEAST_SEEN


def _cut(fault: Fault, layer: Layer, camera: Compositor) -> _Cut | None:
    """Return a cut's places on the frame: it lies on that side of the fault's box on which its point does."""
    if fault.box is None or fault.point is None:
        return None
    x, y, wide, high = fault.box
    across, down = fault.point
    near = (across - x, down - y, x + wide - 1 - across, y + high - 1 - down)
    side = near.index(min(near))
    along = np.linspace(0.1, 0.9, SAMPLES)
    middle = np.full(SAMPLES, 0.5)
    shares = np.stack([middle, along] if side % 2 == 0 else [along, middle], axis=1)
    places = np.array([x, y]) + shares * (wide, high)
    places[:, side % 2] = (x, y, x + wide, y + high)[side]
    places *= camera.scale
    places += ((camera.size[0] - layer.width) / 2, (camera.size[1] - layer.height) / 2)
    step = np.zeros(2)
    step[side % 2] = -STEP if side < 2 else STEP
    return _Cut(places - step, places + step)


def corner(layer: Layer, size: tuple[int, int]) -> tuple[int, int]:
    """Return x and y of a layer's art on a frame of that size; they may lie outside."""
    return layer.left + (size[0] - layer.width) // 2, layer.top + (size[1] - layer.height) // 2


def _within(cut: _Cut, rect: Rect) -> Mask:
    """Return which places the camera sees on both sides of the cut."""
    both = np.stack([cut.inside, cut.past])
    inside = (both >= rect[:2]) & (both < rect[2:])
    return np.asarray(inside.all(axis=(0, 2)))


def _covers(layer: Layer, places: Points, size: tuple[int, int]) -> Mask:
    left, top = corner(layer, size)
    columns = np.floor(places[:, 0]).astype(np.int64) - left
    rows = np.floor(places[:, 1]).astype(np.int64) - top
    height, width = layer.art.shape[:2]
    there = (columns >= 0) & (columns < width) & (rows >= 0) & (rows < height)
    covered = np.zeros(len(places), np.bool_)
    covered[there] = layer.art[rows[there], columns[there], 3] >= SOLID
    return covered
