"""A scene folder is loaded whole, or everything wrong with it is told at once."""

from pathlib import Path

import pytest

from cel_check.errors import BadInput
from cel_check.scene.folder import NO_SHEET, level_order, load_scene
from cel_check.scene.sheet import parse_sheet

MODEL = """schema = 1
[model]
character = "Tilda Brake"
tolerance = 1.0
[[color]]
id = "coat"
name = "Coat"
use = "paint"
srgb = "#C8553D"
[condition.night]
coat = "#5A2E3A"
[level-mix.2]
coat = "#CB5B44"
"""
ROOK = MODEL.replace("Tilda Brake", "Rook").replace('[condition.night]\ncoat = "#5A2E3A"\n', "")


@pytest.fixture
def folder(tmp_path):
    scene = tmp_path / "sc012"
    for file in ("A/A-0001.png", "A/A-0002.png", "B/B-0001.png"):
        (scene / file).parent.mkdir(parents=True, exist_ok=True)
        (scene / file).write_bytes(b"x")
    (tmp_path / "tilda.toml").write_text(MODEL, encoding="utf-8")
    (tmp_path / "rook.toml").write_text(ROOK, encoding="utf-8")
    write(scene, '[scene]\nmodels = ["../tilda.toml"]\n')
    return scene


def write(scene, toml, sheet=None):
    (scene / "scene.toml").write_text("schema = 1\n" + toml, encoding="utf-8")
    if sheet is not None:
        (scene / "sheet.csv").write_text(sheet, encoding="utf-8")


def lines(folder, models=()):
    with pytest.raises(BadInput) as caught:
        load_scene(folder, models)
    return [problem.line().replace(str(folder.parent) + "/", "") for problem in caught.value.problems]


def test_a_plain_scene(folder):
    scene = load_scene(folder, ())
    assert (scene.name, scene.number, scene.source, scene.fps, scene.sheet) == (
        "sc012",
        "sc012",
        "digital",
        24,
        None,
    )
    assert [(level.name, len(level.drawings)) for level in scene.levels] == [("A", 2), ("B", 1)]
    assert scene.models == (("Tilda Brake", "../tilda.toml"),)
    assert scene.notes == (NO_SHEET,)


def test_models_hold_for_the_condition_and_the_level(folder):
    write(folder, '[scene]\nmodels = ["../tilda.toml"]\n', "frame,B,A\n1,1,1\n")
    bottom, second = load_scene(folder, ()).levels
    assert (bottom.name, bottom.palette.colors[0].hex) == ("B", "#C8553D")
    assert (second.name, second.palette.colors[0].hex) == ("A", "#CB5B44")
    write(folder, '[scene]\ncondition = "night"\nmodels = ["../tilda.toml"]\n')
    assert {level.palette.colors[0].hex for level in load_scene(folder, ()).levels} == {"#5A2E3A"}


def test_a_level_may_have_models_of_its_own(folder):
    write(
        folder,
        '[scene]\ncondition = "night"\nmodels = ["../tilda.toml"]\n[level.B]\nmodels = ["../rook.toml"]\n',
    )
    scene = load_scene(folder, ())
    assert [level.palette.characters for level in scene.levels] == [("Tilda Brake",), ("Rook",)]
    assert [level.palette.colors[0].hex for level in scene.levels] == ["#5A2E3A", "#CB5B44"]
    assert any(note.startswith("Level B has no color for night") for note in scene.notes)


def test_models_given_by_the_user_replace_those_of_every_level(folder):
    write(folder, '[scene]\nmodels = ["../nowhere.toml"]\n[level.B]\nmodels = ["../nowhere.toml"]\n')
    scene = load_scene(folder, (folder.parent / "rook.toml",))
    assert {level.palette.characters for level in scene.levels} == {("Rook",)}
    (folder / "scene.toml").unlink()
    assert load_scene(folder, (folder.parent / "rook.toml",)).models == (("Rook", "../rook.toml"),)


def test_the_order_of_the_levels():
    sheet = parse_sheet(b"frame,C,A,Z\n1,1,1,1\n", "sheet.csv", ("A", "B", "C", "D"))
    assert level_order(("A", "B", "C", "D"), sheet, ("D",)) == ("C", "A", "B", "D")
    assert level_order(("A", "B", "C", "D"), sheet, ("D", "B")) == ("C", "A", "D", "B")
    assert level_order(("A", "B", "C"), None, ("C", "nowhere", "A", "B")) == ("C", "A", "B")
    assert level_order(("A", "B"), None, ()) == ("A", "B")


def test_everything_wrong_is_told_at_once(folder):
    write(
        folder,
        '[scene]\ncolour = 1\n[level.C]\nmodels = ["../tilda.toml"]\n',
        "frame,A\n1,one\n",
    )
    told = lines(folder)
    assert told[0].startswith("sc012/scene.toml, line 3, key scene.colour: this key is not known.")
    assert told[1].startswith("sc012/sheet.csv, row 2, column `A`: `one` is no drawing number.")


def test_a_level_that_is_not_there_is_named(folder):
    write(folder, '[scene]\nmodels = ["../tilda.toml"]\n[level.C]\nmodels = ["../rook.toml"]\n')
    assert lines(folder) == [
        "sc012/scene.toml, key level.C: there is no folder C with drawings. Levels found: A and B."
    ]


def test_a_model_that_is_not_there_is_told_with_where_it_is_named(folder):
    write(folder, '[scene]\nmodels = ["../tilda.toml"]\n[level.B]\nmodels = ["../rok.toml"]\n')
    (line,) = lines(folder)
    assert "sc012/../rok.toml: there is no such color model" in line
    assert "rook.toml" in line
    assert line.endswith("It is named in sc012/scene.toml, key level.B.models.")


def test_a_scene_without_a_model_is_told_once(folder):
    write(folder, "")
    (line,) = lines(folder)
    assert line.startswith("sc012/scene.toml: levels A and B have no color model.")
    assert "--model" in line
    (folder / "scene.toml").unlink()
    assert lines(folder) == [line]


# The first three rows of the list of bad input: a bad hex, two ids alike, a tolerance of -1.
@pytest.mark.parametrize(
    ("good", "bad", "words"),
    [
        ('"#C8553D"', '"#C8553"', "#C8553"),
        (
            "[condition.night]",
            '[[color]]\nid = "coat"\nname = "C"\nuse = "paint"\nsrgb = "#000000"\n[condition.night]',
            "coat",
        ),
        ("tolerance = 1.0", "tolerance = -1", "-1"),
    ],
)
def test_a_broken_model_is_one_line(folder, good, bad, words):
    (folder.parent / "tilda.toml").write_text(MODEL.replace(good, bad, 1), encoding="utf-8")
    (line,) = lines(folder)
    assert "sc012/../tilda.toml, line" in line
    assert words in line


def test_a_condition_that_no_model_has_is_told(folder):
    write(folder, '[scene]\ncondition = "nigth"\nmodels = ["../tilda.toml"]\n')
    assert lines(folder) == [
        "sc012/scene.toml, key scene.condition: no color model of the scene has the condition nigth. "
        "Did you mean night? The conditions there are night."
    ]


def test_a_folder_without_drawings_is_told(tmp_path):
    empty = tmp_path / "sc013"
    empty.mkdir()
    (empty / "A").mkdir()
    (line,) = lines(empty)
    assert line.startswith("sc013: there are no drawings in it. Put each level's pictures into a sub-folder")


def test_what_is_no_folder_is_told(tmp_path):
    (tmp_path / "a.png").write_bytes(b"x")
    assert lines(tmp_path / "nowhere") == ["nowhere: there is no such folder. Check the path for a slip."]
    assert lines(tmp_path / "a.png")[0].startswith("a.png: it is a file, not a scene folder.")


def test_a_scanned_scene_without_a_profile_says_so_and_allows_more(folder):
    write(folder, '[scene]\nsource = "scan"\nmodels = ["../tilda.toml"]\n[scan]\ndpi = 300\npegs = "top"\n')
    scene = load_scene(folder, ())
    assert scene.scan is not None
    assert scene.scan.punch.side == "top"
    assert scene.levels[0].palette.colors[0].tolerance == 5.0
    assert any("no scanner profile" in note for note in scene.notes)
    assert any("every other kind is a query" in note for note in scene.notes)


def test_a_profile_that_is_not_there_is_one_clear_line(folder):
    write(
        folder, '[scene]\nsource = "scan"\nmodels = ["../tilda.toml"]\n[scan]\nprofile = "../scanner.toml"\n'
    )
    (line,) = lines(folder)
    assert "scanner.toml" in line


def test_a_background_that_is_not_there_is_noted(folder):
    write(folder, '[scene]\nbackground = "bg/harbour.png"\nmodels = ["../tilda.toml"]\n')
    scene = load_scene(folder, ())
    assert scene.background is None
    assert "The background bg/harbour.png is not there." in scene.notes
    (folder / "bg").mkdir()
    (folder / "bg" / "harbour.png").write_bytes(b"x")
    assert load_scene(folder, ()).background == "bg/harbour.png"


def test_a_scene_may_be_named_by_a_dot(folder, monkeypatch):
    monkeypatch.chdir(folder)
    assert load_scene(Path(), ()).name == "sc012"
