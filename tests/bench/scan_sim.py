"""Scans of cels as a flatbed would give them: a model of its own, all figures drawn at random and invented.

Paint is reflectance with brush texture and grain, on acetate with a tint, over a card on which the paint's
edge throws a shadow. The sheet lies turned and shifted; the scanner has a fall-off of light, a mix of
channels, a tone curve, blur, noise, and dust and hairs on its glass.
"""

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from cel_check.color.spaces import linear_to_srgb, srgb_to_linear

DPI = 300
WIDTH, HEIGHT = 3600, 2625
STRIP = 300
"""Pixels at the bottom that the peg holes need."""

CARDS = ((127, 168, 160), (150, 150, 152), (168, 140, 172), (120, 140, 170), (176, 164, 130))
"""Cards, sRGB; the one farthest from the model's colors is laid behind the cel."""

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class Bed:
    """One scanner and one cel's lie on it.

    Attributes:
        mix: `3 x 3`, how its sensors' colors mix.
        gamma: of its tone curve; 0 is sRGB's own.
        gain: exposure.
        fall: light lost toward the far corner.
        noise: levels of 255, one standard deviation.
        blur: pixels, one standard deviation.
        texture: relative, slow changes of the paint's reflectance.
        grain: relative, from pixel to pixel.
        tint: of the acetate, both ways.
        turn: degrees, clockwise on screen.
        shift: millimeters right and down.
        dust: specks and hairs on the clear cel.
        jpeg: quality, 0 for none.
    """

    mix: tuple[tuple[float, float, float], ...]
    gamma: float
    gain: float
    fall: float
    noise: float
    blur: float
    texture: float
    grain: float
    tint: tuple[float, float, float]
    turn: float
    shift: tuple[float, float]
    dust: int
    jpeg: int


def draw_bed(seed: int, held: bool) -> Bed:
    """Draw a scanner and a lie; tuning and held scanners come from sets of numbers that do not meet."""
    rng = np.random.default_rng([seed, 7919 if held else 104729])
    off = rng.uniform(0.02, 0.12, 6)
    mix = tuple(
        tuple(float(share) for share in row)
        for row in (
            (1 - off[0], off[0] * 0.8, off[1] * 0.2),
            (off[2] * 0.6, 1 - off[2] - off[3] * 0.4, off[3] * 0.4),
            (off[4] * 0.2, off[5] * 0.8, 1 - off[5]),
        )
    )
    distance = 5.0 * np.sqrt(rng.random())
    angle = rng.uniform(0, 2 * np.pi)
    return Bed(
        mix=mix,  # type: ignore[arg-type]
        gamma=float(rng.choice([0.0, 1.8, 2.2])),
        gain=float(rng.uniform(0.82, 0.96)),
        fall=float(rng.uniform(0.0, 0.05)),
        noise=float(rng.uniform(0.6, 2.0)),
        blur=float(rng.uniform(0.5, 0.9)),
        texture=float(rng.uniform(0.004, 0.015)),
        grain=float(rng.uniform(0.005, 0.015)),
        tint=tuple(float(v) for v in rng.uniform([0.95, 0.95, 0.9], [0.99, 0.99, 0.97])),  # type: ignore[arg-type]
        turn=float(rng.uniform(-2, 2)),
        shift=(float(distance * np.cos(angle)), float(distance * np.sin(angle))),
        dust=int(rng.integers(4, 14)),
        jpeg=int(rng.choice([0, 0, 95])),
    )


def card_for(colors: NDArray[np.uint8]) -> tuple[int, int, int]:
    """Return the card that no color of a model resembles."""
    lab = [
        cv2.cvtColor(np.array(c, np.uint8).reshape(1, -1, 3), cv2.COLOR_RGB2LAB)[0].astype(float)
        for c in (CARDS, colors)
    ]
    apart = np.linalg.norm(lab[0][:, None] - lab[1][None], axis=2).min(axis=1)
    return CARDS[int(apart.argmax())]


def lie_of(size: tuple[int, int]) -> tuple[float, float, float]:
    """Return the scale (1 where it has room), and x and y, at which a cel is laid on the sheet."""
    width, height = size
    scale = min((WIDTH - 160) / width, (HEIGHT - STRIP - 160) / height, 1.0)
    return scale, (WIDTH - width * scale) / 2, (HEIGHT - STRIP - height * scale) / 2


def move_of(bed: Bed) -> NDArray[np.float64]:
    """Return the `(2, 3)` move from places in register to places in the scan."""
    place = np.array([(WIDTH - 1) / 2, HEIGHT - 1 - 0.4 * DPI])
    c, s = np.cos(np.radians(bed.turn)), np.sin(np.radians(bed.turn))
    rotation = np.array([[c, -s], [s, c]])
    return np.column_stack([rotation, place - rotation @ place + np.array(bed.shift) / 25.4 * DPI])


def scan(
    rgba: NDArray[np.uint8], colors: NDArray[np.uint8], bed: Bed, seed: int, holes: str = "whole"
) -> NDArray[np.uint8]:
    """Scan `(h, w, 4)` straight-alpha art: `(2625, 3600, 3)` uint8 as the scanner writes it.

    `holes` is `whole`, `torn` (the left slot) or `none`.
    """
    rng = np.random.default_rng([seed, 31])
    sheet, alpha = _on_sheet(rgba, colors)
    rough = 1 + bed.grain * _noise(rng, (HEIGHT, WIDTH))
    slow = cv2.resize(
        _noise(rng, (HEIGHT // 12, WIDTH // 60)), (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC
    )
    rough += bed.texture * slow
    sheet *= (1 + (rough - 1) * alpha)[..., None]
    shadow = cv2.GaussianBlur(np.roll(alpha, (3, 2), (0, 1)), (0, 0), 3.0)
    sheet *= (1 - 0.10 * shadow * (1 - alpha))[..., None]
    sheet *= np.array(bed.tint, np.float32)
    _holes(sheet, holes)
    sheet = cv2.warpAffine(
        sheet, move_of(bed), (WIDTH, HEIGHT), flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    clear = cv2.warpAffine(alpha, move_of(bed), (WIDTH, HEIGHT)) < 0.01
    _dirt(sheet, clear, bed.dust, rng)
    return _written(sheet, bed, rng)


def scanned_light(linear: Floats, bed: Bed, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Scan linear light of any size: the same scanner for the chart."""
    return _written(np.asarray(linear, np.float32), bed, rng)


def _noise(rng: np.random.Generator, shape: tuple[int, int]) -> Floats:
    return rng.standard_normal(shape, np.float32)


def _on_sheet(rgba: NDArray[np.uint8], colors: NDArray[np.uint8]) -> tuple[Floats, Floats]:
    scale, x, y = lie_of((rgba.shape[1], rgba.shape[0]))
    move = np.array([[scale, 0, x], [0, scale, y]])
    alpha = rgba[..., 3:].astype(np.float32) / 255
    light = srgb_to_linear(rgba[..., :3] / 255.0).astype(np.float32) * alpha
    both = cv2.warpAffine(np.dstack([light, alpha]), move, (WIDTH, HEIGHT), flags=cv2.INTER_LINEAR)
    card = srgb_to_linear(np.array(card_for(colors)) / 255.0).astype(np.float32)
    return both[..., :3] + (1 - both[..., 3:]) * card, np.ascontiguousarray(both[..., 3])


def _holes(sheet: Floats, kind: str) -> None:
    if kind == "none":
        return
    mask = np.zeros(sheet.shape[:2], np.uint8)
    middle = np.array([(WIDTH - 1) / 2, HEIGHT - 1 - 0.4 * DPI])
    cv2.circle(
        mask, np.rint(middle * 16).astype(int).tolist(), round(0.125 * DPI * 16), 255, -1, cv2.LINE_AA, 4
    )
    for step in (-1, 1):
        spot = middle + np.array([step * 4.0 * DPI, 0.0])
        half = np.array([0.25, 0.0625]) * DPI
        if kind == "torn" and step < 0:
            half = half * (0.7, 5.0)
        corners = [np.rint(p).astype(int).tolist() for p in (spot - half, spot + half)]
        cv2.rectangle(mask, corners[0], corners[1], 255, -1)
    share = mask[..., None].astype(np.float32) / 255
    sheet *= 1 - share
    sheet += share * 0.9


def _dirt(sheet: Floats, clear: NDArray[np.bool_], count: int, rng: np.random.Generator) -> None:
    inside = clear.copy()
    inside[-STRIP - 60 :] = False
    spots = np.argwhere(cv2.erode(inside.astype(np.uint8), np.ones((41, 41), np.uint8)) > 0)
    for number in range(count):
        row, column = spots[rng.integers(len(spots))].tolist()
        tone = float(rng.choice([0.05, 0.8]))
        if number % 4 == 3:
            bend = np.cumsum(rng.normal(0, 6, (6, 2)), axis=0).astype(int) + np.array([column, row])
            cv2.polylines(sheet, [bend.reshape(-1, 1, 2)], False, (tone,) * 3, 1, cv2.LINE_AA)
        else:
            cv2.circle(sheet, (column, row), int(rng.integers(1, 2)), (tone,) * 3, -1, cv2.LINE_AA)


def _written(light: Floats, bed: Bed, rng: np.random.Generator) -> NDArray[np.uint8]:
    height, width = light.shape[:2]
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    lamp = 1 - bed.fall * ((x / width - 0.3) ** 2 + (y / height - 0.4) ** 2)
    seen = cv2.transform(light, np.array(bed.mix, np.float32)) * (lamp * bed.gain)[..., None]
    seen = cv2.GaussianBlur(np.clip(seen, 0, 1), (0, 0), bed.blur)
    ramp = np.arange(65536) / 65535
    table = (linear_to_srgb(ramp) if not bed.gamma else ramp ** (1 / bed.gamma)).astype(np.float32) * 255
    codes = table[np.rint(seen * 65535).astype(np.uint16)]
    codes += bed.noise * rng.standard_normal(codes.shape, np.float32)
    rgb = np.clip(np.rint(codes), 0, 255).astype(np.uint8)
    if bed.jpeg:
        file = io.BytesIO()
        Image.fromarray(rgb).save(file, "JPEG", quality=bed.jpeg)
        rgb = np.asarray(Image.open(file).convert("RGB"))
    return rgb
