"""Cels made from the outside art: each drawing in one style, with the share of every color in every pixel."""

import json
import os
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from art import Art, Color, held_out, pick_names, straight
from colors import lab_of
from numpy.typing import NDArray
from pens import MOST_BARE, NATURAL_PEN, UNITS, Shares, thin_lines
from styles import VERSION, Style, choose_style, random_for

from cel_check.model.colormodel import ModelColor, Palette, Use

TOLERANCE = 2.0


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


@dataclass(frozen=True)
class Recipe:
    """How drawings become cels.

    Attributes:
        folder: of the cache.
        style: the style of a drawing, by its name and colors.
        most_bare: pixels of a border that a thinner pen may leave bare.
    """

    folder: str
    style: Callable[[str, tuple[Color, ...]], Style]
    most_bare: int


PAINTINGS = Recipe(f"v{VERSION}", choose_style, MOST_BARE)


def default_cache() -> Path:
    """Return the cache folder used where none is named: never inside the project."""
    return Path(tempfile.gettempdir()) / "cel-check-bench"


def model_of(used: Mapping[Color, tuple[bool, bool]]) -> Palette:
    """Return the color model of `Art.colors()`: fills are paint, strokes are ink, what is both is both."""
    colors = []
    for color, (fill, stroke) in sorted(used.items()):
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
    rng = random_for("place", name)
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


def build(name: str, group: str, recipe: Recipe = PAINTINGS) -> Case:
    """Make one cel; raise ValueError with the reason where the drawing is left out."""
    art = Art(name)
    style = recipe.style(name, tuple(art.colors()))
    alpha = art.render(240)[..., 3].astype(np.uint8)
    top, bottom, left, right = _bounds(alpha)
    size = round(min(style.height / (bottom - top), 1400 / (right - left)) * 240)
    art.restyle(None, style.ink_color, style.crisp)
    palette = model_of(art.colors())
    colors = tuple(color.srgb for color in palette.colors)
    paint, ink = _shares(art, size, colors)
    if np.abs(compose(colors, paint, ink) - art.render(size)).max() > 4.0:
        raise ValueError("shares do not make the drawing")
    if style.pen is not None and style.pen < NATURAL_PEN * size / UNITS:
        paint, ink, pen = thin_lines(art, style, size, (paint, ink), recipe.most_bare)
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


def load(name: str, group: str, cache: Path, recipe: Recipe = PAINTINGS) -> Case:
    """Return one cel from the cache, making it first where it is not there."""
    path = cache / recipe.folder / name / "cel.npz"
    if not path.exists():
        case = build(name, group, recipe)
        facts = {
            "name": name, "group": group, "style": asdict(case.style),
            "colors": [asdict(color) for color in case.palette.colors],
        }  # fmt: skip
        save(path, facts=np.array(json.dumps(facts)), rgba=case.rgba, paint=case.paint, ink=case.ink)
    return _load(path)


def cels(
    count: int, split: str, cache: Path, left_out: Counter[str], recipe: Recipe = PAINTINGS
) -> Iterator[Case]:
    """Yield the first `count` cels of the whole pick that lie in `split` (`tune`, `held` or `all`).

    Args:
        count: drawings picked before the split.
        split: which side to yield.
        cache: folder for rendered cels.
        left_out: counts the reasons why drawings were left out.
        recipe: how they are made.
    """
    taken = 0
    for name, group in pick_names():
        if taken == count:
            return
        wanted = split == "all" or (split == "held") == held_out(name)
        try:
            if wanted:
                case = load(name, group, cache, recipe)
            else:
                Art(name)
        except ValueError as problem:
            left_out[str(problem)] += 1
            continue
        taken += 1
        if wanted:
            yield case
