"""A scanner's tone curve, from the chart's gray row: what linear light stands behind each code.

Codes are decoded as sRGB first, so that what is left is nearly a straight line; a monotone cubic joins the
grays (Fritsch and Carlson, "Monotone Piecewise Cubic Interpolation", SIAM J. Numer. Anal. 17(2), 1980,
doi:10.1137/0717021) in logarithms, where any power law is straight and goes on so beyond white and black.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb_to_linear

_LEAST = 1.0 / 4096
"""Linear light below which nothing is told apart (12 bits of a scanner)."""


@dataclass(frozen=True)
class Curve:
    """One channel's tone curve.

    Attributes:
        knots: `(code, light)` of the grays from dark to light, both 0 to 1, both strictly rising.
    """

    knots: tuple[tuple[float, float], ...]

    def light(self, codes: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return linear light for codes from 0 to 1, of any shape."""
        x, y = (
            np.log(_decoded(np.array([code for code, _ in self.knots]))),
            np.log([k[1] for k in self.knots]),
        )
        at = np.log(_decoded(codes))
        slope = np.diff(y) / np.diff(x)
        return np.exp(_hermite(at, x, y, _tangents(slope, np.diff(x))))


def rises(codes: NDArray[np.float64], light: NDArray[np.float64]) -> bool:
    """Tell whether grays make a curve: both columns rise strictly from dark to light."""
    return bool((np.diff(_decoded(codes)) > 0).all() and (np.diff(light) > 0).all())


def curve_of(codes: NDArray[np.float64], light: NDArray[np.float64]) -> Curve:
    """Return the curve through grays, given from dark to light; see `rises`."""
    return Curve(tuple((float(c), float(v)) for c, v in zip(codes, light, strict=True)))


def _decoded(codes: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.maximum(srgb_to_linear(codes), _LEAST)


def _tangents(slope: NDArray[np.float64], width: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the slope at each knot: the weighted harmonic mean inside, the chord's at both ends."""
    left, right = 2 * width[1:] + width[:-1], width[1:] + 2 * width[:-1]
    inside = (left + right) / (left / slope[:-1] + right / slope[1:])
    return np.concatenate([slope[:1], inside, slope[-1:]])


def _hermite(
    at: NDArray[np.float64], x: NDArray[np.float64], y: NDArray[np.float64], tangent: NDArray[np.float64]
) -> NDArray[np.float64]:
    cell = np.clip(np.searchsorted(x, at) - 1, 0, len(x) - 2)
    width = x[cell + 1] - x[cell]
    t = np.clip((at - x[cell]) / width, 0.0, 1.0)
    cubic = (
        (1 + 2 * t) * (1 - t) ** 2 * y[cell]
        + t**2 * (3 - 2 * t) * y[cell + 1]
        + width * (t * (1 - t) ** 2 * tangent[cell] - t**2 * (1 - t) * tangent[cell + 1])
    )
    below, above = np.minimum(at - x[0], 0.0), np.maximum(at - x[-1], 0.0)
    result: NDArray[np.float64] = cubic + below * tangent[0] + above * tangent[-1]
    return result
