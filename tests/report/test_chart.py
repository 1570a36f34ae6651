"""A chart shows every color in every look at its true value, on its sheet, and marks the closest pairs."""

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from cel_check.model.load import load_leniently, load_model
from cel_check.report.chart import CAUTION, HEIGHT, WIDTH, chart_of
from cel_check.report.chart_html import charts_html
from cel_check.report.chart_png import DPI, sheet_png
from cel_check.report.lettering import fitted, width_of

ROOT = Path(__file__).resolve().parents[2]
TILDA = ROOT / "palettes/tilda.toml"


def crowd(folder, colors, conditions, name="Color"):
    lines = ["schema = 1", "[model]", f'character = "{name} crowd"']
    for n in range(colors):
        rgb = f"#{(37 * n) % 256:02X}{(91 * n + 40) % 256:02X}{(151 * n + 90) % 256:02X}"
        lines += ["[[color]]", f'id = "c{n}"', f'name = "{name} {n}"', 'use = "paint"', f'srgb = "{rgb}"']
    for k in range(conditions):
        lines += [f"[condition.light{k}]", *(f'c{n} = "#{k:02X}{n % 256:02X}80"' for n in range(colors))]
    path = folder / "crowd.toml"
    path.write_text("\n".join(lines), encoding="utf-8")
    return load_model(path)


def test_every_color_in_every_look_has_its_block():
    model = load_model(TILDA)
    (sheet,) = chart_of(model)
    found = [block.color for block in sheet.blocks]
    for color in model.colors:
        assert "#{:02X}{:02X}{:02X}".format(*color.swatch.srgb) in found
    for variant in (*model.conditions, *model.level_mixes):
        assert {"#{:02X}{:02X}{:02X}".format(*swatch.srgb) for _, swatch in variant.colors} <= set(found)


def test_it_names_numbers_values_and_the_caution():
    (sheet,) = chart_of(load_model(TILDA))
    text = " ".join(item.text for item in sheet.texts)
    for words in ("Tilda Brake", "Coat, shade", "R-32", "#9E3B36", "±1.5 ΔE00", "night", "rain", CAUTION):
        assert words in text
    assert "L*a*b* 50.8  44.3  36.5" in text  # of #C8553D, by scikit-image: 50.79 44.32 36.47


def test_a_color_that_no_screen_shows_says_so():
    model, _ = load_leniently(ROOT / "samples/bad_palette/pointsman.toml")
    (sheet,) = chart_of(model)
    assert [item.text for item in sheet.texts if item.text.startswith("nearest")] == [
        "nearest #00ACBB  ±1.5",
        "nearest #FF792E  ±1.5",
    ]


def test_the_closest_pairs_are_marked_at_both_colors():
    (sheet,) = chart_of(load_model(TILDA))
    letters = [badge.letter for badge in sheet.badges]
    assert {letter: letters.count(letter) for letter in "ABCDEF"} == dict.fromkeys("ABCDEF", 3)
    pair = [item.text for item in sheet.texts if item.y > HEIGHT - 45]
    assert pair.index("Skin, shade") < pair.index("Cheek") < pair.index("6.1 ΔE00 in night")


@pytest.mark.parametrize(
    ("colors", "conditions", "sheets"), [(1, 0, 1), (24, 2, 1), (36, 6, 1), (37, 2, 2), (40, 13, 6)]
)
def test_nothing_runs_off_the_sheet_and_blocks_do_not_overlap(tmp_path, colors, conditions, sheets):
    made = chart_of(crowd(tmp_path, colors, conditions, "A very long color name indeed, shade"))
    assert len(made) == sheets
    for sheet in made:
        for text in sheet.texts:
            assert text.x >= 0
            assert text.x + width_of(text.text, text.size, text.bold) <= WIDTH - 8
            assert 0 < text.y < HEIGHT - 5
        boxes = np.array([(b.x, b.y, b.x + b.width, b.y + b.height) for b in sheet.blocks])
        assert boxes.min() >= 0
        assert (boxes[:, 2] <= WIDTH - 8).all()
        assert (boxes[:, 3] <= HEIGHT - 5).all()
        apart = 1e-6
        for n, box in enumerate(boxes):
            others = np.delete(boxes, n, axis=0)
            over = (others[:, 0] < box[2] - apart) & (others[:, 2] > box[0] + apart)
            over &= (others[:, 1] < box[3] - apart) & (others[:, 3] > box[1] + apart)
            assert not over.any()


def test_swatches_are_large_enough_to_judge():
    (sheet,) = chart_of(load_model(TILDA))
    base = [block for block in sheet.blocks if block.color == "#C8553D"]
    # 2 degrees, the observer's field, are 14 mm at 40 cm (2 * 400 * tan 1 degree)
    assert base[0].width >= 14
    assert base[0].height >= 13.5


def test_the_png_is_a4_in_srgb_with_true_colors():
    (sheet,) = chart_of(load_model(TILDA))
    data = sheet_png(sheet, Image.new("RGBA", (100, 300), (200, 85, 61, 255)))
    with Image.open(io.BytesIO(data)) as image:
        assert image.size == (round(WIDTH / 25.4 * DPI), round(HEIGHT / 25.4 * DPI))
        assert image.info["srgb"] == 0
        pixels = np.asarray(image)
    for block in sheet.blocks:
        row = round((block.y + block.height / 2) / 25.4 * DPI)
        column = round((block.x + block.width / 2) / 25.4 * DPI)
        assert "#{:02X}{:02X}{:02X}".format(*pixels[row, column]) == block.color


def test_the_page_holds_no_script_and_names_are_escaped(tmp_path):
    model = crowd(tmp_path, 3, 1, "<script>alert(1)</script> &amp; \u202e")
    text = charts_html("<b>", [(sheet, None) for sheet in chart_of(model)]).decode()
    assert "<script" not in text
    assert "\u202e" not in text
    assert "<title>&lt;b&gt;</title>" in text
    assert "default-src &#39;none&#39;" in text


def test_text_is_cut_to_fit():
    assert fitted("Coat", 3.0, 100.0) == "Coat"
    cut = fitted("Buttons and buckle", 3.0, 15.0)
    assert cut.endswith("…")
    assert width_of(cut, 3.0) <= 15.0
    assert fitted("Coat", 3.0, 0.1) == ""
