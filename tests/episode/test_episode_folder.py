"""An episode's folder: which sub-folders are scenes, their order and defaults; nothing broken stops it."""

import os

import pytest
from episodes import make_episode, make_scene, write_model

from cel_check.episode.folder import load_episode, natural_order
from cel_check.episode.toml import read_episode_toml
from cel_check.errors import BadInput


@pytest.fixture
def episode(tmp_path):
    return make_episode(tmp_path / "ep01", scenes=2)


def names(folder):
    return [scene.name for scene in load_episode(folder).scenes]


def test_scenes_come_in_number_order(episode):
    for name in ("sc10", "sc9", "sc9b"):
        make_scene(episode / name)
    assert names(episode) == ["sc001", "sc002", "sc9", "sc9b", "sc10"]
    assert natural_order("9" * 5000) > natural_order("8")


def test_what_is_no_scene_is_left_alone(episode):
    for name in ("palettes", "check", ".hidden", "notes"):
        (episode / name).mkdir()
    (episode / "notes" / "readme.txt").write_text("x", encoding="utf-8")
    make_scene(episode / "check" / "sc001")
    assert names(episode) == ["sc001", "sc002"]


def test_a_scene_without_its_files_counts_where_it_has_drawings_and_where_it_is_only_planned(episode):
    (make_scene(episode / "sc003") / "scene.toml").unlink()
    (episode / "sc003" / "sheet.csv").unlink()
    (episode / "sc004").mkdir()
    (episode / "sc004" / "scene.toml").write_text("schema = 1\n", encoding="utf-8")
    third, fourth = load_episode(episode).scenes[2:]
    assert "no color model" in third.problems[0].line()
    assert third.unread == 3
    assert (fourth.scene, fourth.problems) == (None, ())


def test_an_episodes_keys_hold_where_a_scene_names_none(episode):
    (make_scene(episode / "sc003") / "scene.toml").unlink()
    write_model(episode / "rook.toml", character="Rook")
    (episode / "episode.toml").write_text(
        '[episode]\nnumber = "04"\ncamera_date = "2027-03-01"\n[scene]\nmodels = ["rook.toml"]\nfps = 25\n',
        encoding="utf-8",
    )
    found = load_episode(episode)
    assert (found.number, found.camera_date.isoformat()) == ("04", "2027-03-01")
    scenes = {entry.name: entry.scene for entry in found.scenes}
    assert scenes["sc003"].models == (("Rook", "../rook.toml"),)
    assert scenes["sc001"].models == (("Tilda Brake", "../tilda.toml"),)
    assert {scene.fps for scene in scenes.values()} == {25.0}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[episode]\nnumbr = 1\n", "line 2, key episode.numbr: this key is not known. Did you mean"),
        ('[episode]\ncamera_date = "soon"\n', "line 2, key episode.camera_date: invalid isoformat"),
        ('[scene]\nnumber = "1"\n', "line 2, key scene.number: no two scenes have one number"),
        ('[scene]\nfps = "x"\n', "line 2, key scene.fps"),
        ("[epsode]\n", "line 1, key epsode: this key is not known"),
        ("=", "this is not TOML"),
    ],
)
def test_a_slip_in_episode_toml_is_told_with_its_line(episode, text, told):
    (episode / "episode.toml").write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as error:
        read_episode_toml(episode)
    assert told in error.value.problems[0].line()


@pytest.mark.skipif(os.name != "posix", reason="links are POSIX's")
def test_links_are_not_followed_and_loops_have_nothing_to_loop_through(episode, tmp_path):
    make_scene(tmp_path / "elsewhere")
    (episode / "sc003").symlink_to(tmp_path / "elsewhere", target_is_directory=True)
    (episode / "sc004").symlink_to(episode, target_is_directory=True)
    (episode / "sc005").symlink_to("sc005")
    found = load_episode(episode)
    assert [scene.name for scene in found.scenes] == ["sc001", "sc002"]
    assert [note.split()[0] for note in found.notes] == ["sc003", "sc004"]


def test_a_sequence_that_names_no_scene_is_remarked_upon(episode):
    (episode / "episode.toml").write_text('[sequences]\nharbor = ["sc001", "sc02"]\n', encoding="utf-8")
    (note,) = load_episode(episode).notes
    assert "Sequence harbor names sc02" in note


def test_a_folder_without_scenes_is_no_episode(tmp_path):
    for folder, told in (
        (tmp_path, "there are no scenes in it"),
        (tmp_path / "x", "there is no such folder"),
    ):
        with pytest.raises(BadInput, match=told):
            load_episode(folder)
