"""From the scan of a chart to a scanner's profile, or the reason why not."""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.picture.picture import Picture
from cel_check.scan.chart import NAMES, NEUTRAL, PATCHES, Chart, Edition, published
from cel_check.scan.correct import Fit, Seen, fits, plain_matrix, tone_curves
from cel_check.scan.find_chart import Found, NotFound, chart_at, find_chart
from cel_check.scan.light import Light
from cel_check.scan.lit import light_of
from cel_check.scan.patches import Patches, codes_of, measure_patches
from cel_check.scan.profile import Residual
from cel_check.scan.refuse import Reason, doubtful, misfit, not_found, unfit

_ROUNDS = 3
"""The curve needs the light and the light the curve: after the first round they move by less than 0.1 %."""

_BLANK_SIDE = 1200
"""Pixels of the blank sheet's longer side that its light is taken from."""

_BETTER = 0.8
"""Share of the residual that the other edition must leave to be named as the likelier one."""


@dataclass(frozen=True, eq=False)
class Calibration:
    """What a chart's scan gave.

    Attributes:
        chart: the reference.
        found: where the chart lies.
        patches: as measured.
        fit: the correction that holds.
        kinds: mean ΔE00 of patches left out, by kind of correction.
        light: the light on the bed, or None.
        residual: how well patches are predicted that were left out.
        notes: what a person should know, one sentence each.
    """

    chart: Chart
    found: Found
    patches: Patches
    fit: Fit
    kinds: tuple[tuple[str, float], ...]
    light: Light | None
    residual: Residual
    notes: tuple[str, ...]


def calibrate(
    scan: Picture, chart: Chart, blank: Picture | None, corners: NDArray[np.float64] | None
) -> Calibration | Reason:
    """Calibrate a scanner.

    Args:
        scan: the chart's scan.
        chart: its reference.
        blank: the scan of a blank sheet, to even the light by; or None.
        corners: `(4, 2)` middles of the corner patches (see `chart_at`); None to find the chart.

    Returns:
        The calibration, or why there is none.
    """
    found = _found(scan, chart, corners)
    if isinstance(found, NotFound):
        return not_found(found)
    size = np.array([scan.width, scan.height])
    if ((found.spots() < 0) | (found.spots() > size - 1)).any():
        return Reason("the chart runs past its edge", "Scan the whole chart, or mend the --corners")
    patches = measure_patches(scan, found)
    reason = unfit(patches)
    if reason is not None:
        return reason
    light, fallen = None, np.ones((PATCHES, 3))
    if blank is not None:
        light = _light(blank, patches, chart)
        if light is None:
            wrong = "the scan of the blank sheet shows no even sheet"
            return Reason(wrong, "Scan a plain white sheet that covers the whole bed")
        fallen = light.at(patches.spots)
    seen = Seen(patches.codes, fallen, chart)
    ranked = fits(seen)
    reason = misfit(ranked[0], chart)
    if reason is not None:
        return reason
    kinds = tuple((fit.correction.kind.value, float(fit.left_out.mean())) for fit in ranked)
    notes = _notes(patches, seen, ranked[0])
    residual = _residual(ranked[0], patches, chart)
    return Calibration(chart, found, patches, ranked[0], kinds, light, residual, notes)


def _found(scan: Picture, chart: Chart, corners: NDArray[np.float64] | None) -> Found | NotFound:
    if corners is not None:
        return chart_at(corners)
    return find_chart(np.ascontiguousarray(scan.rgba[:, :, :3]), chart)


def _light(blank: Picture, patches: Patches, chart: Chart) -> Light | None:
    """Return the blank sheet's light; curve and light are found in turns, each with the other's last."""
    codes = codes_of(blank)
    scale = min(1.0, _BLANK_SIDE / max(codes.shape[:2]))
    top = np.iinfo(codes.dtype).max
    small = cv2.resize(codes, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA).astype(np.float64) / top
    everything = np.ones(PATCHES, bool)
    fallen = np.ones((PATCHES, 3))
    light = None
    for _ in range(_ROUNDS):
        curves = tone_curves(Seen(patches.codes, fallen, chart), everything)
        linear = np.stack([curve.light(small[:, :, c]) for c, curve in enumerate(curves)], axis=-1)
        found = light_of(linear.astype(np.float32))
        if found is None:
            return None
        light = Light(found.terms, blank.width, blank.height)
        fallen = light.at(patches.spots)
    return light


def _residual(fit: Fit, patches: Patches, chart: Chart) -> Residual:
    worst = int(fit.left_out.argmax())
    plain = plain_matrix(patches.codes, chart)
    return Residual(
        mean=float(fit.left_out.mean()),
        p95=float(np.percentile(fit.left_out, 95)),
        worst=float(fit.left_out[worst]),
        worst_patch=NAMES[worst],
        plain_mean=float(plain.mean()),
        plain_p95=float(np.percentile(plain, 95)),
    )


def _notes(patches: Patches, seen: Seen, fit: Fit) -> tuple[str, ...]:
    chart = seen.chart
    notes = []
    low = [NAMES[p] for p in range(PATCHES) if patches.low[p] > 0.01 and p not in NEUTRAL]
    if low:
        names = " and ".join(low)
        notes.append(f"A channel is at 0 in {names}: such colors lie outside the file's own color space.")
    if odd := doubtful(fit):
        notes.append(odd)
    if chart.edition in tuple(Edition):
        other = published(Edition.BEFORE if chart.edition == Edition.AFTER else Edition.AFTER)
        left = fits(replace(seen, chart=other))[0].left_out
        if left.mean() < _BETTER * fit.left_out.mean():
            notes.append(
                f"The colors fit the edition {other.edition} better (mean {left.mean():.2f} ΔE00 for "
                f"{fit.left_out.mean():.2f}): look at the chart's date."
            )
    return tuple(notes)
