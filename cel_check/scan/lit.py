"""Finds the light on the bed in the scan of a blank sheet, and spreads it over a picture.

Pixels of the sheet that are far from the surface (dust, a mark, the sheet's rim) are left out and the fit is
made again.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.scan.light import Light, powers

_SAMPLES = 64
"""Blocks a side that the sheet is averaged to before the fit: 4096 values for 15 terms."""

_ROUNDS, _FAR = 4, 3.0
"""How often the fit is made, and the robust standard deviations beyond which a block is left out."""

_LEAST_SIGMA = 0.002


def light_over(light: Light, width: int, height: int) -> NDArray[np.float32]:
    """Return the light on every pixel of a picture, `(height, width, 3)`."""
    step = np.linspace(0.0, 1.0, 65)
    x, y = (grid.ravel() for grid in np.meshgrid(step, step))
    coarse = light.at(np.column_stack([x, y])).reshape(65, 65, 3).astype(np.float32)
    # A coarse node lies on the picture's very edge, a pixel's middle half a pixel inside.
    across = ((np.arange(width) + 0.5) / width * 64).astype(np.float32)
    down = ((np.arange(height) + 0.5) / height * 64).astype(np.float32)
    return np.asarray(cv2.remap(coarse, *np.meshgrid(across, down), cv2.INTER_LINEAR), np.float32)


def light_of(linear: NDArray[np.float32]) -> Light | None:
    """Return the light of a blank sheet's scan, or None where the picture is no even sheet.

    Args:
        linear: `(h, w, 3)` linear light of the scan.
    """
    height, width = linear.shape[:2]
    blocks = cv2.resize(linear, (_SAMPLES, _SAMPLES), interpolation=cv2.INTER_AREA).astype(np.float64)
    middle = (np.arange(_SAMPLES) + 0.5) / _SAMPLES
    x, y = (grid.ravel() for grid in np.meshgrid(middle, middle))
    basis = powers(x, y)
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
