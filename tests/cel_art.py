"""Cels of known geometry for the tests of drawing/ and checks/: drawn by OpenCV at eight times the size.

A smooth cel is the average of its 8 x 8 samples (what an anti-aliasing paint program makes of the same
shapes), a hard one is the middle sample. Colors and figures are invented.
"""

import io
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

from cel_check.checks.run import check_drawing
from cel_check.drawing.drawing import Drawing
from cel_check.drawing.separate import take_apart
from cel_check.faults import Fault
from cel_check.model.colormodel import ModelColor, Palette, Use
from cel_check.picture.picture import Picture
from cel_check.settings import DEFAULTS

Rgb = tuple[int, int, int]
Spot = tuple[float, float]

FINE = 8

COAT, SKIN, CLOTH, SHADE = (200, 85, 61), (236, 184, 150), (62, 124, 177), (160, 60, 45)
INK, SELF_INK, GREEN_INK, BLACK = (32, 32, 32), (96, 34, 22), (30, 110, 60), (12, 12, 16)
WHITE, CARD = (250, 250, 246), (243, 240, 230)


def model(name: str, srgb: Rgb, use: Use = Use.PAINT, tolerance: float = 2.0) -> ModelColor:
    """Make a model color; its Lab is scikit-image's."""
    lab = tuple(float(v) for v in rgb2lab(np.array([[srgb]], np.uint8) / 255.0)[0, 0])
    return ModelColor(name.lower(), name, use, srgb, lab, tolerance, None, "tilda")  # type: ignore[arg-type]


PAINTS = (model("Coat", COAT), model("Skin", SKIN), model("Cloth", CLOTH), model("Shade", SHADE))
INKS = (
    model("Outline", INK, Use.INK),
    model("Coat line", SELF_INK, Use.INK),
    model("Leaf line", GREEN_INK, Use.INK),
)
PALETTE = Palette((*PAINTS, *INKS), ("Tilda Brake",))
ONLY_PAINTS = Palette(PAINTS, ("Tilda Brake",))
ONLY_INKS = Palette(INKS, ("Tilda Brake",))
WITH_BOTH = Palette((*PAINTS, model("Black", BLACK, Use.BOTH)), ("Tilda Brake",))
WITH_WHITE = Palette((*PAINTS, *INKS, model("Shirt", WHITE)), ("Tilda Brake",))


class Sheet:
    """A cel that shapes are drawn on, later ones over earlier ones; coordinates are pixels of the cel."""

    def __init__(self, width: int = 160, height: int = 120) -> None:
        self.map = np.zeros((height * FINE, width * FINE), np.uint8)
        self.colors: list[tuple[int, int, int, int]] = [(0, 0, 0, 0)]

    def _number(self, color: Rgb | None, alpha: int = 255) -> int:
        rgba = (*color, alpha) if color else self.colors[0]
        if rgba not in self.colors:
            self.colors.append(rgba)
        return self.colors.index(rgba)

    def disk(self, center: Spot, radius: float, color: Rgb | None, alpha: int = 255) -> "Sheet":
        """Draw a disk; None wipes the cel clear."""
        cv2.circle(self.map, _fine(center), round(radius * FINE), self._number(color, alpha), -1)
        return self

    def shape(self, corners: Sequence[Spot], color: Rgb | None, alpha: int = 255) -> "Sheet":
        """Draw a filled polygon."""
        points = np.array([_fine(corner) for corner in corners], np.int32)
        cv2.fillPoly(self.map, [points], self._number(color, alpha))
        return self

    def rect(  # noqa: PLR0917
        self, x: float, y: float, w: float, h: float, color: Rgb | None, alpha: int = 255
    ) -> "Sheet":
        """Draw a filled rectangle that covers exactly w x h pixels."""
        rows = slice(round(y * FINE), round((y + h) * FINE))
        self.map[rows, round(x * FINE) : round((x + w) * FINE)] = self._number(color, alpha)
        return self

    def line(self, points: Sequence[Spot], width: float, color: Rgb, closed: bool = False) -> "Sheet":
        """Draw a line with round ends. OpenCV draws one sample more than it is asked for."""
        fine = np.array([_fine(point) for point in points], np.int32)
        cv2.polylines(self.map, [fine], closed, self._number(color), round(width * FINE) - 1)
        return self

    def ring(self, center: Spot, radius: float, width: float, color: Rgb) -> "Sheet":
        """Draw a circle's outline."""
        cv2.circle(
            self.map, _fine(center), round(radius * FINE), self._number(color), round(width * FINE) - 1
        )
        return self

    def rgba(self, smooth: bool = True, card: Rgb | None = None) -> NDArray[np.uint8]:
        """Return the cel as straight-alpha RGBA, on a card where one is given."""
        if not smooth:
            flat = np.array(self.colors, np.uint8)[self.map[FINE // 2 :: FINE, FINE // 2 :: FINE]]
            return _straight(_multiplied(flat), card)
        height, width = (side // FINE for side in self.map.shape)
        total = np.zeros((height, width, 4))
        for number, color in enumerate(self.colors):
            share = (self.map == number).reshape(height, FINE, width, FINE).mean(axis=(1, 3))
            total += share[..., None] * _multiplied(np.array(color, np.uint8))
        return _straight(total, card)


def _fine(spot: Spot) -> tuple[int, int]:
    return round(spot[0] * FINE), round(spot[1] * FINE)


def _multiplied(rgba: NDArray[np.uint8]) -> NDArray[np.float64]:
    out = rgba.astype(np.float64)
    out[..., :3] *= out[..., 3:] / 255.0
    return out


def _straight(total: NDArray[np.float64], card: Rgb | None) -> NDArray[np.uint8]:
    if card is not None:
        total = total + (255.0 - total[..., 3:]) / 255.0 * np.array([*card, 255.0])
    alpha = np.rint(total[..., 3:])
    rgb = np.where(alpha > 0, total[..., :3] * 255.0 / np.maximum(total[..., 3:], 1e-9), 0.0)
    return np.ascontiguousarray(np.concatenate([np.rint(np.clip(rgb, 0, 255)), alpha], axis=2), np.uint8)


def picture(rgba: NDArray[np.uint8]) -> Picture:
    """Make a picture of pixels, as the reader would."""
    return Picture(np.ascontiguousarray(rgba), None, bool((rgba[..., 3] == 255).all()), "0" * 64, None, ())


def jpeg(rgba: NDArray[np.uint8], quality: int = 90) -> NDArray[np.uint8]:
    """Return an opaque picture as JPEG compression leaves it."""
    file = io.BytesIO()
    Image.fromarray(rgba[..., :3]).save(file, "JPEG", quality=quality)
    with Image.open(file) as image:
        return np.array(image.convert("RGBA"))


def apart(rgba: NDArray[np.uint8], palette: Palette = PALETTE) -> Drawing:
    """Take a cel apart."""
    return take_apart(picture(rgba), palette, DEFAULTS)


def faults_of(rgba: NDArray[np.uint8], palette: Palette = PALETTE) -> tuple[Fault, ...]:
    """Check a cel."""
    return check_drawing(apart(rgba, palette), DEFAULTS)


def fills(drawing: Drawing) -> dict[str, list[int]]:
    """Return the labels of the fills by the model color's name (`?` where there is none)."""
    found: dict[str, list[int]] = {}
    for flat in np.flatnonzero(drawing.paints).tolist():
        index = int(drawing.index[flat])
        found.setdefault(drawing.palette.colors[index].name if index >= 0 else "?", []).append(flat)
    return found


def covers(box: tuple[int, int, int, int] | None, spot: Spot, slack: float = 0.0) -> bool:
    """Tell whether a box holds a spot."""
    x, y, w, h = box or (0, 0, -1, -1)
    return x - slack <= spot[0] <= x + w + slack and y - slack <= spot[1] <= y + h + slack


def figure(pen: float = 5, ink: Rgb = INK, coat: Rgb = COAT, cloth: Rgb = CLOTH) -> Sheet:
    """Draw a clean figure on 240 x 200: a coat (disk) with a pocket of cloth in it, and a head on its own."""
    sheet = Sheet(240, 200)
    sheet.disk((90, 110), 70, coat).ring((90, 110), 70, pen, ink)
    sheet.rect(60, 100, 60, 40, cloth)
    sheet.line([(60, 100), (120, 100), (120, 140), (60, 140)], pen, ink, closed=True)
    return sheet.disk((200, 60), 28, SKIN).ring((200, 60), 28, pen, ink)


def with_tolerance(color: ModelColor, tolerance: float) -> ModelColor:
    """Return a model color that allows another difference."""
    return replace(color, tolerance=tolerance)


def off(color: Rgb, delta: float, way: Rgb = (1, 1, 1)) -> Rgb:
    """Return the color nearest to `delta` ΔE00 (scikit-image) away from `color`, going one way in sRGB."""
    steps = np.arange(1, 120)[:, None] * np.array([way])
    colors = np.array([color]) + steps
    colors = colors[((colors >= 0) & (colors <= 255)).all(axis=1)]
    lab = rgb2lab(np.concatenate([[color], colors])[None] / 255.0)[0]
    apart_by = deltaE_ciede2000(lab[:1], lab[1:])
    r, g, b = (int(v) for v in colors[int(np.abs(apart_by - delta).argmin())])
    return r, g, b


def kinds(faults: Sequence[Fault]) -> list[tuple[str, str]]:
    """Return the kind and the verdict of each fault."""
    return [(fault.kind.value, fault.verdict.value) for fault in faults]


def known(request: pytest.FixtureRequest, failing: bool, reason: str) -> None:
    """Mark the case of a test that fails by a known defect; it must fail until the defect is mended."""
    if failing:
        request.applymarker(pytest.mark.xfail(strict=True, reason=reason))
