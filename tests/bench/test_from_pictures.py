"""OpenMoji's published palette comes out of its own drawings whole, and nothing else does."""

import csv
from pathlib import Path

import numpy as np
from art import Art, pick_names, straight

from cel_check.picture.picture import Picture
from cel_check.scene.found_colors import find_colors

TABLE = Path(__file__).parents[1] / "reference" / "openmoji_palette.csv"
SIZE = 360
DRAWINGS = 80
LEAST = 60
"""Pixels of a color's own from which a drawing shows it for certain; fewer are a gleam of 8 x 8."""


def palette():
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return {tuple(bytes.fromhex(row["srgb"])) for row in csv.DictReader(lines)}


def drawings():
    left = DRAWINGS
    for name, _ in pick_names():
        try:
            art = Art(name)
        except ValueError:
            continue
        yield name, art
        left -= 1
        if not left:
            return


def test_every_color_of_the_palette_is_found_and_none_invented():
    found, shown = set(), set()
    for name, art in drawings():
        pixels = straight(art.render(SIZE))
        picture = Picture(pixels, None, False, "", None, ())
        own = {one.srgb for one in find_colors([(name, picture)]).colors}
        truth = set(art.colors())
        assert own <= truth, f"{name}: {own - truth} are invented"
        opaque = pixels[pixels[..., 3] == 255][:, :3]
        there = {color for color in truth if (opaque == color).all(axis=1).sum() >= LEAST}
        assert there <= own, f"{name}: {there - own} are missed"
        found |= own
        shown |= there
    assert shown <= found <= palette()
    assert len(found) >= 22, "nearly all of the palette is on these drawings"


def test_the_palette_is_that_of_all_drawings():
    """The published list names what the drawings use: a drawing with another color would show here."""
    sample = [art for _, art in drawings()]
    used = set().union(*(set(art.colors()) for art in sample))
    assert used <= palette()
    assert np.array(sorted(palette())).shape == (28, 3)
