"""The 24-patch chart and the blank sheet, as they lie on the flatbed of scene 016."""

import cv2
import numpy as np

from drawing_kit.cel import WIDTH, Pixels
from drawing_kit.curves import Array
from drawing_kit.flatbed import HEIGHT, digitized

LAB = (
    (37.54, 14.37, 14.92), (64.66, 19.27, 17.5), (49.32, -3.82, -22.54), (43.46, -12.74, 22.72),
    (54.94, 9.61, -24.79), (70.48, -32.26, -0.37), (62.73, 35.83, 56.5), (39.43, 10.75, -45.17),
    (50.57, 48.64, 16.67), (30.1, 22.54, -20.87), (71.77, -24.13, 58.19), (71.51, 18.24, 67.37),
    (28.37, 15.42, -49.8), (54.38, -39.72, 32.27), (42.43, 51.05, 28.62), (81.8, 2.67, 80.41),
    (50.63, 51.28, -14.12), (49.57, -29.71, -28.32), (95.19, -1.03, 2.93), (81.29, -0.57, 0.44),
    (66.89, -0.75, -0.06), (50.76, -0.13, 0.14), (35.63, -0.46, -0.48), (20.64, 0.07, -0.46),
)  # fmt: skip
"""L*a*b* under D50, row by row: `DATA_COLORCHECKER24_AFTER_NOV2014_CIE_LAB` of colour-science 0.4.7."""

PAPER, MOUNT = (93.0, 0.3, -1.0), (14.0, 0.2, 0.3)
"""L*a*b* of the sheet and of the chart's frame; invented."""

WORN = 0.2
"""L*a*b*: standard deviation by which a well-kept chart is off what is published; invented."""

PITCH, SHOWN = 216, 0.86
"""Pixels from patch to patch, and how much of that is patch."""

BLANK = (WIDTH // 2, HEIGHT // 2)
"""Pixels of the blank sheet's scan, taken at half the resolution: its light is smooth."""


def chart_scan() -> Pixels:
    """The scan of the chart: it lies a little turned on white paper."""
    chance = np.random.default_rng(24)
    light = np.empty((HEIGHT, WIDTH, 3))
    light[:] = light_of(np.array(PAPER))
    left, top = (WIDTH - 6 * PITCH) // 2, (HEIGHT - 4 * PITCH) // 2
    rim = round(0.12 * PITCH)
    light[top - rim : top + 4 * PITCH + rim, left - rim : left + 6 * PITCH + rim] = light_of(np.array(MOUNT))
    side, gap = round(SHOWN * PITCH), round((1 - SHOWN) / 2 * PITCH)
    for patch, lab in enumerate(np.array(LAB) + chance.normal(0, WORN, (24, 3))):
        y, x = top + patch // 6 * PITCH + gap, left + patch % 6 * PITCH + gap
        light[y : y + side, x : x + side] = light_of(lab)
    turn = cv2.getRotationMatrix2D((WIDTH / 2, HEIGHT / 2), -1.3, 1.0)
    turned = cv2.warpAffine(
        light.astype(np.float32), turn, (WIDTH, HEIGHT), flags=cv2.INTER_AREA, borderMode=cv2.BORDER_REPLICATE
    )
    return digitized(turned * _grain(chance, (HEIGHT, WIDTH)), chance)


def blank_scan() -> Pixels:
    """The scan of a white sheet that covers the bed, at half the resolution."""
    chance = np.random.default_rng(25)
    width, height = BLANK
    sheet = np.broadcast_to(light_of(np.array(PAPER)), (height, width, 3))
    return digitized(sheet.astype(np.float32) * _grain(chance, (height, width)), chance)


def light_of(lab: Array) -> Array:
    """Linear sRGB (..., 3) of L*a*b* under D50; out of gamut it is below 0 or above 1, as light is.

    CIE 15 for L*a*b*; D50 to D65 by the Bradford matrix.
    """
    f = (lab[..., :1] + 16) / 116 + np.concatenate(
        [lab[..., 1:2] / 500, 0 * lab[..., :1], -lab[..., 2:] / 200], -1
    )
    xyz = np.where(f > 6 / 29, f**3, (f - 4 / 29) * 3 * (6 / 29) ** 2) * D50
    return xyz @ TO_SRGB.T


D50 = np.array([0.96422, 1.0, 0.82521])
TO_SRGB = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
"""From XYZ under D50 to linear sRGB (D65, Bradford): from memory; a test holds it against colour-science."""


def _grain(chance: np.random.Generator, shape: tuple[int, int]) -> Array:
    return (1 + 0.004 * chance.standard_normal(shape, np.float32))[..., None]
