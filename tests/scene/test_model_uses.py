"""Scenes tell which models meet on a level or in a scene, and which of them a new version makes stale."""

import shutil
from pathlib import Path

import pytest

from cel_check.episode.folder import load_episode
from cel_check.model.load import load_model
from cel_check.model.together import Meeting
from cel_check.scene.model_uses import model_files, stale_scenes, together_in

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def scenes():
    return tuple(one.scene for one in load_episode(ROOT / "samples").scenes if one.scene)


def keys():
    return {(ROOT / f"palettes/{name}.toml").resolve(): name for name in ("tilda", "rook", "lamp")}


def test_models_meet_as_the_scenes_say(scenes):
    together = together_in(scenes, keys(), {"tilda": frozenset({("outline", "coat")})})
    assert together.meeting("tilda", "lamp") is Meeting.LEVEL
    assert together.meeting("tilda", "rook") is Meeting.SCENE
    assert together.meeting("tilda", "somebody") is Meeting.NEVER
    assert together.where("rook", "tilda") == ("sc012", "sc013", "sc014")
    assert together.border("tilda", "outline", "coat") is True
    assert together.border("tilda", "outline", "cap") is False
    assert together.border("rook", "outline", "cap") is None


def test_the_scenes_models_are_listed_once(scenes):
    assert {path.resolve() for path in model_files(scenes)} == set(keys())


@pytest.mark.parametrize(
    ("old", "new", "stale"),
    [
        (  # base colors: by day alone
            '"#C8553D"', '"#CC5A42"',
            [("sc012", ("A", "B", "C"), ("Coat",)), ("sc014", ("A", "B"), ("Coat",))],
        ),
        ('cap = "#204E6C"', 'cap = "#22506F"', [("sc013", ("A",), ("Cap",))]),
        ('cap = "#3E6B77"', 'cap = "#406D79"', []),  # rain, and it never rains
        (  # the mix of level 2
            'hair = "#7E4729"', 'hair = "#80492B"',
            [("sc012", ("B",), ("Hair",)), ("sc014", ("B",), ("Hair",))],
        ),
        ('paint = "R-31"', 'paint = "R-99"', []),
        (
            "tolerance = 1.2", "tolerance = 1.0",
            [
                ("sc012", ("A", "B", "C"), ("Coat",)), ("sc013", ("A",), ("Coat",)),
                ("sc014", ("A", "B"), ("Coat",)),
            ],
        ),
    ],
)  # fmt: skip
def test_a_change_makes_stale_what_is_held_against_it(scenes, tmp_path, old, new, stale):
    path = ROOT / "palettes/tilda.toml"
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    changed = tmp_path / "tilda.toml"
    changed.write_text(text.replace(old, new), encoding="utf-8")
    found = stale_scenes(scenes, load_model(path), load_model(changed), (path, changed))
    assert [(one.scene, one.levels, one.colors) for one in found] == stale


def test_scenes_that_use_neither_file_are_not_stale(scenes, tmp_path):
    for name in ("old", "new"):
        (tmp_path / name).mkdir()
        shutil.copy(ROOT / "palettes/tilda.toml", tmp_path / name)
    paths = (tmp_path / "old/tilda.toml", tmp_path / "new/tilda.toml")
    text = paths[1].read_text(encoding="utf-8").replace("#C8553D", "#CC5A42")
    paths[1].write_text(text, encoding="utf-8")
    assert stale_scenes(scenes, load_model(paths[0]), load_model(paths[1]), paths) == ()
