"""`short-of-field`: frames on which the camera sees past a painting's edge.

The background must reach past the field on every frame, and so must the paper of a cel whose art runs off it.
All is judged on small frames, so a few pixels are let pass.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from cel_check.faults import CATALOGUE, Fault, FaultKind, Verdict
from cel_check.scene.camera import Rect
from cel_check.scene.composite import Compositor, Layer
from cel_check.scene.cuts import SOLID, seen_rects
from cel_check.scene.frames import Exposure, Exposures
from cel_check.scene.names import frames_of, listed, shown
from cel_check.scene.scene import Scene

SLACK = 1.0
"""Pixels of the small frame that an edge may lie inside the field: 8 of a picture 1920 wide."""

TOUCH = 3
"""Pixels of the small frame along which art must touch its paper's edge to run off it."""

CONTRAST = 30.0
"""ΔE00 taken between the painting and what lies past it (a house choice)."""

_SIDES = ("left", "top", "right", "bottom")


@dataclass(frozen=True)
class _Short:
    """A frame on which a picture's edge lies inside the field, by how many pixels of the small frame."""

    frame: int
    side: str
    by: float


def short_of_field(scene: Scene, exposures: Exposures, camera: Compositor) -> tuple[Fault, ...]:
    """Find frames whose field reaches past the background, or past the paper of art that runs off it.

    Args:
        scene: as loaded; where its sheet names no field, the camera sees the pictures whole.
        exposures: its frames.
        camera: lays them.
    """
    rects = seen_rects(scene, camera.size)
    if not rects:
        return ()
    behind = camera.layer((scene.background, "")) if scene.background else None
    short = [] if behind is None else list(_all_short(rects, behind, camera.size))
    faults = [] if not short else [_background(short, rects, camera)]
    covered = {one.frame for one in short}
    open_frames = [one for one in exposures.frames if one.frame in rects and one.frame not in covered]
    return (*faults, *_levels(open_frames, rects, exposures.levels, camera))


def _all_short(rects: Mapping[int, Rect], layer: Layer, size: tuple[int, int]) -> Iterable[_Short]:
    return (short for frame, rect in rects.items() for short in _short(frame, rect, layer, size))


def _short(frame: int, rect: Rect, layer: Layer, size: tuple[int, int]) -> Iterable[_Short]:
    """Yield the sides on which the field reaches past a picture."""
    left, top = (size[0] - layer.width) / 2, (size[1] - layer.height) / 2
    past = (left - rect[0], top - rect[1], rect[2] - left - layer.width, rect[3] - top - layer.height)
    return (_Short(frame, side, by) for side, by in zip(_SIDES, past, strict=True) if by > SLACK)


def _background(short: Sequence[_Short], rects: Mapping[int, Rect], camera: Compositor) -> Fault:
    frames = tuple(sorted({one.frame for one in short}))
    # A field that never fits speaks of pictures that were painted to another field than scene.toml says.
    sure = len(frames) < len(rects)
    mend = (
        "Paint it further, or move the field"
        if sure
        else "Paint it further, or give `field` in scene.toml, the field that the pictures were painted to"
    )
    return Fault(
        kind=FaultKind.SHORT_OF_FIELD,
        verdict=Verdict.RETAKE if sure else Verdict.QUERY,
        text=f"The camera sees past the background {_ways(short, camera)} on {frames_of(frames)}. {mend}.",
        send_to=CATALOGUE[FaultKind.SHORT_OF_FIELD].send_to,
        confidence=0.9 if sure else 0.5,
        area_px=_strip(short, camera),
        contrast=CONTRAST,
        frames=frames,
    )


def _strip(short: Sequence[_Short], camera: Compositor) -> int:
    """Return the largest area of the field, in pixels of the pictures, that lies past an edge."""
    across = {"left": 1, "right": 1, "top": 0, "bottom": 0}
    return round(max(one.by * camera.size[across[one.side]] for one in short) / camera.scale**2)


def _ways(short: Sequence[_Short], camera: Compositor) -> str:
    """Return the sides with the most pixels of the picture on each, as `by up to 240 px on its left`."""
    most = {side: max((one.by for one in short if one.side == side), default=0.0) for side in _SIDES}
    ways = (f"{round(by / camera.scale)} px on its {side}" for side, by in most.items() if by)
    return f"by up to {listed(tuple(ways))}"


def _levels(
    frames: Sequence[Exposure], rects: Mapping[int, Rect], levels: Sequence[str], camera: Compositor
) -> Iterable[Fault]:
    """Yield a fault for each level whose art runs off its paper where the camera still looks."""
    for level in levels:
        short: list[_Short] = []
        drawings: dict[str, None] = {}
        for exposure in frames:
            for key in exposure.cels:
                layer = camera.layer(key) if key[0] == level else None
                if layer is None:
                    continue
                own = [
                    one
                    for one in _short(exposure.frame, rects[exposure.frame], layer, camera.size)
                    if _touches(layer, one.side)
                ]
                short += own
                drawings |= {key[1]: None} if own else {}
        if short:
            yield _level(level, tuple(drawings), short, camera)


def _touches(layer: Layer, side: str) -> bool:
    """Return whether a picture's art runs to that edge of it."""
    height, width = layer.art.shape[:2]
    edges = {
        "left": (layer.left == 0, layer.art[:, :1]),
        "top": (layer.top == 0, layer.art[:1]),
        "right": (layer.left + width == layer.width, layer.art[:, -1:]),
        "bottom": (layer.top + height == layer.height, layer.art[-1:]),
    }
    reaches, line = edges[side]
    return bool(reaches and (line[..., 3] >= SOLID).sum() >= TOUCH)


def _level(level: str, drawings: tuple[str, ...], short: Sequence[_Short], camera: Compositor) -> Fault:
    frames = tuple(sorted({one.frame for one in short}))
    many = "s" if len(drawings) > 1 else ""
    return Fault(
        kind=FaultKind.SHORT_OF_FIELD,
        verdict=Verdict.QUERY,
        text=(
            f"The art of drawing{many} {listed(drawings)} of level {shown(level)} ends at its paper's edge, "
            f"and the camera sees past it {_ways(short, camera)} on {frames_of(frames)}. "
            f"Draw it on past the field, or move the field."
        ),
        send_to=CATALOGUE[FaultKind.SHORT_OF_FIELD].send_to,
        confidence=0.6,
        level=level,
        area_px=_strip(short, camera),
        contrast=CONTRAST,
        frames=frames,
    )
