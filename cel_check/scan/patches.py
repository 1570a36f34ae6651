"""Measures the patches of a chart that was found: a robust color each, and what speaks against it."""

from dataclasses import dataclass
from typing import cast

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.picture.picture import Picture
from cel_check.scan.chart import COLUMNS, PATCHES, ROWS
from cel_check.scan.find_chart import Found

Codes = NDArray[np.uint8] | NDArray[np.uint16]

_CORE = 0.5
"""Share of the pitch that is measured: the rims of patches (86 % of it in common charts) stay out."""

_MOST_SIDE = 96
"""Pixels a side that are taken of a core at most; nine thousand average any noise away."""

_OUTLIER = 3.0
"""Robust standard deviations from the median beyond which a pixel is dust and not patch."""

_BLOCKS = 6
"""Blocks a side by whose medians evenness is judged: noise averages out in them, a highlight does not."""


@dataclass(frozen=True, eq=False)
class Patches:
    """The patches of a chart as scanned, in the chart's order.

    Attributes:
        codes: `(24, 3)` robust mean, 0 to 1, as the file says it (sRGB or the scanner's own curve).
        spread: `(24,)` robust standard deviation of its pixels, 0 to 1.
        uneven: `(24,)` how far the brightest part of a patch is from its darkest, 0 to 1.
        high: `(24,)` share of pixels with a channel at the top of its range.
        low: `(24,)` share of pixels with a channel at 0.
        spots: `(24, 2)` middles, x, y as shares of the picture's width and height.
        side: side of a patch's measured core in pixels of the scan.
    """

    codes: NDArray[np.float64]
    spread: NDArray[np.float64]
    uneven: NDArray[np.float64]
    high: NDArray[np.float64]
    low: NDArray[np.float64]
    spots: NDArray[np.float64]
    side: float


def codes_of(picture: Picture) -> Codes:
    """Return a picture's `(h, w, 3)` codes at the depth of its file."""
    return picture.rgb16 if picture.rgb16 is not None else np.ascontiguousarray(picture.rgba[:, :, :3])


def measure_patches(picture: Picture, found: Found) -> Patches:
    """Measure the chart in a picture.

    Args:
        picture: the scan, not yet corrected.
        found: where the chart lies.
    """
    codes = codes_of(picture)
    side = _CORE * _pitch(found)
    cores = [_core(codes, found, patch, side) for patch in range(PATCHES)]
    top = np.iinfo(codes.dtype).max
    means, spreads = zip(*(robust_mean(core.reshape(-1, 3) / top) for core in cores), strict=True)
    size = np.array([picture.width, picture.height])
    return Patches(
        codes=np.array(means),
        spread=np.array(spreads),
        uneven=np.array([_uneven(core) / top for core in cores]),
        high=np.array([float((core == top).any(axis=2).mean()) for core in cores]),
        low=np.array([float((core == 0).any(axis=2).mean()) for core in cores]),
        spots=(found.spots() + 0.5) / size,
        side=side,
    )


def _pitch(found: Found) -> float:
    """Return the smallest distance between the middles of neighbors, in pixels."""
    spots = found.spots().reshape(ROWS, COLUMNS, 2)
    across = np.hypot(*np.moveaxis(np.diff(spots, axis=1), -1, 0)).min()
    down = np.hypot(*np.moveaxis(np.diff(spots, axis=0), -1, 0)).min()
    return float(min(across, down))


def _core(codes: Codes, found: Found, patch: int, side: float) -> Codes:
    """Cut a patch's core out, upright, of pixels as they are: mixing would hide what is clipped."""
    pixels = int(min(max(3.0, side), _MOST_SIDE))
    row, column = divmod(patch, COLUMNS)
    step = _CORE / pixels
    first = -_CORE / 2 + step / 2
    into = np.array([[step, 0, column + first], [0, step, row + first], [0, 0, 1]])
    flags = cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    cut = cv2.warpPerspective(codes, found.place @ into, (pixels, pixels), flags=flags)
    return cast(Codes, cut)


def robust_mean(pixels: NDArray[np.float64]) -> tuple[NDArray[np.float64], float]:
    """Return the mean color of the `(n, 3)` pixels near the median, and their robust standard deviation."""
    middle = np.median(pixels, axis=0)
    apart = np.abs(pixels - middle)
    sigma = 1.4826 * np.median(apart, axis=0)
    near = (apart <= _OUTLIER * sigma + 1.0 / 255).all(axis=1)
    return pixels[near].mean(axis=0), float(sigma.max())


def _uneven(core: Codes) -> float:
    blocks = [part for band in np.array_split(core, _BLOCKS) for part in np.array_split(band, _BLOCKS, 1)]
    gray = np.array([np.median(block.mean(axis=2)) for block in blocks if block.size])
    return float(gray.max() - gray.min())
