"""The card behind a cel: its color, how evenly it is lit, and which paints look like it."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import White, linear_to_srgb, linear_to_xyz_d65, srgb_to_linear, xyz_to_lab
from cel_check.model.colormodel import Palette, Use

Linear = NDArray[np.float32]

_BORDER = 0.02
"""Share of the picture's sides that its border is wide."""

_NEAR = 0.22
"""Share by which a block may differ from the card, light and all, to count as card at first."""

_BLOCKS = 96
_LEAST_BLOCKS = 0.12
"""Blocks of the picture that must show card for its light to be followed over the picture."""

ALIKE = 8.0
"""ΔE00 from the card within which a paint is warned of: paint that dries thin, or the card's own texture,
bridges half of that (a house choice)."""


@dataclass(frozen=True)
class Backing:
    """The card as it shows through the clear cel.

    Attributes:
        linear: linear sRGB of it after evening.
        lab: the same in L*a*b*, D65.
        tint: what the acetate lets through of each channel, both ways; 1 where the card's own color is not
            known.
    """

    linear: tuple[float, float, float]
    lab: tuple[float, float, float]
    tint: tuple[float, float, float]

    @property
    def srgb(self) -> tuple[int, int, int]:
        """8-bit sRGB."""
        r, g, b = (round(float(v) * 255) for v in linear_to_srgb(np.clip(self.linear, 0, 1)))
        return r, g, b


def card_behind(linear: Linear, given: tuple[int, int, int] | None) -> tuple[Backing, Linear | None]:
    """Return the card behind a cel, and the light on it with the acetate's tint.

    The card is what most of the border shows. Where enough of the picture shows it, a smooth surface of
    second degree through it is the light; less would let one corner bend the rest.

    Args:
        linear: `(h, w, 3)` linear sRGB light; blocks of it are looked at, so that a coarse picture will do.
        given: the card's own color (sRGB), as scene.toml names it; None where it does not.

    Returns:
        The card, and `(n, n, 3)` light over the whole picture, to divide by; None where that is not known.
    """
    small = cv2.resize(linear, (_BLOCKS, _BLOCKS), interpolation=cv2.INTER_AREA).astype(np.float64)
    card = _border_color(small)
    surface = _surface(small, card)
    tint = np.ones(3)
    if given is not None:
        own = srgb_to_linear(np.array(given) / 255.0)
        tint = card / np.maximum(own, 1e-3)
        card = own
    if surface is None and given is None:
        return _backing(card, tint), None
    off = tint if surface is None else surface * tint
    return _backing(card, tint), np.broadcast_to(off, (_BLOCKS, _BLOCKS, 3)).astype(np.float32)


def alike(palette: Palette, backing: Backing) -> tuple[str, ...]:
    """Return a warning for each paint that looks like the card."""
    sentences = []
    for color in palette.colors:
        apart = float(ciede2000(np.array(color.lab), np.array(backing.lab)))
        if color.use is not Use.INK and apart < ALIKE:
            card = "#{:02X}{:02X}{:02X}".format(*backing.srgb)
            sentences.append(
                f"{color.name} is {apart:.1f} ΔE00 from the card ({card}): where it is missing may not show. "
                "Scan on a card of another color."
            )
    return tuple(sentences)


def _backing(card: NDArray[np.float64], tint: NDArray[np.float64]) -> Backing:
    lab = xyz_to_lab(linear_to_xyz_d65(card), White.D65)
    return Backing(*(tuple(float(v) for v in row) for row in (card, lab, tint)))  # type: ignore[arg-type]


def _border_color(small: NDArray[np.float64]) -> NDArray[np.float64]:
    width = max(1, round(_BORDER * _BLOCKS))
    edge = np.concatenate([
        small[:width].reshape(-1, 3), small[:, :width].reshape(-1, 3), small[:, -width:].reshape(-1, 3)
    ])  # fmt: skip
    card = np.median(edge, axis=0)
    near = (np.abs(edge / np.maximum(card, 1e-4) - 1) < _NEAR).all(axis=1)
    middle: NDArray[np.float64] = np.median(edge[near], axis=0) if near.any() else card
    return middle


def _surface(small: NDArray[np.float64], card: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Return the light on each block, 1 in the border's mean; None where too little card shows."""
    middle = (np.arange(_BLOCKS) + 0.5) / _BLOCKS * 2 - 1
    x, y = (grid.ravel() for grid in np.meshgrid(middle, middle))
    basis = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=1)
    ratio = np.maximum(small.reshape(-1, 3), 1e-4) / np.maximum(card, 1e-4)
    logs = np.log(ratio)
    # Paint may have the card's lightness, but not the card's hue as well: all channels must agree.
    keep = (np.abs(logs) < _NEAR).all(axis=1) & (np.ptp(logs, axis=1) < 0.08)
    for _ in range(3):
        if keep.mean() < _LEAST_BLOCKS:
            return None
        fit, *_rest = np.linalg.lstsq(basis[keep], logs[keep], rcond=None)
        off = np.abs(logs - basis @ fit).max(axis=1)
        keep = off < max(0.01, 3 * 1.4826 * float(np.median(off[keep])))
    light: NDArray[np.float64] = np.exp(basis @ fit).reshape(_BLOCKS, _BLOCKS, 3)
    return light
