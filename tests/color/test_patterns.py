"""Stripes are asked about for how long, how large and how they move, on both sides of each limit.

Limits: Recommendation ITU-R BT.1702-3 (11/2023), guideline 2 and attachment 1, as quoted by public notes:
more than five pairs on more than 40 % of the picture while they stand still, on more than 25 % where they
change direction, oscillate, flash or reverse in contrast; what flows smoothly in one direction is exempt.
Eight pairs that drift: Ofcom's guidance as restated in public code. Half a second: Harding et al., Epilepsia
46(9), 2005, as quoted by others. The gratings are known by construction.
"""

from functools import cache

import numpy as np
import pytest

from cel_check.color.patterns import Motion, PatternMeter

HEIGHT, WIDTH, TIMES = 135, 240, 2
DARK, LIGHT, GROUND = 40, 220, 110


@cache
def grating(area, phase=0.0, pairs=12, angle=0.0):
    """Return so many pairs of stripes on the middle of a gray picture, moved on by a share of a pair."""
    rows, columns = np.mgrid[: HEIGHT * TIMES, : WIDTH * TIMES]
    x, y = (columns + 0.5) / TIMES / WIDTH - 0.5, (rows + 0.5) / TIMES / HEIGHT - 0.5
    turn = np.cos(np.deg2rad(angle)), np.sin(np.deg2rad(angle))
    side = max(np.sqrt(area), 1e-6)
    long = side * (WIDTH * abs(turn[0]) + HEIGHT * abs(turn[1]))
    wave = ((x * WIDTH * turn[0] + y * HEIGHT * turn[1]) / long + 0.5) * pairs - phase
    large = np.where(wave % 1.0 < 0.5, float(DARK), LIGHT)
    large[(np.abs(x) > side / 2) | (np.abs(y) > side / 2)] = GROUND
    small = large.reshape(HEIGHT, TIMES, WIDTH, TIMES).mean(axis=(1, 3))
    return np.repeat(small[..., None], 3, axis=2).round().astype(np.uint8)


def found(frames, fps=24.0):
    meter = PatternMeter(fps)
    for number, frame in enumerate(frames, start=1):
        meter.show(number, frame)
    return meter.patterns()


ANGLES = (0, 20, 90, 135)


def drifting(area, by=0.1, *, pairs=12, angle=0.0, frames=16):
    """Return frames of stripes that go on by the same share of a pair from frame to frame."""
    return [grating(area, round(by * number % 1.0, 3), pairs, angle) for number in range(frames)]


@pytest.mark.parametrize("angle", ANGLES)
def test_stripes_that_stand_still_may_cover_40_percent(angle):
    assert found([grating(0.38, angle=angle)] * 48) == ()
    (pattern,) = found([grating(0.42, angle=angle)] * 48)
    assert pattern.motion is Motion.STEADY
    assert pattern.frames == tuple(range(1, 49))
    assert pattern.area == pytest.approx(0.42, abs=0.02)
    assert 11 <= pattern.pairs <= 12


def test_five_pairs_are_allowed_and_six_are_not():
    assert found([grating(1.0, pairs=5)] * 24) == ()
    assert [pattern.pairs for pattern in found([grating(1.0, pairs=6)] * 24)] == [6]


@pytest.mark.parametrize("angle", ANGLES)
def test_stripes_that_reverse_in_contrast_may_cover_25_percent(angle):
    def reversing(area):
        return [grating(area, phase, angle=angle) for phase in (0.0, 0.0, 0.0, 0.5, 0.5, 0.5)] * 4

    assert found(reversing(0.23)) == ()
    (pattern,) = found(reversing(0.27))
    assert pattern.motion is Motion.CHANGE
    assert pattern.frames == tuple(range(1, 25))


@pytest.mark.parametrize("angle", ANGLES)
def test_so_may_stripes_that_oscillate(angle):
    def oscillating(area):
        return [grating(area, phase, angle=angle) for phase in (0.0, 0.1, 0.2, 0.1)] * 6

    assert found(oscillating(0.23)) == ()
    assert [pattern.motion for pattern in found(oscillating(0.27))] == [Motion.CHANGE]


def test_so_may_stripes_that_flash():
    def flashing(area):
        return ([grating(area)] * 4 + [grating(0.0)] * 4) * 4

    assert found(flashing(0.23)) == ()
    (pattern,) = found(flashing(0.27))
    assert pattern.motion is Motion.CHANGE
    assert pattern.frames == tuple(n for n in range(1, 29) if (n - 1) % 8 < 4)


def test_so_may_stripes_that_change_their_direction():
    def turning(area):
        return ([grating(area, angle=20)] * 4 + [grating(area, angle=110)] * 4) * 4

    assert found(turning(0.23)) == ()
    assert [pattern.motion for pattern in found(turning(0.27))] == [Motion.CHANGE]
    there_and_back = drifting(0.27, frames=8) + drifting(0.27, frames=8)[::-1]
    assert [pattern.motion for pattern in found(there_and_back)] == [Motion.CHANGE]


@pytest.mark.parametrize("angle", [0, 45, 90])
@pytest.mark.parametrize("by", [0.1, 0.3, -0.1])
def test_what_flows_smoothly_one_way_is_let_pass_up_to_eight_pairs(angle, by):
    assert found(drifting(0.30, by, angle=angle)) == ()
    assert found(drifting(0.60, by, pairs=7, angle=angle)) == ()
    patterns = found(drifting(0.60, by, pairs=12, angle=angle))
    assert [pattern.motion for pattern in patterns] == [Motion.DRIFT]


def test_a_drift_on_twos_is_as_smooth_as_one_on_ones():
    frames = [frame for frame in drifting(0.30) for _ in range(2)]
    assert found(frames) == ()
    assert found([grating(0.30)] * 20 + frames) == ()  # a pan that begins and ends


def test_less_than_half_a_second_is_no_pattern():
    assert found([grating(1.0)] * 11 + [grating(0.0)] * 40) == ()
    assert len(found([grating(1.0)] * 12 + [grating(0.0)] * 40)) == 1
    assert found([grating(1.0)] * 12, fps=25.0) == ()


def test_two_stretches_are_two():
    frames = [grating(1.0)] * 20 + [grating(0.0)] * 20 + [grating(1.0)] * 20
    assert [(p.frames[0], p.frames[-1], p.motion) for p in found(frames)] == [
        (1, 20, Motion.STEADY),
        (41, 60, Motion.STEADY),
    ]


def test_a_figure_that_moves_before_stripes_leaves_them_still():
    """A quarter of the picture, gray, goes to and fro over stripes that stand still behind it."""
    frames = []
    for number in range(48):
        frame = grating(1.0).copy()
        left = 20 + 10 * (number // 2 % 6)
        frame[30:, left : left + 70] = 90
        frames.append(frame)
    (pattern,) = found(frames)
    assert pattern.motion is Motion.STEADY
    assert 0.7 < pattern.area < 0.82


def test_nothing_shown_is_no_pattern():
    assert found([]) == ()
    assert found([grating(0.0)] * 30) == ()
