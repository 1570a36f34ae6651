"""Regular patterns that may harm viewers with photosensitive epilepsy: how long, how large, how they move.

Recommendation ITU-R BT.1702-3 (11/2023), guideline 2 and attachment 1, as quoted by two public notes: more
than five pairs of clearly discernible light and dark stripes in any orientation are potentially harmful where
they stand still on more than 40 % of the picture, or change direction, oscillate, flash or reverse in
contrast on more than 25 %; what flows smoothly in one direction is exempt. For such drifts Ofcom's guidance
is restated in public code with eight pairs; of what area is not told, and 40 % is taken here. Less than half
a second is no pattern (Harding et al., Photic- and pattern-induced seizures: expert consensus of the Epilepsy
Foundation of America, Epilepsia 46(9), 1423-1425, 2005, as quoted by others). Nobody's original was read.

How far stripes have moved from one picture to the next is told by the phase of their strongest wave, so by
less than half a pair: what moves further, or is no plain grating, counts as changing.
"""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from cel_check.color.flash import CHANGE, display_luminance
from cel_check.color.stripe_rows import CELL
from cel_check.color.stripes import Stripes, stripes_of

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
Vector = tuple[float, float]

PAIRS, DRIFTING = 5, 8
"""Pairs of light and dark that are allowed, and that are where they drift one way."""
STEADY_AREA, MOVING_AREA = 0.40, 0.25
"""Share of the picture that stripes may cover while they stand still, and while they change."""
LEAST_TIME = 0.5
"""Seconds."""

CHANGED = 0.03
"""Share of the stripes' pixels that differ between two pictures of which one is not like the other."""
GONE = 0.5
"""Share of a pattern's area, or of its wave's height, below which it is no more the same one: it flashes."""
REVERSED, STILL = 0.75 * np.pi, 0.05
"""Radians of phase from which stripes take each other's place, and below which they have not moved."""
TOGETHER = 16
"""Pictures that are looked at together: what they wait in, and are worked out in, stays below 40 MB."""
PLAIN = 0.2
"""Share of the stripes' power that their strongest wave holds: 0.8 in even stripes, without what their
outline takes (house choices, all of these)."""


class Motion(StrEnum):
    """What stripes do over time."""

    STEADY = "stand still"
    DRIFT = "drift one way"
    CHANGE = "change direction, oscillate, flash or reverse in contrast"


@dataclass(frozen=True)
class Pattern:
    """A stretch of frames that show more stripes than is allowed.

    Attributes:
        motion: what they do.
        frames: those on which they are too many on too much of the picture.
        pairs: of light and dark, at most.
        area: largest share of the picture.
    """

    motion: Motion
    frames: tuple[int, ...]
    pairs: int
    area: float


@dataclass(frozen=True, eq=False)
class _Look:
    """What one picture shows: its stripes, and its `(h, w)` cd/m2 where there are any."""

    stripes: Stripes | None = None
    luminance: Floats | None = None

    @property
    def area(self) -> float:
        return self.stripes.area if self.stripes else 0.0

    @property
    def pairs(self) -> int:
        return self.stripes.pairs if self.stripes else 0


Seen = Sequence[tuple[int, _Look]]


class PatternMeter:
    """Takes the frames of a scene in order and tells which show too many stripes for too long."""

    def __init__(self, fps: float) -> None:
        """Prepare for frames shown at `fps` a second."""
        self._fps = fps
        self._shown: list[tuple[int, bytes]] = []
        self._looks: dict[bytes, _Look] = {}
        self._waiting: dict[bytes, Floats] = {}
        self._last: NDArray[np.uint8] | None = None

    def show(self, frame: int, rgb: NDArray[np.uint8]) -> None:
        """Take one frame; the same picture is looked at once.

        Args:
            frame: its number.
            rgb: `(h, w, 3)` uint8, sRGB; the same size each time.
        """
        if rgb is self._last:
            self._shown.append((frame, self._shown[-1][1]))
            return
        self._last = rgb
        key = hashlib.blake2b(rgb.tobytes(), digest_size=16).digest()
        self._shown.append((frame, key))
        if key not in self._looks and key not in self._waiting:
            self._waiting[key] = np.asarray(display_luminance(rgb), np.float32)
            if len(self._waiting) >= TOGETHER:
                self._look()

    def _look(self) -> None:
        """Look at the pictures that wait, all together."""
        pictures = list(self._waiting.values())
        for key, picture, stripes in zip(self._waiting, pictures, stripes_of(pictures, PAIRS), strict=True):
            self._looks[key] = _Look() if stripes is None else _Look(stripes, picture)
        self._waiting = {}

    def patterns(self) -> tuple[Pattern, ...]:
        """Return what was found so far, in order."""
        self._look()
        seen = [(frame, self._looks[key]) for frame, key in self._shown]
        found = (self._judged(stretch) for stretch in self._stretches(seen))
        return tuple(pattern for pattern in found if pattern is not None)

    def _stretches(self, seen: Seen) -> Iterable[Seen]:
        """Yield stretches that show a pattern, with what lies between if that is short: it may flash."""
        large = [place for place, (_, look) in enumerate(seen) if look.area > MOVING_AREA]
        start = 0
        for place in range(1, len(large) + 1):
            ends = place == len(large)
            if ends or seen[large[place]][0] - seen[large[place - 1]][0] > LEAST_TIME * self._fps:
                yield seen[large[start] : large[place - 1] + 1]
                start = place

    def _judged(self, stretch: Seen) -> Pattern | None:
        motion = _motion([look for _, look in stretch])
        area = MOVING_AREA if motion is Motion.CHANGE else STEADY_AREA
        pairs = DRIFTING if motion is Motion.DRIFT else PAIRS
        bad = [(frame, look) for frame, look in stretch if look.area > area and look.pairs > pairs]
        # What flashes is not there all the time.
        time = bad[-1][0] - bad[0][0] + 1 if bad and motion is Motion.CHANGE else len(bad)
        if not bad or time < LEAST_TIME * self._fps:
            return None
        return Pattern(
            motion,
            tuple(frame for frame, _ in bad),
            max(look.pairs for _, look in bad),
            max(look.area for _, look in bad),
        )


def _motion(looks: Sequence[_Look]) -> Motion:
    """Return what the stripes of a stretch do."""
    ways: list[Vector] = []
    before = looks[0]
    for look in looks[1:]:
        if look is before:
            continue
        moved = _moved(before, look)
        if moved is None or (ways and np.dot(moved, ways[0]) < 0):
            return Motion.CHANGE
        ways += [moved] if any(moved) else []
        before = look
    return Motion.DRIFT if ways else Motion.STEADY


def _moved(one: _Look, other: _Look) -> Vector | None:
    """Return how far stripes have moved, in pixels across and down; None where they have changed."""
    if one.stripes is None or other.stripes is None or one.luminance is None or other.luminance is None:
        return None
    both = one.stripes.cells & other.stripes.cells
    if both.mean() < GONE * max(one.area, other.area):
        return None
    height, width = one.luminance.shape
    mask = np.repeat(np.repeat(both, CELL, axis=0), CELL, axis=1)[:height, :width]
    differs = np.abs(one.luminance - other.luminance)[mask] >= CHANGE
    if differs.mean() < CHANGED:
        return 0.0, 0.0
    return _shift(_masked(one.luminance, mask), _masked(other.luminance, mask), int(mask.sum()))


def _masked(luminance: Floats, mask: Mask) -> Floats:
    """Return the stripes alone, about their mean."""
    return np.asarray(np.where(mask, luminance - luminance[mask].mean(), 0.0), np.float32)


def _shift(one: Floats, other: Floats, pixels: int) -> Vector | None:
    """Return how far the strongest wave has moved; None where it is not the same one or has turned over."""
    waves = np.fft.rfft2(one), np.fft.rfft2(other)
    places = [np.unravel_index(int(np.abs(wave).argmax()), wave.shape) for wave in waves]
    across, down = np.fft.rfftfreq(one.shape[1]), np.fft.fftfreq(one.shape[0])
    wave, later = ((across[place[1]], down[place[0]]) for place in places)
    if min(np.hypot(wave[0] - later[0], wave[1] - later[1]), np.hypot(*np.add(wave, later))) > 2 / max(
        one.shape
    ):
        return None
    heights = [complex(spectrum[places[0]]) for spectrum in waves]
    powers = [float((picture.astype(np.float64) ** 2).sum()) for picture in (one, other)]
    if any(2 * abs(z) ** 2 < PLAIN * pixels * power for z, power in zip(heights, powers, strict=True)):
        return None
    if min(abs(z) for z in heights) < GONE * max(abs(z) for z in heights):
        return None
    phase = float(np.angle(heights[1] * heights[0].conjugate()))
    if abs(phase) > REVERSED:
        return None
    if abs(phase) < STILL:
        return 0.0, 0.0
    long = -phase / (2 * np.pi * (wave[0] ** 2 + wave[1] ** 2))
    return float(long * wave[0]), float(long * wave[1])
