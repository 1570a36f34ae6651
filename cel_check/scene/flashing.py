"""Frames that flash too often or show too many stripes: a scene's frames by `color.flash`, `color.patterns`.

This finds likely trouble early and is no certificate: local rules and the broadcaster's approved test decide.
Frames are looked at as small as thumbnails, since the rules are of areas, and of each frame the field that
fills the screen.
"""

from collections.abc import Iterator, Mapping, Sequence
from collections.abc import Set as AbstractSet
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.flash import CHANGES, ChangeMeter, FlashMeter, Rule, Trouble
from cel_check.color.patterns import DRIFTING, MOVING_AREA, PAIRS, STEADY_AREA, Motion, Pattern, PatternMeter
from cel_check.faults import CATALOGUE, Fault, FaultKind, Verdict
from cel_check.scene.camera import Rect
from cel_check.scene.composite import Compositor
from cel_check.scene.frames import Exposure
from cel_check.scene.names import frames_of, listed, shown

Bytes = NDArray[np.uint8]

CAUTION = "This is no certificate: local rules and the broadcaster's approved test decide."

SURELY = 0.26
"""Share of the picture above which the rules' quarter is broken for certain: pixels that are half covered,
all around an area of a quarter on a frame of 240 x 135, are half a hundredth of it."""

_SENT_BACK = frozenset({Rule.BT1702, Rule.RED})
"""What BT.1702 refuses; what breaks WCAG only, a person decides."""


def flashes(
    frames: Sequence[Exposure], fps: float, camera: Compositor, rects: Mapping[int, Rect]
) -> tuple[tuple[Fault, ...], tuple[str, ...]]:
    """Look for frames that flash too often, and for regular patterns of stripes.

    Args:
        frames: of the sheet, in order.
        fps: frames a second.
        camera: shoots them.
        rects: what of a frame fills the screen, by frame; the whole frame where it is not there.

    Returns:
        A fault for each stretch of frames, and what the report should note: frames that could not be shown
        whole are left out, as if the frame before were held.
    """
    often = may_flash(frames, fps, rects)
    patterns, changes = PatternMeter(fps), ChangeMeter(fps)
    broken: dict[int, tuple[str, ...]] = {}
    for frame, screen in _screens(frames, camera, rects, broken):
        patterns.show(frame, screen)
        if often:
            changes.show(frame, screen)
    meter = FlashMeter(fps)
    if changes.enough:  # of few scenes: their frames are laid once more
        for frame, screen in _screens(frames, camera, rects, broken):
            meter.show(frame, screen)
    stretches = _merged(meter.troubles())
    faults = tuple(_fault(stretch, frames, camera.has_background) for stretch in stretches)
    told = frozenset(frame for fault in faults for frame in fault.frames)
    # Stripes that flash too often are one cause.
    striped = (one for one in patterns.patterns() if 2 * len(told.intersection(one.frames)) < len(one.frames))
    return (*faults, *(_striped(one) for one in striped)), _left_out(broken) if often else ()


def _screens(
    frames: Sequence[Exposure],
    camera: Compositor,
    rects: Mapping[int, Rect],
    broken: dict[int, tuple[str, ...]],
) -> Iterator[tuple[int, Bytes]]:
    """Yield the frames that could be shown whole, as the screen shows them; note the others as `broken`."""
    for exposure in frames:
        shot = camera.shoot(exposure.cels)
        if shot.left_out:
            broken[exposure.frame] = shot.left_out
        else:
            yield exposure.frame, on_screen(shot.rgb, rects.get(exposure.frame))


def on_screen(rgb: Bytes, rect: Rect | None) -> Bytes:
    """Return a field of a `(h, w, 3)` frame, as large as the frame; past its edges the edge goes on."""
    height, width = rgb.shape[:2]
    if rect is None or rect == (0.0, 0.0, float(width), float(height)):
        return rgb
    across, down = width / (rect[2] - rect[0]), height / (rect[3] - rect[1])
    # The middle of a pixel lies half a pixel from its edge, on either side.
    matrix = np.array(
        [
            [across, 0.0, (0.5 - rect[0]) * across - 0.5],
            [0.0, down, (0.5 - rect[1]) * down - 0.5],
        ]
    )
    return np.asarray(cv2.warpAffine(rgb, matrix, (width, height), borderMode=cv2.BORDER_REPLICATE), np.uint8)


def may_flash(frames: Sequence[Exposure], fps: float, rects: Mapping[int, Rect]) -> bool:
    """Return whether the screen changes often enough within a second for a seventh change of any pixel."""
    changes = [
        now.frame
        for last, now in pairwise(frames)
        if last.cels != now.cels or rects.get(last.frame) != rects.get(now.frame)
    ]
    return any(late - early < fps for early, late in zip(changes, changes[CHANGES - 1 :], strict=False))


def _merged(troubles: Sequence[Trouble]) -> tuple[tuple[Trouble, ...], ...]:
    """Return the troubles in stretches that share frames, whatever the rule: one cause is one fault."""
    stretches: list[list[Trouble]] = []
    last = 0
    for trouble in sorted(troubles, key=lambda one: (one.first, one.last)):
        if stretches and trouble.first <= last:
            stretches[-1].append(trouble)
            last = max(last, trouble.last)
        else:
            stretches.append([trouble])
            last = trouble.last
    return tuple(tuple(stretch) for stretch in stretches)


def _fault(stretch: Sequence[Trouble], frames: Sequence[Exposure], whole: bool) -> Fault:
    first, last = min(one.first for one in stretch), max(one.last for one in stretch)
    on = tuple(exposure.frame for exposure in frames if first <= exposure.frame <= last)
    share = f"{round(100 * max(one.area for one in stretch))} %"
    rules = {one.rule for one in stretch}
    sure = whole and any(one.rule in _SENT_BACK and one.area > SURELY for one in stretch)
    return Fault(
        kind=FaultKind.FLASH,
        verdict=Verdict.RETAKE if sure else Verdict.QUERY,
        text=(
            f"{_capital(frames_of(on))} flash more than three times in a second on {share} of the "
            f"picture{_with_red(rules)}. {_allowed(rules)} that on 25 % at most. "
            f"Change less often, by less light or on a smaller area. {CAUTION}"
        ),
        send_to=CATALOGUE[FaultKind.FLASH].send_to,
        confidence=0.9 if sure else 0.6,
        frames=on,
    )


def _striped(pattern: Pattern) -> Fault:
    return Fault(
        kind=FaultKind.FLASH,
        verdict=Verdict.QUERY,
        text=(
            f"{_capital(frames_of(pattern.frames))} show a regular pattern on {round(100 * pattern.area)} % "
            f"of the picture: {pattern.pairs} pairs of light and dark stripes that {pattern.motion}. "
            f"{_allowed_stripes(pattern.motion)} Make them fewer, softer or smaller. {CAUTION}"
        ),
        send_to=CATALOGUE[FaultKind.FLASH].send_to,
        confidence=0.5,
        frames=pattern.frames,
    )


def _allowed_stripes(motion: Motion) -> str:
    if motion is Motion.DRIFT:
        return (
            f"ITU-R BT.1702 lets pass what flows smoothly in one direction, other guidance allows {DRIFTING} "
            f"such pairs."
        )
    area = round(100 * (MOVING_AREA if motion is Motion.CHANGE else STEADY_AREA))
    return f"ITU-R BT.1702 allows more than {PAIRS} such pairs on {area} % at most."


def _with_red(rules: AbstractSet[Rule]) -> str:
    return ", to and from saturated red" if rules == {Rule.RED} else ""


def _allowed(rules: AbstractSet[Rule]) -> str:
    return "WCAG 2.2 allows" if rules == {Rule.WCAG} else "ITU-R BT.1702 and WCAG 2.2 allow"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _left_out(broken: dict[int, tuple[str, ...]]) -> tuple[str, ...]:
    if not broken:
        return ()
    names = tuple(dict.fromkeys(shown(name) for names in broken.values() for name in names))
    on = _capital(frames_of(tuple(broken)))
    return (f"{on} could not be looked at for flashes: {listed(names)} cannot be shown.",)
