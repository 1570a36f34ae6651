"""The picture of a calibration: each patch as measured beside its reference, and how far they are apart."""

from io import BytesIO

import numpy as np
from PIL import Image, ImageDraw

from cel_check.color.spaces import White, lab_to_srgb, to_8_bit
from cel_check.report.lettering import fitted, font
from cel_check.scan.calibrate import Calibration
from cel_check.scan.chart import COLUMNS, NAMES, ROWS

_CELL, _GAP, _HEAD, _FOOT = 180, 14, 96, 34
_GROUND, _TYPE, _FAINT, _MARK = (40, 40, 40), (240, 240, 240), (170, 170, 170), (255, 200, 0)

_SEEN = 2.0
"""ΔE00 from which a patch is marked: what models allow where they say nothing (settings.tolerance)."""


def calibration_png(calibration: Calibration) -> bytes:
    """Return the picture as PNG: the outer square is the reference, the inner one what was measured."""
    width = _GAP + COLUMNS * (_CELL + _GAP)
    image = Image.new("RGB", (width, _HEAD + ROWS * (_CELL + _FOOT + _GAP) + _GAP), _GROUND)
    draw = ImageDraw.Draw(image)
    for line, text in enumerate(_heading(calibration)):
        size = 24 - 6 * min(line, 1)
        color = _FAINT if line else _TYPE
        draw.text((_GAP, 12 + 32 * line), fitted(text, size, width - 2 * _GAP), color, font(size, not line))
    reference = _shown(calibration.chart.lab)
    measured = _shown(calibration.fit.left_out_lab)
    for patch in range(len(NAMES)):
        _cell(draw, calibration, patch, (reference[patch], measured[patch]))
    out = BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()


def _heading(calibration: Calibration) -> tuple[str, str]:
    residual = calibration.residual
    kind = calibration.fit.correction.kind.value
    return (
        f"Measured (inside) against reference {calibration.chart.edition} (outside)",
        f"Correction {kind}; each patch as the other 23 predict it: mean {residual.mean:.2f}, "
        f"95th percentile {residual.p95:.2f}, worst {residual.worst:.2f} ΔE00 ({residual.worst_patch})",
    )


def _shown(lab: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[tuple[int, ...]]:
    srgb, _ = lab_to_srgb(lab, White.D50)
    return [tuple(int(v) for v in color) for color in to_8_bit(srgb)]


def _cell(
    draw: ImageDraw.ImageDraw,
    calibration: Calibration,
    patch: int,
    colors: tuple[tuple[int, ...], tuple[int, ...]],
) -> None:
    row, column = divmod(patch, COLUMNS)
    x = _GAP + column * (_CELL + _GAP)
    y = _HEAD + row * (_CELL + _FOOT + _GAP)
    inset = _CELL // 4
    draw.rectangle((x, y, x + _CELL - 1, y + _CELL - 1), fill=colors[0])
    draw.rectangle((x + inset, y + inset, x + _CELL - 1 - inset, y + _CELL - 1 - inset), fill=colors[1])
    apart = float(calibration.fit.left_out[patch])
    far = apart > _SEEN
    # Far ones bear a sign beside their color, since hue alone is not seen by everyone.
    text = f"{'! ' if far else ''}{apart:.2f}"
    draw.text((x + _CELL, y + _CELL + 6), text, _MARK if far else _TYPE, font(16, True), anchor="ra")
    draw.text((x, y + _CELL + 6), fitted(NAMES[patch], 16, _CELL - 62), _FAINT, font(16))
