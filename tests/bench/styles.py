"""In what style a drawing becomes a cel: pen, ink, edges, size and ground, by hash of its name."""

from dataclasses import dataclass

import numpy as np
from art import Color, digest
from colors import nearest_delta

VERSION = 7
"""Raised whenever a cel would come out differently, so that stale caches are not read."""

PENS = (3.0, 5.0, 8.0, 14.0)
INKS: dict[str, Color] = {"black": (0, 0, 0), "brown": (74, 36, 16), "dark-blue": (22, 32, 84)}
CARDS: tuple[Color, ...] = ((255, 255, 255), (127, 168, 160), (206, 190, 226), (214, 224, 196), (70, 92, 88))


@dataclass(frozen=True)
class Style:
    """How a drawing is turned into a cel.

    Attributes:
        crisp: hard edges instead of anti-aliased ones.
        pen: line width in px; None leaves the drawing's own.
        ink: name of the ink.
        ink_color: the color that takes the place of black in the line layers.
        height: of the art, px.
        card: the color behind an opaque cel; None for a clear one.
    """

    crisp: bool
    pen: float | None
    ink: str
    ink_color: Color
    height: int
    card: Color | None

    @property
    def name(self) -> str:
        """One word for tables."""
        pen = "own" if self.pen is None else f"{self.pen:g}px"
        return f"{'hard' if self.crisp else 'soft'}-{pen}-{self.ink}-{'card' if self.card else 'clear'}"


def random_for(*words: object) -> np.random.Generator:
    return np.random.default_rng(digest(*words))


def choose_style(name: str, colors: tuple[Color, ...]) -> Style:
    """Return the style of a drawing, by hash of its name; ink and card keep off its own colors."""
    rng = random_for("style", name)
    crisp, pen = bool(rng.random() < 0.3), PENS[int(rng.integers(len(PENS)))]
    height = int(rng.integers(500, 1001))
    others = tuple(color for color in colors if color != (0, 0, 0))
    ink = str(rng.choice(["black", "brown", "dark-blue", "self"], p=[0.46, 0.16, 0.16, 0.22]))
    ink_color = INKS.get(ink, (0, 0, 0))
    if ink == "self":
        tries = [_dark(rng) for _ in range(40)]
        ink_color = next((color for color in tries if nearest_delta(color, others) >= 10), (0, 0, 0))
    if ink_color == (0, 0, 0) or nearest_delta(ink_color, others) < 8:
        ink, ink_color = "black", (0, 0, 0)
    card = None
    if rng.random() < 0.15:
        fit = [color for color in CARDS if nearest_delta(color, (*others, ink_color)) >= 12]
        card = fit[int(rng.integers(len(fit)))] if fit else None
    return Style(crisp, pen, ink, ink_color, height, card)


def _dark(rng: np.random.Generator) -> Color:
    red, green, blue = rng.integers(10, 110, size=3)
    return int(red), int(green), int(blue)
