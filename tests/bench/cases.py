"""Cels made from the outside art: each drawing in one style, with the share of every color in every pixel."""

import json
import os
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from art import Art, Color, digest, held_out, pick_names, straight
from colors import lab_of, nearest_delta
from numpy.typing import NDArray

from cel_check.model.colormodel import ModelColor, Palette, Use

VERSION = 5
"""Raised whenever a cel would come out differently, so that stale caches are not read."""

UNITS = 72
NATURAL_PEN = 2.0
PENS = (3.0, 5.0, 8.0, 14.0)
INKS: dict[str, Color] = {"black": (0, 0, 0), "brown": (74, 36, 16), "dark-blue": (22, 32, 84)}
CARDS: tuple[Color, ...] = ((255, 255, 255), (127, 168, 160), (206, 190, 226), (214, 224, 196), (70, 92, 88))
TOLERANCE = 2.0
MOST_BARE = 14
"""Pixels of a border that a thinner pen may leave bare: about one pen width, at a line's end."""
Shares = NDArray[np.uint8]


@dataclass(frozen=True)
class Style:
    """How a drawing is turned into a cel.

    Attributes:
        crisp: hard edges instead of anti-aliased ones.
        pen: line width in px; None leaves the drawing's own.
        ink: name of the ink.
        ink_color: the color that takes the place of black in the line layers.
        height: of the art, px.
        card: the color behind an opaque cel; None for a clear one.
    """

    crisp: bool
    pen: float | None
    ink: str
    ink_color: Color
    height: int
    card: Color | None

    @property
    def name(self) -> str:
        """One word for tables."""
        pen = "own" if self.pen is None else f"{self.pen:g}px"
        return f"{'hard' if self.crisp else 'soft'}-{pen}-{self.ink}-{'card' if self.card else 'clear'}"


@dataclass(frozen=True, eq=False)
class Case:
    """One cel that is known to be right.

    Attributes:
        name: the drawing.
        group: what it shows.
        style: how it was made.
        palette: its color model.
        rgba: `(h, w, 4)` uint8, straight alpha.
        paint: `(colors, h, w)` uint8, the share (0 to 255) of each model color, lines left out.
        ink: the same for the strokes of the line layers.
    """

    name: str
    group: str
    style: Style
    palette: Palette
    rgba: NDArray[np.uint8]
    paint: Shares
    ink: Shares

    @property
    def colors(self) -> tuple[Color, ...]:
        """The model's colors in sRGB."""
        return tuple(color.srgb for color in self.palette.colors)

    @property
    def pen_px(self) -> float:
        """The line width on the cel."""
        return self.style.pen or NATURAL_PEN * self.style.height / UNITS


def default_cache() -> Path:
    """Return the cache folder used where none is named: never inside the project."""
    return Path(tempfile.gettempdir()) / "cel-check-bench"


def _rng(*words: object) -> np.random.Generator:
    return np.random.default_rng(digest(VERSION, *words))


def choose_style(name: str, colors: tuple[Color, ...]) -> Style:
    """Return the style of a drawing, by hash of its name; ink and card keep off its own colors."""
    rng = _rng("style", name)
    crisp, pen = bool(rng.random() < 0.3), PENS[int(rng.integers(len(PENS)))]
    height = int(rng.integers(500, 1001))
    others = tuple(color for color in colors if color != (0, 0, 0))
    ink = str(rng.choice(["black", "brown", "dark-blue", "self"], p=[0.46, 0.16, 0.16, 0.22]))
    ink_color = INKS.get(ink, (0, 0, 0))
    if ink == "self":
        tries = [_dark(rng) for _ in range(40)]
        ink_color = next((color for color in tries if nearest_delta(color, others) >= 10), (0, 0, 0))
    if ink_color == (0, 0, 0) or nearest_delta(ink_color, others) < 8:
        ink, ink_color = "black", (0, 0, 0)
    card = None
    if rng.random() < 0.15:
        fit = [color for color in CARDS if nearest_delta(color, (*others, ink_color)) >= 12]
        card = fit[int(rng.integers(len(fit)))] if fit else None
    return Style(crisp, pen, ink, ink_color, height, card)


def _dark(rng: np.random.Generator) -> Color:
    red, green, blue = rng.integers(10, 110, size=3)
    return int(red), int(green), int(blue)


def model_of(art: Art) -> Palette:
    """Return the drawing's color model: fills are paint, strokes are ink, colors used for both are both."""
    colors = []
    for color, (fill, stroke) in sorted(art.colors().items()):
        use = Use.BOTH if fill and stroke else Use.PAINT if fill else Use.INK
        key = "c-{:02x}{:02x}{:02x}".format(*color)
        low, a, b = (float(value) for value in lab_of(color))
        colors.append(ModelColor(key, key, use, color, (low, a, b), TOLERANCE, None, "openmoji"))
    return Palette(tuple(colors), ("openmoji",))


def _shares(art: Art, size: int, colors: tuple[Color, ...]) -> tuple[Shares, Shares]:
    """Render the share of every color, three a render: one entry a channel, all others black."""
    entries = [(layer, color) for layer in ("paint", "ink") for color in colors]
    black = dict.fromkeys(colors, (0, 0, 0))
    out = np.zeros((len(entries), size, size), dtype=np.uint8)
    for start in range(0, len(entries), 3):
        swap: dict[str, dict[Color, Color]] = {"paint": dict(black), "ink": dict(black)}
        for channel, (layer, color) in enumerate(entries[start : start + 3]):
            swap[layer][color] = (255 * (channel == 0), 255 * (channel == 1), 255 * (channel == 2))
        picture = art.render(size, swap["paint"], swap["ink"])
        for channel in range(min(3, len(entries) - start)):
            out[start + channel] = np.rint(picture[..., channel])
    return out[: len(colors)], out[len(colors) :]


def _thin(
    art: Art, style: Style, size: int, shares: tuple[Shares, Shares]
) -> tuple[Shares, Shares, float | None]:
    """Redraw the lines with the thinnest pen from `style.pen` up that covers the borders the old ones did.

    The drawings' fills end anywhere under their lines, so a thinner pen alone would leave paint beside it.
    The paint on each side runs on under the old line to its middle, where it meets the other side's.
    Where line ends only met because they were thick, no thin pen will do and the drawing keeps its own.
    """
    paint, wide = shares
    scale = size / UNITS
    seen = cv2.dilate(wide.max(axis=0), np.ones((3, 3), np.uint8)) > 0
    labels = np.where(paint.max(axis=0) == 255, paint.argmax(axis=0) + 1, 0)
    labels[(paint.max(axis=0) == 0) & (wide.max(axis=0) == 0)] = len(paint) + 1
    seen |= _slits(np.where(seen, 0, labels).astype(np.int32))
    run_on = _nearest(np.where(seen, 0, labels).astype(np.int32))
    for pen in (pen for pen in PENS if style.pen is not None and style.pen <= pen < NATURAL_PEN * scale):
        art.restyle(pen / scale, style.ink_color, style.crisp)
        thin = _ink_shares(art, size)
        line = np.minimum(thin.astype(np.int32).sum(axis=0), 255)
        under = _no_islands(run_on, seen, line)
        if _bare(under, seen, line) <= MOST_BARE:
            out = [np.where(seen, (under == i + 1) * (255 - line), old) for i, old in enumerate(paint)]
            whose = _nearest(np.where(thin.max(axis=0) > 127, thin.argmax(axis=0) + 1, 0).astype(np.int32))
            shut = (under == 0) * (255 - line)  # a gap of nothing but old ink between two new lines
            inked = [old + (whose == i + 1) * shut for i, old in enumerate(thin)]
            return np.array(out, dtype=np.uint8), np.array(inked, dtype=np.uint8), pen
    return paint, wide, None


def _slits(labels: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Return the pieces of under 30 px: slits beside a thick line that a thin one would lay open."""
    small = np.zeros(labels.shape, dtype=bool)
    for label in range(1, int(labels.max()) + 1):
        count, pieces, stats, _ = cv2.connectedComponentsWithStats(
            (labels == label).astype(np.uint8), connectivity=4
        )
        few = (stats[:, cv2.CC_STAT_AREA] < 30) & (np.arange(count) > 0)
        small |= few[pieces]
    return small


def _no_islands(
    labels: NDArray[np.int32], seen: NDArray[np.bool_], line: NDArray[np.int32]
) -> NDArray[np.int32]:
    """Give to its surroundings whatever of a label is cut off, by a new line, from where the label shows.

    Pixels with nothing but line around them get no label (0).
    """
    out = labels.copy()
    for label in range(1, int(labels.max()) + 1):
        free = ((labels == label) & (line < 128)).astype(np.uint8)
        count, pieces = cv2.connectedComponents(free, connectivity=4)
        rooted = np.zeros(count, dtype=bool)
        rooted[pieces[~seen]] = True
        out[~rooted[pieces] & (free > 0)] = 0
    for _ in range(int(np.count_nonzero(out == 0) > 0) * 200):
        spread = _spread(np.where(line < 128, out, 0))
        grown = np.where((out == 0) & (line < 128), spread, out)
        if np.array_equal(grown, out):
            break
        out = grown
    return np.where((out == 0) & (line >= 128), labels, out)


def _spread(labels: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return for every pixel its own label, or where it has none that of one of its four neighbors."""
    around = np.pad(labels, 1)
    sides = (around[:-2, 1:-1], around[2:, 1:-1], around[1:-1, :-2], around[1:-1, 2:])
    out = labels
    for side in sides:
        out = np.where(out == 0, side, out)
    return out


def _bare(labels: NDArray[np.int32], seen: NDArray[np.bool_], line: NDArray[np.int32]) -> int:
    """Count pixels where two labels meet in the room of the old lines and no new line covers the border."""
    border = np.zeros(labels.shape, dtype=bool)
    border[:-1] |= labels[:-1] != labels[1:]
    border[:, :-1] |= labels[:, :-1] != labels[:, 1:]
    inked = cv2.dilate(line.astype(np.uint8), np.ones((3, 3), np.uint8)) > 100
    return int(np.count_nonzero(border & seen & ~inked))


def _nearest(labels: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return for every pixel the label of the nearest labelled one."""
    free = (labels == 0).astype(np.uint8)
    _, index = cv2.distanceTransformWithLabels(free, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    table = np.zeros(int(index.max()) + 1, dtype=np.int32)
    table[index[free == 0]] = labels[free == 0]
    return np.asarray(table[index])


def _ink_shares(art: Art, size: int) -> Shares:
    colors = tuple(sorted(art.colors()))
    strokes = sorted({shape.stroke for shape in art.shapes if shape.line and shape.stroke is not None})
    black = dict.fromkeys(colors, (0, 0, 0))
    out = np.zeros((len(colors), size, size), dtype=np.uint8)
    for start in range(0, len(strokes), 3):
        swap = dict(black)
        for channel, color in enumerate(strokes[start : start + 3]):
            swap[color] = (255 * (channel == 0), 255 * (channel == 1), 255 * (channel == 2))
        picture = art.render(size, black, swap)
        for channel, color in enumerate(strokes[start : start + 3]):
            out[colors.index(color)] = np.rint(picture[..., channel])
    return out


def compose(case_colors: tuple[Color, ...], paint: Shares, ink: Shares) -> NDArray[np.float64]:
    """Return the premultiplied picture that the shares make."""
    picture = np.zeros((*paint.shape[1:], 4))
    for color, share in zip(case_colors, paint.astype(np.float64) + ink, strict=True):
        picture += share[..., None] * (np.array([*color, 255]) / 255.0)
    return picture


def over_card(picture: NDArray[np.float64], card: Color | None) -> NDArray[np.uint8]:
    """Return a premultiplied picture as straight RGBA, flattened on `card` where there is one."""
    if card is not None:
        picture = picture + (255.0 - np.clip(picture[..., 3:], 0, 255)) * (np.array([*card, 255]) / 255.0)
    return straight(picture)


def _bounds(alpha: NDArray[np.uint8]) -> tuple[int, int, int, int]:
    rows, columns = np.flatnonzero(alpha.max(axis=1)), np.flatnonzero(alpha.max(axis=0))
    return int(rows[0]), int(rows[-1]) + 1, int(columns[0]), int(columns[-1]) + 1


def _place(name: str, shares: Shares) -> Shares:
    """Put the art off-center on a cel: 1920x1080 for one in four, else with 40 to 160 px around it."""
    rng = _rng("place", name)
    height, width = shares.shape[1:]
    before, after = rng.integers(40, 161, size=2), rng.integers(40, 161, size=2)
    tall, wide = height + before[0] + after[0], width + before[1] + after[1]
    if rng.random() < 0.25 and height <= 1060 and width <= 1880:
        tall, wide = 1080, 1920
        before = (rng.integers(10, 1071 - height), rng.integers(20, 1901 - width))
    top, left = int(before[0]), int(before[1])
    out = np.zeros((len(shares), int(tall), int(wide)), dtype=np.uint8)
    out[:, top : top + height, left : left + width] = shares
    return out


def build(name: str, group: str) -> Case:
    """Make one cel; raise ValueError with the reason where the drawing is left out."""
    art = Art(name)
    style = choose_style(name, tuple(art.colors()))
    alpha = art.render(240)[..., 3].astype(np.uint8)
    top, bottom, left, right = _bounds(alpha)
    size = round(min(style.height / (bottom - top), 1400 / (right - left)) * 240)
    art.restyle(None, style.ink_color, style.crisp)
    palette = model_of(art)
    colors = tuple(color.srgb for color in palette.colors)
    paint, ink = _shares(art, size, colors)
    if np.abs(compose(colors, paint, ink) - art.render(size)).max() > 4.0:
        raise ValueError("shares do not make the drawing")
    if style.pen is not None and style.pen < NATURAL_PEN * size / UNITS:
        paint, ink, pen = _thin(art, style, size, (paint, ink))
        style = replace(style, pen=pen)
    total = np.minimum(paint.sum(axis=0, dtype=np.int32) + ink.sum(axis=0, dtype=np.int32), 255)
    top, bottom, left, right = _bounds(total.astype(np.uint8))
    both = _place(name, np.concatenate([paint, ink])[:, top:bottom, left:right])
    paint, ink = both[: len(colors)], both[len(colors) :]
    rgba = over_card(compose(colors, paint, ink), style.card)
    return Case(name, group, style, palette, rgba, paint, ink)


def _load(path: Path) -> Case:
    with np.load(path) as data:
        facts = json.loads(str(data["facts"]))
        colors = tuple(
            ModelColor(
                **{
                    **color,
                    "use": Use(color["use"]),
                    "srgb": tuple(color["srgb"]),
                    "lab": tuple(color["lab"]),
                }
            )
            for color in facts["colors"]
        )
        style = facts["style"]
        style["ink_color"] = tuple(style["ink_color"])
        style["card"] = tuple(style["card"]) if style["card"] else None
        palette = Palette(colors, ("openmoji",))
        return Case(
            facts["name"], facts["group"], Style(**style), palette, data["rgba"], data["paint"], data["ink"]
        )


def save(path: Path, **arrays: object) -> None:
    """Write an npz whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_suffix(f".{os.getpid()}.npz")
    np.savez_compressed(temporary, **arrays)  # type: ignore[arg-type]
    temporary.replace(path)


def load(name: str, group: str, cache: Path) -> Case:
    """Return one cel from the cache, making it first where it is not there."""
    path = cache / f"v{VERSION}" / name / "cel.npz"
    if not path.exists():
        case = build(name, group)
        facts = {
            "name": name, "group": group, "style": asdict(case.style),
            "colors": [asdict(color) for color in case.palette.colors],
        }  # fmt: skip
        save(path, facts=np.array(json.dumps(facts)), rgba=case.rgba, paint=case.paint, ink=case.ink)
    return _load(path)


def cels(count: int, split: str, cache: Path, left_out: Counter[str]) -> Iterator[Case]:
    """Yield the first `count` cels of the whole pick that lie in `split` (`tune`, `held` or `all`).

    Args:
        count: drawings picked before the split.
        split: which side to yield.
        cache: folder for rendered cels.
        left_out: counts the reasons why drawings were left out.
    """
    taken = 0
    for name, group in pick_names():
        if taken == count:
            return
        wanted = split == "all" or (split == "held") == held_out(name)
        try:
            if wanted:
                case = load(name, group, cache)
            else:
                Art(name)
        except ValueError as problem:
            left_out[str(problem)] += 1
            continue
        taken += 1
        if wanted:
            yield case
