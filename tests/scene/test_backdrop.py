"""A figure whose paints have the luminance of what is behind it is named, by its share over all places."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from skimage.color import rgb2xyz

from cel_check.episode.folder import load_episode
from cel_check.model.load import load_model
from cel_check.model.looks import looks_of
from cel_check.scene import backdrop
from cel_check.scene.backdrop import find_lost_figures, lost_share, luminances
from cel_check.scene.borders import figure_of

ROOT = Path(__file__).resolve().parents[2]


def ground(folder, *colors):
    image = Image.new("RGB", (8 * len(colors), 16))
    for place, color in enumerate(colors):
        image.paste(color, (8 * place, 0, 8 * place + 8, 16))
    image.save(folder / "bg.png")
    return folder / "bg.png"


def luminance(color):
    """Y by scikit-image."""
    rgb = np.array([[list(bytes.fromhex(color[1:]))]]) / 255.0
    return float(rgb2xyz(rgb)[0, 0, 1])


def test_luminances_are_those_of_the_picture(tmp_path):
    shares = luminances(ground(tmp_path, "#404040", "#C0C0C0", "#C0C0C0", "#C0C0C0"))
    assert shares.sum() == pytest.approx(1.0)
    places = np.flatnonzero(shares)
    assert shares[places].tolist() == [0.25, 0.75]
    centers = ((places + 0.5) / 256) ** 3
    assert centers == pytest.approx([luminance("#404040"), luminance("#C0C0C0")], rel=0.03)


def test_the_share_counts_figure_and_background(tmp_path):
    behind = luminances(ground(tmp_path, "#404040", "#C0C0C0", "#C0C0C0", "#C0C0C0"))
    paint = np.array([luminance("#444444"), luminance("#BEBEBE"), luminance("#808080")])
    for weight, share in (((1, 0, 0), 0.25), ((0, 1, 0), 0.75), ((0, 0, 1), 0.0), ((0.5, 0.5, 0), 0.5)):
        assert lost_share(paint, np.array(weight, float), behind) == pytest.approx(share)


def scenes_and_models():
    scenes = [one.scene for one in load_episode(ROOT / "samples").scenes if one.scene]
    path = ROOT / "palettes/tilda.toml"
    model = load_model(path)
    return scenes, looks_of((model,)), {path.resolve(): "tilda"}, {"tilda": figure_of(model)}


def test_the_sample_figures_stand_out_and_a_strict_limit_names_them(monkeypatch):
    arguments = scenes_and_models()
    assert list(find_lost_figures(*arguments)) == []
    monkeypatch.setattr(backdrop, "MOST_LOST", 0.1)
    found = list(find_lost_figures(*arguments))
    assert [one.condition for one in found] == ["", "night", ""]
    assert found[1].text.startswith("Tilda Brake hardly stands out from bg/harbor.jpg of sc013: ")
    assert all(one.value > 10.0 for one in found)
