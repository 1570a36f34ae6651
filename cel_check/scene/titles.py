"""Titles that leave the title safe area: a level whose name says that it holds them, frame by frame.

What is a title, or a face, no pixel tells; a folder that is called `title` or `titles` does. The area is that
of SMPTE ST 2046-1:2009 on the field that fills the screen.
"""

import numpy as np

from cel_check.scene.camera import TITLE_SAFE, Rect
from cel_check.scene.composite import Compositor, Layer
from cel_check.scene.cuts import SOLID, corner, seen_rects
from cel_check.scene.frames import Exposures
from cel_check.scene.names import frames_of, listed, number_order, same_name, shown
from cel_check.scene.scene import Scene

NAMES = frozenset({"title", "titles"})
"""Names of levels that hold titles, in lower case."""

SLACK = 1.0
"""Pixels of the small frame that a title may reach past: 8 of a picture 1920 wide, for its soft rim."""


def titles_outside(scene: Scene, exposures: Exposures, camera: Compositor) -> tuple[str, ...]:
    """Return a sentence for each level of titles that leaves the title safe area, with its frames.

    Args:
        scene: as loaded; where its sheet names no field, the camera sees the pictures whole.
        exposures: its frames.
        camera: lays them.
    """
    levels = [level for level in exposures.levels if same_name(level) in NAMES]
    if not levels:
        return ()
    rects = seen_rects(scene, camera.size)
    whole = (0.0, 0.0, float(camera.size[0]), float(camera.size[1]))
    notes = []
    for level in levels:
        outside: dict[int, str] = {}
        for exposure in exposures.frames:
            drawing = dict(exposure.cels).get(level)
            layer = camera.layer((level, drawing)) if drawing is not None else None
            if drawing is not None and layer is not None:
                safe = safe_part(rects.get(exposure.frame, whole))
                outside |= {exposure.frame: drawing} if _leaves(layer, safe, camera.size) else {}
        notes += [_sentence(level, outside)] if outside else []
    return tuple(notes)


def safe_part(rect: Rect) -> Rect:
    """Return the middle of a field in which titles are safe."""
    aside, above = ((1 - TITLE_SAFE) / 2 * (rect[n + 2] - rect[n]) for n in (0, 1))
    return rect[0] + aside, rect[1] + above, rect[2] - aside, rect[3] - above


def _leaves(layer: Layer, safe: Rect, size: tuple[int, int]) -> bool:
    """Return whether solid art of a layer lies past a part of the frame."""
    solid = layer.art[..., 3] >= SOLID
    if not solid.any() or (solid.all() and layer.art.shape[:2] == (layer.height, layer.width)):
        return False  # a picture that knows no clear cel does not tell where its title is
    left, top = corner(layer, size)
    across, down = np.flatnonzero(solid.any(axis=0)), np.flatnonzero(solid.any(axis=1))
    return bool(
        left + across[0] < safe[0] - SLACK
        or top + down[0] < safe[1] - SLACK
        or left + across[-1] + 1 > safe[2] + SLACK
        or top + down[-1] + 1 > safe[3] + SLACK
    )


def _sentence(level: str, outside: dict[int, str]) -> str:
    drawings = tuple(sorted(set(outside.values()), key=number_order))
    many = "s" if len(drawings) > 1 else ""
    share = round(100 * TITLE_SAFE)
    return (
        f"Level {shown(level)} leaves the title safe area (the middle {share} % of the field, SMPTE ST "
        f"2046-1) on {frames_of(tuple(outside))}: drawing{many} {listed(drawings)}."
    )
