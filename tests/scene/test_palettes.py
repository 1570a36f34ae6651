"""A color model is read once for many scenes, and read anew when it changes."""

import os

import pytest

from cel_check.model import load
from cel_check.scene.palettes import LevelModels, read_models

MODEL = """schema = 1
[model]
character = "Tilda Brake"
[[color]]
id = "coat"
name = "Coat"
use = "paint"
srgb = "{coat}"
"""


@pytest.fixture
def model(tmp_path):
    path = tmp_path / "palettes" / "tilda.toml"
    path.parent.mkdir()
    path.write_text(MODEL.format(coat="#C8553D"), encoding="utf-8")
    return path


def read(*paths):
    problems = []
    found = read_models([LevelModels("A", paths, "--model")], problems)
    assert not problems
    return [found.by_path[path] for path in paths]


def test_two_scenes_read_a_file_once_and_each_names_it_as_it_was_written(model, tmp_path, monkeypatch):
    scenes = [tmp_path / name / ".." / "palettes" / "tilda.toml" for name in ("sc001", "sc002")]
    for name in ("sc001", "sc002"):
        (tmp_path / name).mkdir()
    (first,) = read(scenes[0])
    monkeypatch.setattr(load, "read_toml", None)  # whoever reads it again fails
    (second,) = read(scenes[1])
    assert (first.colors, first.key) == (second.colors, second.key)
    assert [first.file, second.file] == [str(scene) for scene in scenes]


def test_a_models_remarks_name_the_file_as_it_was_written(model, tmp_path):
    text = model.read_text(encoding="utf-8").replace("[model]\n", '[model]\nreference = ["gone.png"]\n')
    model.write_text(text, encoding="utf-8")
    (tmp_path / "sc001").mkdir()
    scene = tmp_path / "sc001" / ".." / "palettes" / "tilda.toml"
    (read_from_it,) = read(scene)
    assert read_from_it.notes == load.load_model(scene).notes
    assert str(scene) in read_from_it.notes[0]


def test_a_changed_file_is_read_anew(model):
    read(model)
    model.write_text(MODEL.format(coat="#5A2E3A"), encoding="utf-8")
    os.utime(model, (1, 1))
    (again,) = read(model)
    assert again.colors[0].swatch.srgb == (0x5A, 0x2E, 0x3A)


@pytest.mark.skipif(os.name != "posix", reason="links are POSIX's")
def test_a_link_gives_a_model_its_own_name(model):
    link = model.with_name("brake.toml")
    link.symlink_to(model)
    assert [found.key for found in read(model, link)] == ["tilda", "brake"]
