"""Loose pictures take the way of a scene's cels, wherever they lie."""

from pathlib import Path

import pytest

from cel_check.errors import BadInput
from cel_check.scene.loose import loose_scene

PALETTES = Path(__file__).resolve().parents[2] / "palettes"


@pytest.fixture
def model():
    return PALETTES / "tilda.toml"


def put(tmp_path, *files):
    paths = [tmp_path / file for file in files]
    for path in paths:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")
    return paths


def test_each_folder_is_a_level(tmp_path, model):
    scene = loose_scene(put(tmp_path, "x/A/2.png", "x/A/1.png", "x/B/1.png", "x/3.xyz"), (model,))
    assert scene.loose
    assert scene.sheet is None
    assert scene.folder == tmp_path / "x"
    assert [(level.name, [file.file for file in level.drawings]) for level in scene.levels] == [
        ("x", ["3.xyz"]),
        ("A", ["A/1.png", "A/2.png"]),
        ("B", ["B/1.png"]),
    ]


def test_a_picture_named_twice_is_checked_once(tmp_path, model, monkeypatch):
    (path,) = put(tmp_path, "A/1.png")
    monkeypatch.chdir(tmp_path)
    scene = loose_scene([path, Path("A/1.png")], (model,))
    assert sum(len(level.drawings) for level in scene.levels) == 1


def test_what_is_not_there_is_told_at_once(tmp_path, model):
    put(tmp_path, "A/1.png")
    with pytest.raises(BadInput) as caught:
        loose_scene([tmp_path / "A", tmp_path / "2.png"], (tmp_path / "nowhere.toml",))
    words = [problem.wrong for problem in caught.value.problems]
    assert words[:2] == ["it is a folder, not a picture", "there is no such file"]
    assert "color model" in words[2]
