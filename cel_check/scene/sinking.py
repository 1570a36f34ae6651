"""Figures that sink into the background: along most of their outline neither line nor paint parts from it.

The outline is looked at on the small frame, each drawing once, against the background alone. Of the three
pixels from the rim inward, which hold the line and the paint behind it, the one that parts best counts.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.contrast import contrast_ratio
from cel_check.color.difference import ciede2000
from cel_check.color.flash import wcag_luminance
from cel_check.color.spaces import srgb8_to_lab
from cel_check.scene.composite import Compositor
from cel_check.scene.cuts import corner
from cel_check.scene.frames import Exposures, Key
from cel_check.scene.names import frames_of, listed, number_order, shown
from cel_check.scene.stacking import Mask, Stacking

ALIKE = 1.15
"""Luminance contrast (WCAG 2.2) below which two colors are of one lightness (a house choice)."""

NEAR = 6.0
"""ΔE00 below which two colors side by side are hard to tell apart in motion (a house choice)."""

SUNK = 0.6
"""Share of a figure's outline that must be so (a house choice)."""

LEAST_OUTLINE, LEAST_AREA = 60, 0.01
"""Pixels of the outline, and share of the frame, of a figure that is looked at: a mouth is no figure."""

CARRIED = 0.5
"""Share of a drawing on other art from which the background is not what it stands out from."""

DEPTH, GAP = 3, 2
"""Pixels from the rim inward that are looked at, and outward past the blended ones."""

_CROSS = cv2.getStructuringElement(cv2.MORPH_CROSS, (3, 3))
Bytes = NDArray[np.uint8]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Sunk:
    """A drawing that sinks, and the share of its outline that does."""

    key: Key
    share: float


def sinking(exposures: Exposures, camera: Compositor, stack: Stacking) -> tuple[str, ...]:
    """Return a sentence for each level with drawings that sink into the background, with the frames named.

    Args:
        exposures: the scene's frames.
        camera: lays them; without a background there is nothing to sink into.
        stack: tells how their cels lie.
    """
    if not camera.has_background:
        return ()
    shot = camera.shoot(())
    if shot.left_out:
        return ()
    own: dict[str, list[Sunk]] = defaultdict(list)
    for key, frames in exposures.shown_on.items():
        mask = stack.mask(key)
        share = 0.0 if mask is None else _share(key, mask, shot.rgb, camera)
        if share >= SUNK and not _is_carried(key, frames, exposures, stack):
            own[key[0]].append(Sunk(key, share))
    return tuple(_sentence(level, own[level], exposures.shown_on) for level in exposures.levels if own[level])


def _is_carried(key: Key, frames: Sequence[int], exposures: Exposures, stack: Stacking) -> bool:
    """Return whether a drawing lies on other art on its first frame, or nobody knows."""
    first = next(one for one in exposures.frames if one.frame == frames[0])
    lie = next((one for one in stack.lies(first.cels) if one.key == key), None)
    return lie is None or lie.carried >= CARRIED


def _share(key: Key, mask: Mask, behind: Bytes, camera: Compositor) -> float:
    """Return the share of a drawing's outline that parts from the background by neither line nor paint.

    Nearly all drawings part, and of these no more is looked at than tells so: the share is 0 below `SUNK`.
    """
    if np.count_nonzero(mask) / mask.size < LEAST_AREA:
        return 0.0
    rows, columns, steps = _outline(mask)
    if len(rows) < LEAST_OUTLINE:
        return 0.0
    art = _on_frame(key, behind, camera)
    outer = behind[rows - GAP * steps[0], columns - GAP * steps[1]]
    inner = [art[rows + depth * steps[0], columns + depth * steps[1]] for depth in range(DEPTH)]
    parts = np.zeros(len(rows), np.bool_)
    for part in (_part_in_lightness, _part_as_colors):  # as colors costs ten times as much
        for own in inner:
            parts[~parts] = part(own[~parts], outer[~parts])
            if 1.0 - parts.mean() < SUNK:
                return 0.0
    return float(1.0 - parts.mean())


def _outline(mask: Mask) -> tuple[Ints, Ints, tuple[Ints, Ints]]:
    """Return rows and columns of the rim, and the step inward from each: where the mask thickens."""
    inside = cv2.erode(mask.astype(np.uint8), _CROSS, borderValue=1)
    smooth = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), 2.0)
    rows, columns = np.divmod(np.flatnonzero(mask & (inside == 0)), mask.shape[1])
    down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1)[rows, columns]
    across = cv2.Sobel(smooth, cv2.CV_32F, 1, 0)[rows, columns]
    length = np.maximum(np.hypot(down, across), 1e-9)
    step_y, step_x = np.rint(down / length).astype(np.int64), np.rint(across / length).astype(np.int64)
    height, width = mask.shape
    reach = max(DEPTH, GAP)
    kept = (rows >= reach) & (rows < height - reach) & (columns >= reach) & (columns < width - reach)
    return rows[kept], columns[kept], (step_y[kept], step_x[kept])


def _on_frame(key: Key, behind: Bytes, camera: Compositor) -> Bytes:
    """Return the frame with that drawing's own colors where it lies, whatever their alpha."""
    frame = behind.copy()
    layer = camera.layer(key)
    if layer is None:
        return frame
    left, top = corner(layer, camera.size)
    height, width = layer.art.shape[:2]
    x, y = max(left, 0), max(top, 0)
    right, bottom = min(left + width, frame.shape[1]), min(top + height, frame.shape[0])
    art = layer.art[y - top : bottom - top, x - left : right - left]
    cv2.copyTo(cv2.cvtColor(art, cv2.COLOR_RGBA2RGB), cv2.extractChannel(art, 3), frame[y:bottom, x:right])
    return frame


def _part_in_lightness(inner: Bytes, outer: Bytes) -> Mask:
    return np.asarray(contrast_ratio(wcag_luminance(inner), wcag_luminance(outer)) >= ALIKE)


def _part_as_colors(inner: Bytes, outer: Bytes) -> Mask:
    return np.asarray(ciede2000(srgb8_to_lab(inner), srgb8_to_lab(outer)) >= NEAR)


def _sentence(level: str, sunk: Sequence[Sunk], shown_on: Mapping[Key, tuple[int, ...]]) -> str:
    frames = tuple(sorted({frame for one in sunk for frame in shown_on[one.key]}))
    drawings = tuple(sorted((one.key[1] for one in sunk), key=number_order))
    many = "s" if len(drawings) > 1 else ""
    share = round(100 * max(one.share for one in sunk))
    return (
        f"Level {shown(level)} sinks into the background on {frames_of(frames)} (drawing{many} "
        f"{listed(drawings)}): along {share} % of its outline neither line nor paint parts from it."
    )
