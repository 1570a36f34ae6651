"""Color for the benchmark, on scikit-image alone: nothing here shares code with what is measured."""

import warnings

import numpy as np
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000, lab2rgb, rgb2lab

Color = tuple[int, int, int]


def lab_of(color: Color) -> NDArray[np.float64]:
    """Return L*, a*, b* (D65, 2 degree observer) of an 8-bit sRGB color."""
    return np.asarray(rgb2lab(np.array(color, dtype=np.float64).reshape(1, 1, 3) / 255.0))[0, 0]


def delta_e(first: Color, second: Color) -> float:
    """Return CIEDE2000 between two 8-bit sRGB colors."""
    return float(deltaE_ciede2000(lab_of(first), lab_of(second)))


def nearest_delta(color: Color, others: tuple[Color, ...]) -> float:
    """Return the least CIEDE2000 from `color` to `others` (infinity where there are none)."""
    return min((delta_e(color, other) for other in others), default=float("inf"))


def _quantised(lab: NDArray[np.float64]) -> Color | None:
    """Return the 8-bit sRGB color of a Lab color, or None where it is out of gamut."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)  # out of gamut: seen below
        rgb = np.asarray(lab2rgb(lab.reshape(1, 1, 3)))[0, 0]
    color = tuple(int(value) for value in np.rint(rgb * 255.0))
    if float(deltaE_ciede2000(lab, lab_of((color[0], color[1], color[2])))) > 1.0:
        return None
    return color[0], color[1], color[2]


def _towards(color: Color, direction: NDArray[np.float64], target: float) -> Color | None:
    start, low, high = lab_of(color), 0.0, 6.0 * target
    for _ in range(24):
        middle = (low + high) / 2.0
        if float(deltaE_ciede2000(start, start + middle * direction)) < target:
            low = middle
        else:
            high = middle
    return _quantised(start + high * direction)


def shifted(
    color: Color, target: float, keep_off: tuple[Color, ...], rng: np.random.Generator, clearance: float = 2.5
) -> Color | None:
    """Return a color at CIEDE2000 `target` (within 0.25) in a random direction of Lab.

    Args:
        color: where to start.
        target: the CIEDE2000 wanted.
        keep_off: colors that the result must be `clearance` away from.
        rng: source of the direction.
        clearance: CIEDE2000.

    Returns:
        The color, or None where 60 directions give none.
    """
    for _ in range(60):
        direction = rng.normal(size=3)
        found = _towards(color, direction / np.linalg.norm(direction), target)
        if found is None or abs(delta_e(color, found) - target) > 0.25:
            continue
        if nearest_delta(found, keep_off) >= clearance:
            return found
    return None
