"""Which fault is planted on which drawing of scene 013: one of each kind, each on a drawing of its own."""

from collections.abc import Callable, Mapping

import numpy as np

from drawing_kit.cel import HEIGHT, WIDTH, Pixels
from drawing_kit.plant import (
    Planted,
    changed,
    clear_part,
    ellipse,
    lay,
    left_edge,
    open_gap,
    part_at,
    pinhole,
    recolor,
    repaint,
)

Colors = Mapping[str, str]
OFF_TROUSERS = "#3A4468"  # 4.3 ΔE00 from the trousers at night, 8 and more from every other color
WRONG_INK = "#7A4A86"  # a violet that is on no model


def planted_013(level: str, drawing: str, pixels: Pixels, colors: Colors) -> Planted | None:
    """The drawing with its fault, or None where it is right."""
    plant = PLANTS.get((level, drawing))
    return plant(pixels, colors) if plant else None


def _off_model(pixels: Pixels, colors: Colors) -> Planted:
    old = colors["trousers"]
    after = repaint(pixels, part_at(pixels, (650, 880), old), (old, OFF_TROUSERS), colors["outline"])
    return changed("off-model", pixels, after, "The right trouser leg is mixed too gray and too red.")


def _unpainted(pixels: Pixels, colors: Colors) -> Planted:
    after = clear_part(pixels, (648, 927), colors["belt"], colors["outline"])
    return changed("unpainted", pixels, after, "The top of the right boot has ink around it and no paint.")


def _wrong_part(pixels: Pixels, colors: Colors) -> Planted:
    old = colors["trousers"]
    after = repaint(pixels, part_at(pixels, (557, 880), old), (old, colors["coat"]), colors["outline"])
    return changed("wrong-part", pixels, after, "The left trouser leg is painted with the coat's paint.")


def _pinhole(pixels: Pixels, colors: Colors) -> Planted:
    after = pinhole(pixels, (576.4, 742.7), 3.5)
    return changed("unpainted", pixels, after, "A pinhole of 3.5 px radius in the coat's skirt.")


def _spill(pixels: Pixels, colors: Colors) -> Planted:
    row = 730
    edge = left_edge(pixels, row, (380, 620))
    blob = ellipse((edge + 4.0, row + 0.5), 9.5, 13.0)
    after = lay(pixels, blob, colors["coat"])
    return changed("spill", pixels, after, "Coat paint lies over the coat's left line and 5.5 px beyond it.")


def _ink_color(pixels: Pixels, colors: Colors) -> Planted:
    stretch = np.zeros((HEIGHT, WIDTH), dtype=bool)
    stretch[640:712, 1180:1219] = True
    after = recolor(pixels, stretch, colors["body-line"], WRONG_INK)
    return changed("ink-color", pixels, after, "A stretch of the breast's line is inked in violet.")


def _stray(pixels: Pixels, colors: Colors) -> Planted:
    after = lay(pixels, ellipse((1015.5, 312.5), 3.2, 3.2, hard=True), colors["beak"])
    return changed("stray", pixels, after, "A speck of beak paint on the clear cel.")


def _open_line(pixels: Pixels, colors: Colors) -> Planted:
    after = open_gap(pixels, (660, 669), (1180, 1230), colors["body"])
    return changed("open-line", pixels, after, "The breast's line is open for 9 px.")


def _uncalled(pixels: Pixels, colors: Colors) -> Planted:
    return Planted(
        "uncalled-cel", pixels, None, None, "The sheet never calls A 11; the drawing itself is right."
    )


def _unreadable(pixels: Pixels, colors: Colors) -> Planted:
    return Planted("unreadable", pixels, None, None, "The file ends after 55 hundredths of its bytes.")


def _wrong_size(pixels: Pixels, colors: Colors) -> Planted:
    return Planted(
        "wrong-size", pixels[:, :1900], None, None, "The picture is 1900 x 1080; its level is 1920 x 1080."
    )


PLANTS: Mapping[tuple[str, str], Callable[[Pixels, Colors], Planted]] = {
    ("A", "2"): _off_model,
    ("A", "4"): _unpainted,
    ("A", "6"): _wrong_part,
    ("A", "7"): _pinhole,
    ("A", "9"): _spill,
    ("A", "11"): _uncalled,
    ("B", "2"): _ink_color,
    ("B", "4"): _stray,
    ("B", "5"): _open_line,
    ("B", "6"): _unreadable,
    ("C", "3"): _wrong_size,
}
