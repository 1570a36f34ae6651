"""How evenly the lamp lights the bed, from the scan of a blank sheet, as one smooth surface a channel.

The logarithm of the sheet's light is fitted by a polynomial of fourth degree in x and y (a lamp's fall-off
is close to the fourth power of a cosine); pixels far from it (dust, a mark, the sheet's rim) are left out
and the fit made again. A surface of so few terms cannot take on grain or dust.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

DEGREE = 4
_SAMPLES = 64
"""Blocks a side that the sheet is averaged to before the fit: 4096 values for 15 terms."""

_ROUNDS, _FAR = 4, 3.0
"""How often the fit is made, and the robust standard deviations beyond which a block is left out."""

_LEAST_SIGMA = 0.002


@dataclass(frozen=True)
class Light:
    """The light on the bed, 1 in the mean.

    Attributes:
        terms: per channel the 15 coefficients of the logarithm, in the order of `_powers`.
        width: of the blank sheet's scan, in pixels.
        height: of the same.
    """

    terms: tuple[tuple[float, ...], ...]
    width: int
    height: int

    def at(self, spots: Floats) -> Floats:
        """Return the light `(n, 3)` at places `(n, 2)`, x and y as shares of the picture's size."""
        light: Floats = np.exp(_powers(spots[:, 0], spots[:, 1]) @ np.array(self.terms).T)
        return light

    def over(self, width: int, height: int) -> NDArray[np.float32]:
        """Return the light on every pixel of a picture, `(height, width, 3)`."""
        step = np.linspace(0.0, 1.0, 65)
        x, y = (grid.ravel() for grid in np.meshgrid(step, step))
        coarse = self.at(np.column_stack([x, y])).reshape(65, 65, 3).astype(np.float32)
        # A coarse node lies on the picture's very edge, a pixel's middle half a pixel inside.
        across = ((np.arange(width) + 0.5) / width * 64).astype(np.float32)
        down = ((np.arange(height) + 0.5) / height * 64).astype(np.float32)
        return np.asarray(cv2.remap(coarse, *np.meshgrid(across, down), cv2.INTER_LINEAR), np.float32)

    @property
    def unevenness(self) -> float:
        """The darkest place's light as a share of the brightest place's."""
        step = np.linspace(0.0, 1.0, 17)
        x, y = (grid.ravel() for grid in np.meshgrid(step, step))
        light = self.at(np.column_stack([x, y])).mean(axis=1)
        return float(light.min() / light.max())


def light_of(linear: NDArray[np.float32]) -> Light | None:
    """Return the light of a blank sheet's scan, or None where the picture is no even sheet.

    Args:
        linear: `(h, w, 3)` linear light of the scan.
    """
    height, width = linear.shape[:2]
    blocks = cv2.resize(linear, (_SAMPLES, _SAMPLES), interpolation=cv2.INTER_AREA).astype(np.float64)
    middle = (np.arange(_SAMPLES) + 0.5) / _SAMPLES
    x, y = (grid.ravel() for grid in np.meshgrid(middle, middle))
    basis = _powers(x, y)
    logs = np.log(np.maximum(blocks.reshape(-1, 3), 1e-4))
    keep = np.ones(len(logs), bool)
    for _ in range(_ROUNDS):
        fit, *_rest = np.linalg.lstsq(basis[keep], logs[keep], rcond=None)
        apart = np.abs(logs - basis @ fit).max(axis=1)
        sigma = max(_LEAST_SIGMA, 1.4826 * float(np.median(apart[keep])))
        keep = apart <= _FAR * sigma
        if keep.mean() < 0.6:
            return None
    surface = basis @ fit
    fit[0] -= np.log(np.exp(surface).mean(axis=0))
    if np.exp(np.ptp(surface, axis=0)).max() > 3.0:
        return None  # no lamp of a scanner or a copy stand falls to a third
    return Light(tuple(tuple(float(v) for v in column) for column in fit.T), width, height)


def _powers(x: Floats, y: Floats) -> Floats:
    """Return `(n, 15)`: every power of x and y (from -1 to 1 over the picture) up to the fourth degree."""
    u, v = 2.0 * x - 1.0, 2.0 * y - 1.0
    return np.stack([u**a * v**b for a in range(DEGREE + 1) for b in range(DEGREE + 1 - a)], axis=-1)
