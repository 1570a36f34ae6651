"""What makes a chart's scan unfit for a profile: each reason in one line, with its mend."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.scan.chart import NAMES, NEUTRAL, Chart
from cel_check.scan.correct import Fit
from cel_check.scan.curve import rises
from cel_check.scan.find_chart import NotFound
from cel_check.scan.patches import Patches

_LEAST_SIDE = 8.0
"""Pixels a side of a patch's core: 64 average noise of 2 levels to a quarter of one."""

_CLIPPED = 0.01
"""Share of a patch's pixels at the end of their range from which its mean is false."""

_MANY_LOW = 3
"""Colored patches with a channel at 0 from which shadows were cut off. One or two may be a color (the chart's
cyan) that lies outside the file's own color space."""

_UNEVEN = 0.06
"""How far one part of a patch may be brighter than another: 15 levels of 255; a highlight is 20 and more."""

_LEAST_RATIO = 9.0
"""Light of white over black: 31 on the chart; flare over the whole bed brings it down."""

_ODD, _SPOILED = 8.0, 0.6
"""ΔE00 of a patch from which it is not the chart's own, where the others agree so much better without it."""

_DOUBTFUL, _ALONE = 4.0, 2.0
"""ΔE00 of a patch, and times the next worst, from which a person must look: paper over the white is 5.7 off,
2.3 times the next (simulated). On measured spectra (`tests/bench/calibration.py`) none is."""

_WORST_MEAN = 5.0
"""Mean ΔE00 of patches left out from which it is no use to correct with (3x3 on a poor camera: 2.5)."""


_WIPE = "Uncover and wipe the chart, then scan it again"


@dataclass(frozen=True)
class Reason:
    """Why a chart is refused: what is wrong, and the mend."""

    wrong: str
    mend: str


def not_found(found: NotFound) -> Reason:
    """Return the reason where no chart was found."""
    if found.mirrored:
        return Reason(
            "the chart is mirrored", "Lay the chart face down, or switch mirroring off, and scan again"
        )
    if found.patches < 6:
        return Reason(
            "there is no 24-patch chart in it",
            "Scan the whole chart, or name its corner patches' middles with --corners",
        )
    return Reason(
        f"no 24-patch chart was found in it ({found.patches} squares stand in a grid)",
        "Scan the whole chart, uncovered, or name its corner patches' middles with --corners",
    )


def unfit(patches: Patches) -> Reason | None:
    """Return what speaks against the patches as measured, before anything is fitted."""
    if patches.side < _LEAST_SIDE:
        wrong = f"the chart is too small: {patches.side:.0f} pixels of a patch can be measured"
        return Reason(wrong, "Scan it at 150 dpi or more")
    for reason in (_clipped(patches), _glare(patches), _washed_out(patches)):
        if reason is not None:
            return reason
    return None


def misfit(fit: Fit, chart: Chart) -> Reason | None:
    """Return what speaks against the chart after the fit: a patch not its own, or a wrong reference."""
    apart = fit.left_out
    odd = int(fit.others.argmin())
    if apart[odd] > _ODD and fit.others[odd] < _SPOILED * float(np.median(fit.others)):
        wrong = (
            f"patch {_named([odd])} is {apart[odd]:.0f} ΔE00 from what the others say: "
            "it is covered, dirty or in a highlight"
        )
        return Reason(wrong, _WIPE)
    if apart.mean() > _WORST_MEAN:
        wrong = f"its colors do not fit the reference {chart.edition} (mean {apart.mean():.1f} ΔE00)"
        mend = "Give the chart's own --edition or --reference, and scan with all automatic correction off"
        return Reason(wrong, mend)
    return None


def doubtful(fit: Fit) -> str:
    """Return what to say of a patch that alone is far from the others' word; empty where there is none."""
    worst = int(fit.left_out.argmax())
    off = float(fit.left_out[worst])
    if off <= _DOUBTFUL or off < _ALONE * float(np.sort(fit.left_out)[-2]):
        return ""
    return (
        f"Patch {_named([worst])} is {off:.1f} ΔE00 from what the others say, and no other is half as far: "
        "look whether it is clean and uncovered."
    )


def _clipped(patches: Patches) -> Reason | None:
    high = np.flatnonzero(patches.high > _CLIPPED)
    if len(high):
        wrong = f"patch {_named(high)} is clipped at the bright end"
        return Reason(wrong, "Lower the exposure or the white point and scan again")
    low = np.flatnonzero(patches.low > _CLIPPED)
    gray = low[np.isin(low, NEUTRAL)]
    if len(gray) or len(low) >= _MANY_LOW:
        wrong = f"patch {_named(gray if len(gray) else low)} is clipped at the dark end"
        return Reason(wrong, "Set the black point to 0 and scan again")
    return None


def _glare(patches: Patches) -> Reason | None:
    uneven = np.flatnonzero(patches.uneven > _UNEVEN)
    if not len(uneven):
        return None
    wrong = f"patch {_named(uneven)} is uneven: glare, a shadow or dirt lies on it"
    return Reason(wrong, "Wipe the chart, turn the lamps to 45 degrees, and scan again")


def _washed_out(patches: Patches) -> Reason | None:
    grays = patches.codes[list(reversed(NEUTRAL))]
    if not _rising(grays):
        odd = [p for n, p in enumerate(reversed(NEUTRAL)) if _rising(np.delete(grays, n, axis=0))]
        if odd:
            return Reason(
                f"gray patch {_named(odd)} is out of order: it is covered, dirty or in a highlight", _WIPE
            )
        return Reason(
            "the gray row does not go from white to black",
            "Scan with all automatic correction off, glare-free",
        )
    ratio = float(((grays[-1] + 0.02) / (grays[0] + 0.02)).min()) ** 2.2
    if ratio < _LEAST_RATIO:
        wrong = f"black is too bright: white is only {ratio:.0f} times as light, where the chart has 31"
        return Reason(wrong, "Keep stray light and reflections off the chart, and scan again")
    return None


def _rising(grays: NDArray[np.float64]) -> bool:
    """Tell whether every channel of grays, from dark to light, makes a curve."""
    return all(rises(grays[:, channel], np.arange(1.0, len(grays) + 1)) for channel in range(3))


def _named(patches: Sequence[int] | NDArray[np.intp]) -> str:
    """Return `19 (white 9.5)`, with how many more there are."""
    first = int(patches[0])
    more = f" and {len(patches) - 1} more" if len(patches) > 1 else ""
    return f"{first + 1} ({NAMES[first]}){more}"
