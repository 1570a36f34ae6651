"""How evenly the lamp lights the bed, as one smooth surface a channel.

Its logarithm is a polynomial of fourth degree in x and y: a lamp's fall-off is close to the fourth power of a
cosine, and a surface of so few terms cannot take on grain or dust.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DEGREE = 4


@dataclass(frozen=True)
class Light:
    """The light on the bed, 1 in the mean.

    Attributes:
        terms: per channel the 15 coefficients of the logarithm, in the order of `powers`.
        width: of the blank sheet's scan, in pixels.
        height: of the same.
    """

    terms: tuple[tuple[float, ...], ...]
    width: int
    height: int

    def at(self, spots: Floats) -> Floats:
        """Return the light `(n, 3)` at places `(n, 2)`, x and y as shares of the picture's size."""
        light: Floats = np.exp(powers(spots[:, 0], spots[:, 1]) @ np.array(self.terms).T)
        return light

    @property
    def unevenness(self) -> float:
        """The darkest place's light as a share of the brightest place's."""
        step = np.linspace(0.0, 1.0, 17)
        x, y = (grid.ravel() for grid in np.meshgrid(step, step))
        light = self.at(np.column_stack([x, y])).mean(axis=1)
        return float(light.min() / light.max())


def powers(x: Floats, y: Floats) -> Floats:
    """Return `(n, 15)`: every power of x and y (from -1 to 1 over the picture) up to the fourth degree."""
    u, v = 2.0 * x - 1.0, 2.0 * y - 1.0
    return np.stack([u**a * v**b for a in range(DEGREE + 1) for b in range(DEGREE + 1 - a)], axis=-1)
