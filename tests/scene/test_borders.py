"""A model's reference cels tell which ink borders which paint, and how much of the figure each paint is."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from cel_check.model.load import load_model
from cel_check.scene.borders import figure_of, merged_areas

ROOT = Path(__file__).resolve().parents[2]

MODEL = """schema = 1
[model]
character = "Tilda"
reference = {references}
[[color]]
id = "coat"
name = "Coat"
use = "paint"
srgb = "#C8553D"
[[color]]
id = "cap"
name = "Cap"
use = "paint"
srgb = "#2F6E78"
[[color]]
id = "coat-line"
name = "Coat line"
use = "ink"
srgb = "#401010"
[[color]]
id = "cap-line"
name = "Cap line"
use = "ink"
srgb = "#10202A"
"""


def model(folder, *references):
    path = folder / "tilda.toml"
    path.write_text(MODEL.format(references=list(references)), encoding="utf-8")
    return load_model(path)


@pytest.fixture
def cel(tmp_path):
    image = Image.new("RGBA", (300, 200), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    draw.rectangle((20, 20, 120, 180), fill="#C8553D", outline="#401010", width=4)
    draw.rectangle((180, 20, 280, 100), fill="#2F6E78", outline="#10202A", width=4)
    image.save(tmp_path / "cel.png")
    return tmp_path


def test_each_ink_borders_its_own_paint(cel):
    figure = figure_of(model(cel, "cel.png"))
    assert figure.borders == {("coat-line", "coat"), ("cap-line", "cap")}
    areas = dict(figure.areas)
    assert set(areas) == {"coat", "cap"}
    assert areas["coat"] == pytest.approx(93 * 153, rel=0.03)
    assert areas["cap"] == pytest.approx(93 * 73, rel=0.03)


def test_without_a_reference_nothing_is_known(tmp_path):
    assert figure_of(model(tmp_path)) is None


def test_a_reference_that_cannot_be_read_is_a_note(cel):
    (cel / "bad.png").write_bytes(b"no picture")
    figure = figure_of(model(cel, "bad.png", "gone.png"))
    assert figure.borders == frozenset()
    assert len(figure.notes) == 1, "of the one that is gone the model itself tells"
    assert "the reference cel bad.png cannot be read" in figure.notes[0]
    assert figure_of(model(cel, "bad.png", "cel.png")).borders


def test_shares_of_a_figure(cel):
    figure = figure_of(model(cel, "cel.png"))
    shares = merged_areas(figure, ["coat", "cap", "scarf"])
    assert shares.sum() == pytest.approx(1.0)
    assert shares[2] == 0.0
    assert merged_areas(None, ["a", "b"]) == pytest.approx(np.array([0.5, 0.5]))


def test_tilda_s_face_line_borders_her_skin_and_not_her_boots():
    figure = figure_of(load_model(ROOT / "palettes/tilda.toml"))
    assert ("face-line", "skin") in figure.borders
    assert ("outline", "boot") in figure.borders
    assert ("face-line", "boot") not in figure.borders
