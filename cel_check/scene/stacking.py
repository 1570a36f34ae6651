"""How the cels of a frame lie on one another: how much of each lies on art below, and how much is seen."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from cel_check.scene.composite import Compositor
from cel_check.scene.cuts import SOLID, corner
from cel_check.scene.frames import Key

Mask = NDArray[np.bool_]

FRAMES = 1024
"""Frames whose lies are kept: most are held for two or more, and walks come round again."""


@dataclass(frozen=True)
class Lie:
    """How one cel lies in a frame.

    Attributes:
        key: its level and drawing.
        carried: share of its art that lies on art of the levels below.
        seen: share of its art that no level above covers.
    """

    key: Key
    carried: float
    seen: float


class Stacking:
    """Tells how the cels of frames lie, by the alpha of the small frames' layers."""

    def __init__(self, camera: Compositor) -> None:
        """Prepare; nothing is unpacked yet."""
        self._camera = camera
        self.mask = lru_cache(maxsize=64)(self._mask)
        self.lies = lru_cache(maxsize=FRAMES)(self._lies)

    def _lies(self, cels: tuple[Key, ...]) -> tuple[Lie, ...]:
        """Return how each cel of a frame lies, from the bottom up; empty where a cel cannot be shown.

        Cels without art, and those that are opaque from edge to edge, are no evidence: they are left out, and
        an opaque one (a picture that knows no clear cel) neither carries nor covers.
        """
        masks = [(key, self.mask(key)) for key in cels]
        if any(mask is None for _, mask in masks):
            return ()
        art = [(key, mask) for key, mask in masks if mask is not None and mask.any() and not mask.all()]
        below = _unions([mask for _, mask in art])
        above = _unions([mask for _, mask in art[::-1]])[::-1]
        return tuple(
            Lie(key, _share(mask, under), 1.0 - _share(mask, over))
            for (key, mask), under, over in zip(art, below, above, strict=True)
        )

    def _mask(self, key: Key) -> Mask | None:
        layer = self._camera.layer(key)
        if layer is None:
            return None
        width, height = self._camera.size
        mask = np.zeros((height, width), np.bool_)
        left, top = corner(layer, self._camera.size)
        high, wide = layer.art.shape[:2]
        x, y, right, bottom = max(left, 0), max(top, 0), min(left + wide, width), min(top + high, height)
        if right > x and bottom > y:
            mask[y:bottom, x:right] = layer.art[y - top : bottom - top, x - left : right - left, 3] >= SOLID
        return mask


def _share(mask: Mask, other: Mask) -> float:
    """Return the share of a mask that another covers."""
    return np.count_nonzero(mask & other) / np.count_nonzero(mask)


def _unions(masks: Sequence[Mask]) -> list[Mask]:
    """Return for each mask the union of those before it."""
    unions: list[Mask] = []
    so_far: Mask | None = None
    for mask in masks:
        before = np.zeros_like(mask) if so_far is None else so_far
        unions.append(before)
        so_far = before | mask
    return unions
