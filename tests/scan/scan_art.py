"""Charts and cels as a scanner of known faults would see them. All figures of the scanners are invented."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import White, adapt, lab_to_xyz, linear_to_srgb, xyz_d65_to_linear
from cel_check.picture.picture import Picture
from cel_check.scan.chart import COLUMNS, ROWS, Chart

Floats = NDArray[np.float64]

PAPER_LAB, MOUNT_LAB = (93.0, 0.5, -2.0), (13.0, 0.3, 0.4)


@dataclass(frozen=True)
class Scanner:
    """What a scanner does to linear sRGB light, in this order; `seed` draws its noise.

    mix: how its sensors' colors mix; fall: light lost at the far corner; gamma: of its tone curve (0: sRGB's
    own); flare: stray light, of 1; noise: standard deviation in levels of 255 in the mid-tones.
    """

    mix: tuple[tuple[float, float, float], ...] = ((0.9, 0.08, 0.02), (0.06, 0.85, 0.06), (0.02, 0.1, 0.78))
    fall: float = 0.0
    gamma: float = 0.0
    flare: float = 0.0
    gain: float = 0.95
    noise: float = 1.0
    seed: int = 1


PLAIN = Scanner(mix=((0.97, 0.02, 0.01), (0.02, 0.96, 0.02), (0.01, 0.02, 0.97)), noise=0.6)
WARM = Scanner(mix=((0.98, 0.10, 0.02), (0.10, 0.80, 0.05), (0.03, 0.12, 0.62)), noise=1.5, gamma=1.8)
DULL = Scanner(gain=0.8, flare=0.01, noise=2.0, gamma=2.4, fall=0.06)


def linear_of_lab(lab: object) -> Floats:
    """Linear sRGB of L*a*b* under D50; beyond 0 to 1 where out of gamut, as light is."""
    xyz = adapt(lab_to_xyz(np.asarray(lab, np.float64), White.D50), White.D50, White.D65)
    return xyz_d65_to_linear(xyz)


def light(shape: tuple[int, int], fall: float) -> Floats:
    """Fall-off of a lamp that stands near the top left, 1 where it is brightest."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]] / np.array([[[shape[0]]], [[shape[1]]]])
    return 1.0 - fall * ((x - 0.3) ** 2 + (y - 0.2) ** 2)


def scanned(linear: Floats, scanner: Scanner, bits: int = 8) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Scan `(h, w, 3)` linear sRGB."""
    rng = np.random.default_rng(scanner.seed)
    seen = (
        np.maximum(linear @ np.array(scanner.mix).T, 0.0) * light(linear.shape[:2], scanner.fall)[..., None]
    )
    seen = seen * scanner.gain + scanner.flare
    codes = linear_to_srgb(seen) if scanner.gamma == 0 else np.clip(seen, 0, None) ** (1 / scanner.gamma)
    codes = codes + rng.normal(0, scanner.noise / 255, codes.shape)
    top = 2**bits - 1
    return np.rint(np.clip(codes, 0, 1) * top).astype(np.uint8 if bits == 8 else np.uint16)


def chart_light(chart: Chart, pitch: int = 60, margin: int = 60, covered: int = -1) -> Floats:
    """Linear sRGB of a chart that lies upright on paper; `covered` is a patch under a paper strip."""
    gap = round(0.075 * pitch)
    height, width = ROWS * pitch + 2 * gap, COLUMNS * pitch + 2 * gap
    image = np.empty((height + 2 * margin, width + 2 * margin, 3))
    image[:] = linear_of_lab(PAPER_LAB)
    image[margin : margin + height, margin : margin + width] = linear_of_lab(MOUNT_LAB)
    for patch, color in enumerate(linear_of_lab(chart.lab)):
        top = margin + gap + (patch // COLUMNS) * pitch + gap
        left = margin + gap + (patch % COLUMNS) * pitch + gap
        shown = linear_of_lab(PAPER_LAB) if patch == covered else color
        image[top : top + pitch - 2 * gap, left : left + pitch - 2 * gap] = shown
    return image


def corners_of(pitch: int = 60, margin: int = 60) -> Floats:
    """Middles of the corner patches of `chart_light`: dark skin, bluish green, black, white."""
    first = margin + round(0.075 * pitch) + (pitch - 1) / 2
    right, down = first + (COLUMNS - 1) * pitch, first + (ROWS - 1) * pitch
    return np.array([[first, first], [right, first], [right, down], [first, down]])


def turned(linear: Floats, degrees: float, tilt: float = 0.0) -> tuple[Floats, Floats]:
    """Turn about the middle (clockwise on screen) and tilt; the paper goes on around it.

    Returns:
        The picture and the 3 x 3 homography that took each x, y to its new place.
    """
    height, width = linear.shape[:2]
    angle = np.radians(degrees)
    reach = abs(np.cos(angle)), abs(np.sin(angle))
    size = (int(width * reach[0] + height * reach[1]) + 2, int(width * reach[1] + height * reach[0]) + 2)
    to_middle = np.array([[1, 0, -(width - 1) / 2], [0, 1, -(height - 1) / 2], [0, 0, 1]])
    turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    lean = np.array([[1, 0, 0], [0, 1, 0], [tilt / width, tilt / (2 * height), 1]])
    back = np.array([[1, 0, (size[0] - 1) / 2], [0, 1, (size[1] - 1) / 2], [0, 0, 1]])
    move = back @ lean @ turn @ to_middle
    paper = tuple(float(v) for v in linear_of_lab(PAPER_LAB))
    out = cv2.warpPerspective(linear, move, size, flags=cv2.INTER_AREA, borderValue=paper)
    return np.asarray(out, np.float64), move


def picture_of(rgb: NDArray[np.uint8] | NDArray[np.uint16], dpi: float | None = 300.0) -> Picture:
    """A picture as the reader gives it."""
    deep = np.asarray(rgb, np.uint16) if rgb.dtype == np.uint16 else None
    shallow = np.rint(rgb / 257.0).astype(np.uint8) if rgb.dtype == np.uint16 else rgb
    rgba = np.dstack([shallow, np.full(rgb.shape[:2], 255, np.uint8)])
    return Picture(np.ascontiguousarray(rgba, np.uint8), deep, True, "0" * 64, dpi, ())


def punched(
    size: tuple[int, int],
    dpi: float,
    turn: float = 0.0,
    shift_mm: tuple[float, float] = (0.0, 0.0),
    **holes: object,
) -> tuple[Floats, Floats]:
    """Linear light of a sheet on a card with the common punch's holes along the bottom edge.

    The sheet is turned (degrees, clockwise on screen) about its round hole, then shifted. `card` and `hole`
    are linear gray; `torn` leaves out or tears holes (0 left, 1 middle, 2 right); `top` has them at the top.

    Returns:
        The picture and the `(2, 3)` move from places in register to places in the scan.
    """
    card, hole = float(holes.get("card", 0.35)), float(holes.get("hole", 0.85))  # type: ignore[arg-type]
    torn = dict(holes.get("torn", {}))  # type: ignore[call-overload]
    width, height = size
    place = np.array([(width - 1) / 2, 0.4 * dpi if holes.get("top") else height - 1 - 0.4 * dpi])
    c, s = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    rotation = np.array([[c, -s], [s, c]])
    move = np.column_stack([rotation, place - rotation @ place + np.array(shift_mm) / 25.4 * dpi])
    image = np.full((height, width, 3), card) * np.array([0.95, 1.0, 0.93])
    fine, reach = 4, round(0.4 * dpi)
    for n, step in enumerate((-1, 0, 1)):
        kind = torn.get(n, "whole")
        if kind == "missing":
            continue
        middle = move @ [place[0] + step * 4.0 * dpi, place[1], 1.0]
        corner = np.rint(middle).astype(int) - reach
        y, x = (np.mgrid[0 : 2 * reach * fine, 0 : 2 * reach * fine] + 0.5) / fine - 0.5
        u, v = (
            np.tensordot(rotation.T, np.stack([x + corner[0] - middle[0], y + corner[1] - middle[1]]), 1)
            / dpi
        )
        inside = u**2 + v**2 < 0.125**2 if n == 1 else (abs(u) < 0.25) & (abs(v) < 0.0625)
        if kind == "torn":
            inside |= (abs(u) < 0.16) & (v > 0) & (v < 0.38)
        cover = inside.reshape(2 * reach, fine, 2 * reach, fine).mean(axis=(1, 3))[..., None]
        rows = slice(max(0, corner[1]), min(height, corner[1] + 2 * reach))
        columns = slice(max(0, corner[0]), min(width, corner[0] + 2 * reach))
        cover = cover[
            rows.start - corner[1] : rows.stop - corner[1],
            columns.start - corner[0] : columns.stop - corner[0],
        ]
        image[rows, columns] = image[rows, columns] * (1 - cover) + hole * cover
    return image, move
