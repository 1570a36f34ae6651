"""Takes a strip apart that is a picture: a gray chip under no cel, one cel, and so on, side by side.

Along the longer side the chip is one even band after the other. A band ends where the light of a short
stretch is not that of the stretch before it; the largest such steps are taken first.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb_to_linear
from cel_check.errors import BadInput, Problem
from cel_check.model.cels_above import LEAST_BANDS, MOST_BANDS, Strip
from cel_check.picture.picture import Picture
from cel_check.scan.apply import linear_srgb
from cel_check.scan.patches import codes_of, robust_mean
from cel_check.scan.profile import Profile

Floats = NDArray[np.float64]

_LEAST_LONG = 120
"""Pixels of the longer side: bands of a dozen pixels at least."""

_CORE = 0.5
"""Share of the strip's width, and of each band's length, that is measured: rims and cels' edges stay out."""

_STRETCHES = 60
"""Stretches in the strip's length that are held against each other."""

_STEP, _NOISE = 0.012, 6.0
"""Share of the chip's light that a band's step is at least (a cel takes 4 % and more: no cel is clearer than
its two faces), and robust standard deviations of the noise that it stands out by."""

_MEND = "Crop the picture to the chip: bare at one end, under one cel more from band to band, in even light."


def strip_in(picture: Picture, file: str, profile: Profile | None) -> Strip:
    """Return the strip that a picture shows.

    Args:
        picture: the chip alone, its bands along the longer side, from either end.
        file: its path, for messages.
        profile: the scanner's; None where the file's own colors hold.

    Raises:
        BadInput: where it does not show such bands.
    """
    codes = codes_of(picture)
    if profile is not None:
        linear = linear_srgb(codes, profile).astype(np.float64)
    else:
        linear = srgb_to_linear(codes / np.iinfo(codes.dtype).max)
    if linear.shape[0] > linear.shape[1]:
        linear = linear.swapaxes(0, 1)
    if linear.shape[1] < _LEAST_LONG:
        wrong = f"{linear.shape[1]} pixels are too few for bands"
        raise BadInput(Problem(file, "", wrong, f"Scan at 150 dpi or more, {_LEAST_LONG} pixels at least."))
    rim = int(linear.shape[0] * (1 - _CORE) / 2)
    bands = _bands(linear[rim : linear.shape[0] - rim])
    if not LEAST_BANDS <= len(bands) <= MOST_BANDS:
        wrong = f"it shows {len(bands)} even bands, where a chip under 0 to 4 cels has 5"
        raise BadInput(Problem(file, "", wrong, _MEND))
    gray = bands.mean(axis=1)
    if gray[0] < gray[-1]:
        bands, gray = bands[::-1], gray[::-1]
    if (np.diff(gray) >= 0).any():
        odd = int(np.argmax(np.diff(gray) >= 0)) + 1
        wrong = f"band {odd + 1} from the light end is lighter than the one before it"
        raise BadInput(Problem(file, "", wrong, _MEND))
    return Strip(file, bands)


def _bands(chip: Floats) -> Floats:
    """Return the robust mean `(n, 3)` of each band of a chip's light `(h, w, 3)`; noise and dust go out."""
    length = chip.shape[1]
    cuts = [0, *sorted(_steps(np.median(chip, axis=0).mean(axis=1))), length]
    stretch = length // _STRETCHES
    bands = []
    for start, end in pairwise(cuts):
        rim = max(stretch, int((end - start) * (1 - _CORE) / 2))
        if end - start > 2 * rim:
            bands.append(robust_mean(chip[:, start + rim : end - rim].reshape(-1, 3))[0])
    return np.array(bands).reshape(-1, 3)


def _steps(light: Floats) -> list[int]:
    """Return the places along a line where one band ends and the next begins, the largest step first."""
    stretch = max(2, len(light) // _STRETCHES)
    total = np.concatenate([[0.0], np.cumsum(light)])
    at = np.arange(stretch, len(light) - stretch + 1)
    step = np.abs(total[at + stretch] - 2 * total[at] + total[at - stretch]) / stretch
    noise = 1.4826 * float(np.median(step))
    least = max(_STEP * float(light.max()), min(_NOISE * noise, 0.05 * float(light.max())))
    found = []
    while step.size and step.max() > least:
        best = int(step.argmax())
        found.append(int(at[best]))
        step[max(0, best - 2 * stretch) : best + 2 * stretch + 1] = 0.0
    return found
