"""The smallest change of one color that takes it far enough from others: which way, and by how little.

The search is over the 26 directions of lightness, chroma and hue (each down, kept or up) in steps of half a
unit, through colors that an 8-bit sRGB picture can hold. A house method: no source.
"""

import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import White, lab_to_srgb, srgb8_to_lab, to_8_bit

Floats = NDArray[np.float64]

_LENGTHS = np.concatenate([np.arange(0.5, 16.0, 0.5), np.arange(16.0, 41.0, 2.0)])
"""L*a*b* units of the moves that are tried; the long ones are for strong colors, of which few units are
seen."""

PLAINER = 1.3
"""A move of lightness alone, which keeps what a color is, may be so many times longer than another."""

TELLABLE = 0.4
"""L*a*b* units of a change of lightness, chroma or hue that is worth a word."""

_HUES = ("redder", "yellower", "greener", "bluer")
"""Where a hue that turns is said to go: the axes a*, b*, -a* and -b*, 90 degrees apart."""


@dataclass(frozen=True)
class Move:
    """A color's suggested new value.

    Attributes:
        hex: the new value, sRGB.
        words: which way it went and how far, as `2.1 L* lighter`.
        delta_e: CIEDE2000 between the old value and the new.
    """

    hex: str
    words: str
    delta_e: float


def smallest_move(lab: Floats, partner: Floats, needed: float, others: Floats, kept: Floats) -> Move | None:
    """Return the smallest move of a color that takes it `needed` away from its partner.

    Args:
        lab: `(3,)` the color, L*a*b* D65.
        partner: `(3,)` the color it is too close to.
        needed: ΔE00 to reach between the two.
        others: `(n, 3)` colors that it must not come close to on its way.
        kept: `(n,)` ΔE00 to keep from each of them at least.

    Returns:
        The move; None where no short one is enough.
    """
    rgb, tries, plain = _tries(lab)
    far = np.flatnonzero(ciede2000(tries, partner) >= needed)
    moved = ciede2000(tries[far], lab)
    for place in np.argsort(np.where(plain[far], moved, moved * PLAINER), kind="stable"):
        new = tries[far[place]]
        if not len(others) or bool((ciede2000(others, new) >= kept).all()):
            red, green, blue = rgb[far[place]].tolist()
            return Move(f"#{red:02X}{green:02X}{blue:02X}", change_words(lab, new), float(moved[place]))
    return None


def _tries(lab: Floats) -> tuple[NDArray[np.uint8], Floats, NDArray[np.bool_]]:
    """Return the 8-bit colors around a color, their L*a*b*, and which of them change lightness alone."""
    chroma, hue = np.hypot(lab[1], lab[2]), np.arctan2(lab[2], lab[1])
    ways = np.array([way for way in itertools.product((-1.0, 0.0, 1.0), repeat=3) if any(way)])
    ways /= np.linalg.norm(ways, axis=1, keepdims=True)
    steps = (_LENGTHS[:, None, None] * ways).reshape(-1, 3)
    new_chroma = np.maximum(chroma + steps[:, 1], 0.0)
    turn = hue + steps[:, 2] / max(float(chroma), 5.0)  # an arc as long as the step; near gray a wider turn
    tries = np.stack([lab[0] + steps[:, 0], new_chroma * np.cos(turn), new_chroma * np.sin(turn)], axis=1)
    # What the gamut clips is judged by what is left of it, like any other color.
    srgb, in_gamut = lab_to_srgb(tries, White.D65)
    rgb = to_8_bit(srgb)
    return rgb, srgb8_to_lab(rgb), (steps[:, 1:] == 0.0).all(axis=1) & in_gamut


def change_words(old: Floats, new: Floats) -> str:
    """Return how L*a*b* `(3,)` changed, as `2.1 L* lighter and 3° redder`; small parts are left out."""
    lighter = float(new[0] - old[0])
    chroma_old, chroma_new = float(np.hypot(old[1], old[2])), float(np.hypot(new[1], new[2]))
    stronger = chroma_new - chroma_old
    angle_old, angle_new = (float(np.degrees(np.arctan2(lab[2], lab[1]))) for lab in (old, new))
    turn = (angle_new - angle_old + 180.0) % 360.0 - 180.0
    arc = np.radians(turn) * np.sqrt(chroma_old * chroma_new)
    parts = []
    if abs(lighter) >= TELLABLE:
        parts.append(f"{abs(lighter):.1f} L* {'lighter' if lighter > 0 else 'darker'}")
    if abs(stronger) >= TELLABLE:
        parts.append(f"{abs(stronger):.1f} C* {'stronger' if stronger > 0 else 'grayer'}")
    if abs(arc) >= TELLABLE:
        parts.append(_hue_word(angle_old % 360.0, turn))
    return " and ".join(parts) or "a touch different"


def _hue_word(angle: float, turn: float) -> str:
    """Return what a hue becomes that turns from an angle (degrees, 0 to 360) by another."""
    axis = math.floor(angle / 90.0) + 1 if turn > 0 else math.ceil(angle / 90.0) - 1
    return f"{abs(turn):.0f}° {_HUES[axis % 4]}"
