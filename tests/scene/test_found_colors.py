"""The flat paints and inks of painted cels are all found, none is invented, and the text is a color model."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from cel_check.model.colormodel import Use
from cel_check.model.load import load_model
from cel_check.picture.picture import Picture
from cel_check.picture.reader import read_picture
from cel_check.scene.found_colors import as_toml, find_colors

ROOT = Path(__file__).resolve().parents[2]


def cel(draw, size=(240, 180), ground=(0, 0, 0, 0), times=4):
    """A cel drawn `times` as large and shrunk, so that its edges are blended."""
    big = Image.new("RGBA", (size[0] * times, size[1] * times), ground)
    draw(ImageDraw.Draw(big), times)
    rgba = np.asarray(big.resize(size, Image.Resampling.BOX))
    opaque = bool((rgba[..., 3] == 255).all())
    return Picture(np.ascontiguousarray(rgba), None, opaque, "", None, ())


def figure(pen, line="#202020", eye="#FFFFFF"):
    def draw(d, k):
        d.ellipse((40 * k, 20 * k, 200 * k, 160 * k), fill="#C8553D", outline=line, width=pen * k)
        d.ellipse((80 * k, 50 * k, 110 * k, 90 * k), fill=eye, outline=line, width=pen * k)

    return draw


def found(*pictures):
    named = ((f"{n}.png", picture) for n, picture in enumerate(pictures))
    return {one.hex: one for one in find_colors(named).colors}


@pytest.mark.parametrize("pen", [2, 3, 6])
def test_paints_and_the_ink_are_found_and_no_blend(pen):
    colors = found(cel(figure(pen)))
    assert {key: one.use for key, one in colors.items()} == {
        "#C8553D": Use.PAINT,
        "#FFFFFF": Use.PAINT,
        "#202020": Use.INK,
    }


def test_a_color_says_how_much_and_where():
    one = found(cel(figure(3)))["#FFFFFF"]
    assert (one.places, one.files, one.file) == (1, 1, "0.png")
    assert one.area == pytest.approx(np.pi * 12 * 17, rel=0.1)  # half axes inside the line
    assert one.box == pytest.approx((83, 53, 25, 35), abs=2)


def test_pictures_add_up():
    one = found(cel(figure(3)), cel(figure(3, eye="#E6B63A")))
    assert set(one) == {"#C8553D", "#FFFFFF", "#E6B63A", "#202020"}
    assert (one["#C8553D"].files, one["#FFFFFF"].files) == (2, 1)


def test_a_card_is_no_paint_but_a_paint_of_its_color_inside_is():
    notes = find_colors([("a.png", cel(figure(3), ground=(255, 255, 255, 255)))])
    colors = {one.hex: one for one in notes.colors}
    assert colors["#FFFFFF"].area < 1000, "the eye alone"
    assert notes.notes == ("a.png: taken for painted on a card of #FFFFFF.",)


def test_an_empty_cel_holds_nothing():
    empty = find_colors([("a.png", cel(lambda d, k: None))])
    assert (empty.colors, empty.notes) == ((), ("a.png: there is nothing on it.",))


def test_the_noise_of_compression_makes_no_colors(tmp_path):
    rgba = cel(figure(6), size=(480, 360), ground=(255, 255, 255, 255), times=2).rgba
    Image.fromarray(rgba[..., :3]).save(tmp_path / "a.jpg", quality=85)
    colors = found(read_picture(tmp_path / "a.jpg"))
    assert len(colors) <= 4
    near = np.array([one.srgb for one in colors.values()], float)
    for want in ((0xC8, 0x55, 0x3D), (0x20, 0x20, 0x20)):
        assert np.abs(near - want).max(axis=1).min() <= 4


@pytest.mark.parametrize("name", ["tilda", "rook", "lamp"])
def test_the_model_cels_hold_their_models_colors(name):
    model = load_model(ROOT / f"palettes/{name}.toml")
    picture = read_picture(ROOT / f"samples/{name}-model.png")
    colors = found(picture)
    known = {"#{:02X}{:02X}{:02X}".format(*one.swatch.srgb): one.use for one in model.colors}
    solid = {key for key in known if _has_block(picture.rgba, key)}
    assert solid <= set(colors) <= set(known)
    assert {key: one.use for key, one in colors.items()} == {key: known[key] for key in colors}


def _has_block(rgba, text):
    same = (rgba[..., :3] == list(bytes.fromhex(text[1:]))).all(axis=2) & (rgba[..., 3] == 255)
    block = np.lib.stride_tricks.sliding_window_view(same, (3, 3)).all(axis=(2, 3))
    return bool(block.any())


def test_the_text_is_a_color_model_with_remarks(tmp_path):
    pictures = [("a\n.png", cel(figure(3))), ("b.png", cel(figure(3, eye="#FEFEFE")))]
    text = as_toml(find_colors(pictures), [name for name, _ in pictures])
    path = tmp_path / "new.toml"
    path.write_text(text, encoding="utf-8")
    model = load_model(path)
    assert [color.id for color in model.colors] == ["paint-1", "paint-2", "paint-3", "ink-1"]
    assert {entry["srgb"] for entry in tomllib.loads(text)["color"]} == {
        "#C8553D",
        "#FFFFFF",
        "#FEFEFE",
        "#202020",
    }
    assert "of a?.png" in text
    assert "# only 0." in text, "two whites that hardly differ"
