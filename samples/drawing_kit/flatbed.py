"""A simulated flatbed scanner: what becomes of a painted cel on acetate between its glass and its lid.

All figures are invented; lengths are in inches, millimeters or pixels of the scan as they say.
"""

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from drawing_kit.cel import WIDTH, Pixels, rgb
from drawing_kit.curves import Array
from drawing_kit.paintshop import linear

DPI = 200
HEIGHT = 1240
"""Of a scan, which is as wide as a cel is drawn: 9.6 by 6.2 inches. The peg holes lie below the drawing."""

CARD = "#86A874"
"""The card behind the cels: 23 ΔE00 and more from every color of Rook's model."""

TINT = (0.97, 0.98, 0.94)
"""What the acetate lets through of red, green and blue, down and up again."""

PEG_EDGE, PEG_STEP, ROUND, SLOT = 0.4, 4.0, 0.25, (0.5, 0.125)
"""Inches: the row of holes from the sheet's edge, from hole to hole, and the holes (common practice)."""

LID = 0.9
"""Linear light of the lid's white, which the holes show."""

MIX = np.array([[0.90, 0.09, 0.01], [0.06, 0.88, 0.06], [0.01, 0.07, 0.86]], np.float32)
"""How much of red, green and blue each sensor sees: a warm cast."""

GAIN, GAMMA, FALL = 0.94, 1.9, 0.07
"""Exposure, exponent of the tone curve, and the share of light that a far corner lacks."""

BLUR, NOISE = 0.6, 1.2
"""Standard deviations: of the lens's blur in pixels, of the sensor's noise in levels of 255."""

STREAKS, GRAIN = 0.010, 0.010
"""Relative standard deviations of the paint's light: of the brush's streaks, and from pixel to pixel."""

EDGE = 0.10
"""Share of the card's light that is lost beside paint, which is thick and throws a shadow."""

QUALITY = 95
"""Of the JPEG file, whose colors are not thinned out."""

Light = NDArray[np.float32]


@dataclass(frozen=True)
class Lie:
    """How one sheet lay on the glass.

    Attributes:
        turn: degrees, clockwise on the screen.
        right: millimeters.
        down: millimeters.
        dust: specks on the clear cel; each fourth is a hair.
        torn: whether the left slot is torn open.
        seed: of its dust, brush streaks and noise.
    """

    turn: float = 0.0
    right: float = 0.0
    down: float = 0.0
    dust: int = 0
    torn: bool = False
    seed: int = 0

    def move(self) -> Array:
        """(2, 3), from x, y on the cel to x, y of the scan: the sheet turns about its round hole."""
        c, s = np.cos(np.radians(self.turn)), np.sin(np.radians(self.turn))
        spin, peg = np.array([[c, -s], [s, c]]), _pegs()[1]
        return np.column_stack([spin, peg - spin @ peg + np.array([self.right, self.down]) / 25.4 * DPI])


def scanned_cel(cel: Pixels, lie: Lie) -> Pixels:
    """The scan (1240, 1920, 3) of a painted cel (straight alpha) on its card."""
    chance = np.random.default_rng([lie.seed, 16])
    alpha = np.zeros((HEIGHT, WIDTH), np.float32)
    alpha[: len(cel)] = cel[..., 3] / 255.0
    paint = np.zeros((HEIGHT, WIDTH, 3), np.float32)
    paint[: len(cel)] = linear(cel[..., :3] / 255.0)
    paint *= _brushed(chance)[..., None]
    card = _color(CARD) * (1 - EDGE * _shadow(alpha))[..., None]
    sheet = (paint * alpha[..., None] + card * (1 - alpha[..., None])) * np.array(TINT, np.float32)
    _punch(sheet, lie.torn)
    move, size = lie.move(), (WIDTH, HEIGHT)
    sheet = cv2.warpAffine(sheet, move, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE)
    clear = cv2.warpAffine(alpha, move, size) < 0.01
    _dust(sheet, clear, lie.dust, chance)
    return digitized(sheet, chance)


def digitized(light: Light, chance: np.random.Generator) -> Pixels:
    """What the scanner makes of the light on its whole bed, linear sRGB of any size."""
    height, width = light.shape[:2]
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    lamp = 1 - FALL * ((x / width - 0.35) ** 2 + (y / height - 0.6) ** 2)
    seen = cv2.transform(np.asarray(light, np.float32), MIX) * (lamp * GAIN)[..., None]
    seen = cv2.GaussianBlur(np.clip(seen, 0, 1), (0, 0), BLUR)
    codes = 255 * seen ** (1 / GAMMA) + NOISE * chance.standard_normal(seen.shape, np.float32)
    return np.clip(np.rint(codes), 0, 255).astype(np.uint8)


def scan_bytes(pixels: Pixels, dpi: float = DPI) -> bytes:
    """The file that the scanner writes."""
    store = io.BytesIO()
    image = Image.fromarray(pixels)
    image.save(store, "JPEG", quality=QUALITY, subsampling="4:4:4", optimize=True, dpi=(dpi, dpi))
    return store.getvalue()


def on_scan(box: tuple[int, int, int, int], lie: Lie) -> list[int]:
    """The box on the scan of a box on the cel."""
    x, y, w, h = box
    corners = np.array([(x, y, 1), (x + w, y, 1), (x, y + h, 1), (x + w, y + h, 1)], float) @ lie.move().T
    low, high = np.floor(corners.min(axis=0)), np.ceil(corners.max(axis=0))
    return [int(v) for v in (*low, *(high - low))]


def _color(color: str) -> Light:
    return linear(np.array(rgb(color)) / 255.0).astype(np.float32)


def _brushed(chance: np.random.Generator) -> Light:
    """Streaks along the brush, three times as long as they are wide, and grain."""
    small = chance.standard_normal((HEIGHT // 8, WIDTH // 24), np.float32)
    streaks = cv2.resize(small, (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC)
    grain = chance.standard_normal((HEIGHT, WIDTH), np.float32)
    return 1 + STREAKS * streaks + GRAIN * grain


def _shadow(alpha: Light) -> Light:
    """The paint's shadow on the card: soft, and to the right of it and below."""
    return cv2.GaussianBlur(np.roll(alpha, (2, 1), (0, 1)), (0, 0), 2.0)


def _pegs() -> Array:
    """Middles (3, 2) of the left slot, the round hole and the right slot."""
    middle = np.array([(WIDTH - 1) / 2, HEIGHT - 1 - PEG_EDGE * DPI])
    return middle + np.array([-1, 0, 1])[:, None] * [PEG_STEP * DPI, 0]


def _punch(sheet: Light, torn: bool) -> None:
    """Cut the three holes; a torn slot is open to below."""
    holes = np.zeros(sheet.shape[:2], np.uint8)
    left, middle, right = _pegs()
    cv2.circle(holes, _sixteenths(middle), round(ROUND / 2 * DPI * 16), 255, -1, cv2.LINE_AA, 4)
    if torn:
        tear = np.array([(-0.2, -0.06), (0.22, -0.06), (0.16, 0.16), (0.05, 0.42), (-0.12, 0.2)]) * DPI
        cv2.fillPoly(holes, [np.rint((left + tear) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    for spot in (left, right):
        corners = spot + np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * np.array(SLOT) / 2 * DPI
        cv2.fillPoly(holes, [np.rint(corners * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    share = holes[..., None].astype(np.float32) / 255
    sheet *= 1 - share
    sheet += share * LID


def _sixteenths(spot: Array) -> tuple[int, int]:
    x, y = np.rint(spot * 16).astype(int)
    return int(x), int(y)


def _dust(sheet: Light, clear: NDArray[np.bool_], count: int, chance: np.random.Generator) -> None:
    """Dark and light specks of 0.2 mm, and hairs of 3 mm, away from paint and holes."""
    inside = clear.astype(np.uint8)
    inside[-260:] = 0
    spots = np.argwhere(cv2.erode(inside, np.ones((81, 81), np.uint8)) > 0)
    for number in range(count):
        spot = spots[chance.integers(len(spots))][::-1].astype(float)
        tone = (float(chance.choice([0.06, 0.7])),) * 3
        if number % 4 == 3:
            ways = chance.uniform(0, 2 * np.pi) + np.cumsum(chance.normal(0, 0.3, 8))
            bends = spot + np.cumsum(3.0 * np.column_stack([np.cos(ways), np.sin(ways)]), axis=0)
            line = np.rint(bends * 16).astype(np.int32)
            cv2.polylines(sheet, [line], False, tone, 1, cv2.LINE_AA, 4)
        else:
            cv2.circle(sheet, _sixteenths(spot), round(0.1 / 25.4 * DPI * 16), tone, -1, cv2.LINE_AA, 4)
