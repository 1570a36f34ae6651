"""Flashes that may harm viewers with photosensitive epilepsy: which changes count, and how many are too many.

This finds likely trouble early and is no certificate: local rules and the broadcaster's approved test decide.

A change of a pixel counts when, since its last counted change, it went the other way by enough: 20 cd/m2
with the darker image below 160 cd/m2 (Recommendation ITU-R BT.1702-3 (11/2023), guideline 1, at the peak
white of 200 cd/m2 of its note 3, displayed by the gamma of 2.4 of ITU-R BT.1886 with a black of zero), or a
tenth of the largest relative luminance with the darker image below 0.80 (W3C, WCAG 2.2, "general flash and
red flash thresholds"), or to or from saturated red (the same definition). Two opposing changes are a flash.
Too many are more than three flashes, that is a seventh change, within less than a second, on the same pixels,
on more than a quarter of the picture.

BT.1702 alone accepts flashes whose leading edges lie 360 ms or more apart, so a burst and a late single one
break WCAG only. The texts of BT.1702-3 were read as quoted by two public notes, not in the original. WCAG
measures its quarter in any ten degrees of the visual field, which at a desk is less than a screen: here it is
a quarter of the picture, as in BT.1702. Regular patterns: `patterns`.
"""

from collections import deque
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from cel_check.color.contrast import relative_luminance
from cel_check.color.spaces import linear_of_code, linear_to_xyz_d65

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]
Places = NDArray[np.intp]

PEAK = 200.0
"""cd/m2 of white (BT.1702-3, note 3)."""
GAMMA = 2.4
"""ITU-R BT.1886, with a black of 0 cd/m2."""
CHANGE, DARKER = 20.0, 160.0
"""cd/m2 of BT.1702; a tenth and 0.80 of the peak, which are the numbers of WCAG."""
SATURATED, RED_CHANGE = 0.8, 0.2
"""WCAG 2.2: R / (R + G + B) of linear light, and the distance of u', v' (CIE 1976)."""
CHANGES = 7
"""A seventh change within a second is more than three flashes."""
AREA = 0.25
"""Share of the picture that may flash."""
APART = 0.36
"""Seconds between leading edges from which BT.1702 takes flashes one by one."""

_WHITE_UV = (0.19784, 0.46834)
"""u', v' of the D65 white, taken for black, which has no color of its own."""
_EXACT = 1e-9


class Rule(StrEnum):
    """What a sequence breaks."""

    BT1702 = "general flash, ITU-R BT.1702"
    WCAG = "general flash, WCAG 2.2"
    RED = "red flash, WCAG 2.2 and ITU-R BT.1702"


@dataclass(frozen=True)
class Trouble:
    """A stretch of frames that breaks a rule.

    Attributes:
        rule: which.
        first: the frame by which more than the allowed area had the first change that counts.
        last: the frame until which as much had its last one.
        area: largest share of the picture that flashes too often at once.
    """

    rule: Rule
    first: int
    last: int
    area: float


def display_luminance(srgb8: NDArray[np.uint8]) -> Floats:
    """Return the cd/m2 of 8-bit R'G'B' codes `(..., 3)` on a BT.1886 display with white at 200 cd/m2."""
    return PEAK * relative_luminance(_looked_up(_of_display(), srgb8))


def wcag_luminance(srgb8: NDArray[np.uint8]) -> Floats:
    """Return the relative luminance, 0 to 1, of 8-bit sRGB `(..., 3)` as WCAG defines it."""
    return relative_luminance(_looked_up(linear_of_code(8), srgb8))


@cache
def _of_display() -> Floats:
    """Return the share of its most light that each 8-bit code makes on a BT.1886 display."""
    return (np.arange(256) / 255.0) ** GAMMA


def _looked_up(table: Floats, codes: NDArray[np.uint8]) -> Floats:
    """Return `table[codes]`: OpenCV takes a seventh of numpy's time for it."""
    if not codes.size:
        return np.zeros(codes.shape)  # OpenCV takes no picture without pixels
    row = np.ascontiguousarray(codes).reshape(1, -1)
    return np.asarray(cv2.LUT(row, table), np.float64).reshape(codes.shape)


def counts_as_change(one: ArrayLike, other: ArrayLike, peak: float) -> Mask:
    """Return whether two luminances lie far enough apart, with the darker one dark enough.

    Args:
        one: luminances of one state, any shape.
        other: of the other, in the same unit.
        peak: the luminance of white in that unit.
    """
    first, second = np.asarray(one, np.float64), np.asarray(other, np.float64)
    far = np.abs(first - second) >= peak * (CHANGE / PEAK) - _EXACT
    return np.asarray(far & (np.minimum(first, second) < peak * (DARKER / PEAK)))


def red_state(srgb8: NDArray[np.uint8]) -> Floats:
    """Return `(..., 3)`: R / (R + G + B) of linear light, and CIE 1976 u', v', of 8-bit sRGB `(..., 3)`."""
    linear = _looked_up(linear_of_code(8), srgb8)
    xyz = linear_to_xyz_d65(linear)
    total, weight = linear.sum(axis=-1), xyz @ np.array([1.0, 15.0, 3.0])
    lit = total > 0
    share = np.divide(linear[..., 0], total, out=np.zeros_like(total), where=lit)
    u = np.divide(4.0 * xyz[..., 0], weight, out=np.full_like(total, _WHITE_UV[0]), where=lit)
    v = np.divide(9.0 * xyz[..., 1], weight, out=np.full_like(total, _WHITE_UV[1]), where=lit)
    return np.stack([share, u, v], axis=-1)


def counts_as_red(one: Floats, other: Floats) -> Mask:
    """Return whether two states of `red_state`, `(..., 3)`, are a change to or from saturated red."""
    far = np.hypot(one[..., 1] - other[..., 1], one[..., 2] - other[..., 2]) > RED_CHANGE
    return np.asarray(far & (np.maximum(one[..., 0], other[..., 0]) >= SATURATED - _EXACT))


class _Swing:
    """Finds, pixel by pixel, changes of luminance against the direction of the last one that counted."""

    def __init__(self, peak: float, now: Floats) -> None:
        self._peak = peak
        self._low, self._high = now.copy(), now.copy()
        self._way = np.zeros(now.shape, np.int8)

    def changed(self, some: Places, now: Floats) -> Mask:
        """Return which of some pixels have changed so that it counts; `now` is the luminance of these."""
        low, high, way = np.minimum(self._low[some], now), np.maximum(self._high[some], now), self._way[some]
        up = (way <= 0) & (now > low) & counts_as_change(low, now, self._peak)
        down = (way >= 0) & (now < high) & counts_as_change(high, now, self._peak) & ~up
        moved = up | down
        self._way[some] = np.where(up, 1, np.where(down, -1, way))
        self._low[some], self._high[some] = np.where(moved, now, low), np.where(moved, now, high)
        return moved


class _Reds:
    """Finds, pixel by pixel, changes to or from saturated red since the last one that counted."""

    def __init__(self, now: Floats) -> None:
        self._held = now.copy()

    def changed(self, some: Places, now: Floats) -> Mask:
        """Return which of some pixels have changed so that it counts; `now` is the state of these."""
        moved = counts_as_red(self._held[some], now)
        self._held[some[moved]] = now[moved]
        return moved


class _Count:
    """The frames of each pixel's last seven changes, and what of the picture had them within a second."""

    def __init__(self, rule: Rule, fps: float, pixels: int) -> None:
        self.rule, self._fps = rule, fps
        self._frames = np.full((CHANGES, pixels), -np.inf)

    def add(self, moved: Places, frame: int) -> Trouble | None:
        """Note which pixels have changed on a frame."""
        if not len(moved):
            return None
        self._frames[:-1, moved] = self._frames[1:, moved]
        self._frames[-1, moved] = frame
        if np.isfinite(self._frames[0]).mean() <= AREA:
            return None  # too few pixels have changed seven times yet
        often = self._often(frame)
        area = float(often.mean())
        if area <= AREA:
            return None
        # Of what flashes, some pixels changed before and after for reasons of their own: the stretch is where
        # more than the allowed area takes part.
        enough = int(AREA * often.size)
        first = np.sort(self._frames[0][often])[enough]
        last = np.sort(self._frames[-1][often])[-1 - enough]
        return Trouble(self.rule, int(first), int(last), area)

    def _often(self, frame: int) -> Mask:
        """Return the pixels whose last seven changes took less than a second and that still flash."""
        old, last = self._frames[0], self._frames[-1]
        known = np.isfinite(old) & (frame - last < APART * self._fps)
        often = known.copy()
        often[known] = last[known] - old[known] < self._fps - _EXACT
        if self.rule is Rule.BT1702 and often.any():
            edges = np.diff(self._frames[::2][:, often], axis=0)  # of the first, third, fifth, seventh change
            often[often] = edges.max(axis=0) < APART * self._fps - _EXACT
        return np.asarray(often)


def _changed(before: NDArray[np.uint8], now: NDArray[np.uint8]) -> Mask:
    """Return which pixels of two `(h, w, 3)` pictures differ."""
    differs = before != now
    # Written out: `any` over an axis of three takes ten times as long.
    return np.asarray(differs[..., 0] | differs[..., 1] | differs[..., 2])


class ChangeMeter:
    """Takes the frames of a scene in order and tells whether enough of the picture changes often enough.

    Nothing else can flash too often, and to see that a pixel has changed costs a tenth of telling how.

    Attributes:
        enough: whether more than the allowed area has changed seven times within a second, or nearly: what
            has flashed counts for a moment longer.
    """

    def __init__(self, fps: float) -> None:
        """Prepare for frames shown at `fps` a second."""
        self.enough = False
        self._fps = fps
        self._last: NDArray[np.uint8] | None = None
        self._within: deque[tuple[int, NDArray[np.uint8]]] = deque()
        self._count = np.zeros(0, np.uint16)

    def show(self, frame: int, rgb: NDArray[np.uint8]) -> None:
        """Take one frame, as `FlashMeter` does."""
        if rgb is self._last:
            return
        before, self._last = self._last, rgb
        if before is None or before.shape != rgb.shape:
            self._within.clear()
            self._count = np.zeros(rgb.shape[:-1], np.uint16)
            return
        changed = _changed(before, rgb).view(np.uint8)
        self._within.append((frame, changed))
        self._count += changed
        while self._within[0][0] <= frame - (1 + APART) * self._fps:
            self._count -= self._within.popleft()[1]
        self.enough |= int(np.count_nonzero(self._count >= CHANGES)) > AREA * self._count.size


class FlashMeter:
    """Takes the frames of a scene in order and tells which stretches flash too often."""

    def __init__(self, fps: float) -> None:
        """Prepare for frames shown at `fps` a second."""
        self._fps = fps
        self._meters: tuple[tuple[_Swing | _Reds, _Count], ...] = ()
        self._found: list[Trouble] = []
        self._last: NDArray[np.uint8] | None = None

    def show(self, frame: int, rgb: NDArray[np.uint8]) -> None:
        """Take one frame.

        Args:
            frame: its number; a number left out counts as a hold of the frame before.
            rgb: `(h, w, 3)` uint8, sRGB; the same size each time. A picture made smaller will do: the rules
                are of areas, and detail finer than its pixels is exempt or far below a quarter.
        """
        if rgb is self._last:
            return  # a hold changes nothing
        if self._last is None or self._last.shape != rgb.shape:
            self._begin(rgb)
            return
        # Drawings move little at a time, and what has not changed can have had no change that counts.
        some = np.flatnonzero(_changed(self._last, rgb))
        self._last = rgb
        pixels = rgb.reshape(-1, 3)[some]
        for (meter, count), state in zip(self._meters, _states(pixels), strict=True):
            trouble = count.add(some[meter.changed(some, state)], frame)
            if trouble is not None:
                self._found.append(trouble)

    def _begin(self, rgb: NDArray[np.uint8]) -> None:
        """Take the first frame, or the first one of another size."""
        self._last = rgb
        general, wcag, red = _states(rgb.reshape(-1, 3))
        meters: tuple[_Swing | _Reds, ...] = (_Swing(PEAK, general), _Swing(1.0, wcag), _Reds(red))
        self._meters = tuple(
            (meter, _Count(rule, self._fps, len(red))) for meter, rule in zip(meters, Rule, strict=True)
        )

    def troubles(self) -> tuple[Trouble, ...]:
        """Return what was found so far, by rule and frame; stretches that touch are one."""
        merged: list[Trouble] = []
        for rule in Rule:
            for found in (trouble for trouble in self._found if trouble.rule is rule):
                before = merged[-1] if merged and merged[-1].rule is rule else None
                if before is not None and found.first <= before.last + 1:
                    merged[-1] = Trouble(rule, before.first, found.last, max(before.area, found.area))
                else:
                    merged.append(found)
        return tuple(merged)


def _states(pixels: NDArray[np.uint8]) -> tuple[Floats, Floats, Floats]:
    """Return what the rules look at, in their order, of `(n, 3)` pixels."""
    return display_luminance(pixels), wcag_luminance(pixels), red_state(pixels)
