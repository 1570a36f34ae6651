"""Levels and drawings are found whatever lies in the folder; nothing is lost, nothing odd is opened."""

import os
from pathlib import Path

import pytest

from cel_check.errors import BadInput
from cel_check.scene.levels import find_levels, in_number_order, size_of
from cel_check.scene.scene import DrawingFile

WITHOUT_LINKS = pytest.mark.skipif(os.name != "posix", reason="links and fifos are POSIX's")


def put(folder, *files):
    for file in files:
        path = folder / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x")


def found(folder, background=None):
    return {
        level.name: [drawing.drawing for drawing in level.drawings]
        for level in find_levels(folder, background).levels
    }


def test_levels_are_folders_that_hold_drawings(tmp_path):
    put(
        tmp_path,
        "A/A-0002.png",
        "A/A-0001.png",
        "A/A-0010.png",
        "B/B-0001b.tif",
        "notes/read me.txt",
        "scene.toml",
    )
    put(
        tmp_path,
        "check/A-0001.png",
        "bg/harbour.png",
        "Background/1.png",
        ".hidden/1.png",
        "A/.1.png",
        "empty/x/1.png",
    )
    assert found(tmp_path) == {"A": ["1", "2", "10"], "B": ["1b"]}


def test_every_ending_of_a_picture_counts(tmp_path):
    put(
        tmp_path,
        *(
            f"A/{n}.{ending}"
            for n, ending in enumerate(("png", "TIF", "tiff", "Tga", "jpg", "JPEG", "bmp", "webp"))
        ),
    )
    assert found(tmp_path) == {"A": [str(n) for n in range(8)]}


def test_the_folder_of_an_earlier_report_is_no_level(tmp_path):
    put(tmp_path, "A/1.png", "earlier/report.json", "earlier/1.png")
    assert found(tmp_path) == {"A": ["1"]}


def test_a_folder_that_holds_the_background_alone_is_no_level(tmp_path):
    put(tmp_path, "A/1.png", "paint/harbour 2.png")
    assert found(tmp_path, "paint/harbour 2.png") == {"A": ["1"]}
    put(tmp_path, "paint/3.png")
    assert found(tmp_path, "paint/harbour 2.png") == {"A": ["1"], "paint": ["2", "3"]}


def test_of_two_files_with_one_number_both_are_kept(tmp_path):
    put(tmp_path, "A/A-0012.png", "A/A-12.png", "A/A-0012.tga", "A/cover.png", "A/A-0013.png")
    (level,) = find_levels(tmp_path, None).levels
    assert [(file.drawing, file.file, file.twin) for file in level.drawings] == [
        ("12", "A/A-0012.png", ""),
        ("A-0012.tga", "A/A-0012.tga", "A-0012.png"),
        ("A-12.png", "A/A-12.png", "A-0012.png"),
        ("13", "A/A-0013.png", ""),
        ("cover.png", "A/cover.png", ""),
    ]
    assert [file.numbered for file in level.drawings] == [True, False, False, True, False]


def test_a_copy_does_not_take_the_place_of_its_original(tmp_path):
    put(tmp_path, "A/A-0001 copy.png", "A/A-0001.png")
    (level,) = find_levels(tmp_path, None).levels
    assert [(file.drawing, file.file) for file in level.drawings] == [
        ("1", "A/A-0001.png"),
        ("A-0001 copy.png", "A/A-0001 copy.png"),
    ]


def test_drawings_of_one_level_never_share_a_name(tmp_path):
    files = [DrawingFile("1", f"A/{name}", tmp_path / name) for name in ("1.png", "01.png", "001.png")]
    names = [file.drawing for file in in_number_order(files)]
    assert len(set(names)) == 3


def test_files_that_look_like_art_and_are_not_read_are_noted(tmp_path):
    put(tmp_path, "A/1.png", "A/2.gif", "A/3.gif", "A/4.txt", "A/Thumbs.db", "B/1.svg", "7.png")
    assert found(tmp_path) == {"A": ["1"]}
    assert find_levels(tmp_path, None).notes == (
        "Level A: 2 files look like drawings but have endings that cel-check does not read (.gif).",
        "Level B: 1 file looks like a drawing but has an ending that cel-check does not read (.svg).",
        "A picture that lies beside the level folders was not checked.",
    )


@pytest.mark.parametrize(
    "name",
    [
        "A 1.png",
        "Ä-1.png",
        "A'1\".png",
        "<img src=x onerror=alert(1)> 1.png",
        "-1.png",
        "=1+1.png",
        "a\n1.png",
        "海1.png",
    ],
)
@WITHOUT_LINKS
def test_odd_names_are_drawings_like_any_other(tmp_path, name):
    put(tmp_path, f"A B <b>/{name}")
    (level,) = find_levels(tmp_path, None).levels
    assert level.name == "A B <b>"
    assert level.drawings[0].file == f"A B <b>/{name}"
    assert level.drawings[0].drawing == "1"


@WITHOUT_LINKS
def test_names_that_are_not_utf8_are_listed(tmp_path):
    put(tmp_path, os.fsdecode(b"A/\xff1.png"))
    assert found(tmp_path) == {"A": ["1"]}


@WITHOUT_LINKS
def test_links_are_followed_inside_the_scene_only(tmp_path):
    scene = tmp_path / "scene"
    put(tmp_path, "out/9.png", "scene/A/1.png")
    (scene / "A" / "2.png").symlink_to("1.png")
    (scene / "A" / "3.png").symlink_to(tmp_path / "out" / "9.png")
    (scene / "A" / "4.png").symlink_to("nowhere.png")
    (scene / "A" / "5.png").symlink_to("5.png")
    (scene / "B").symlink_to("A")
    (scene / "C").symlink_to(tmp_path / "out")
    (scene / "D").symlink_to("D")
    (scene / "A" / "loop").symlink_to(scene)
    levels = find_levels(scene, None)
    assert [level.name for level in levels.levels] == ["A", "B"]
    assert [(file.drawing, file.outside) for file in levels.levels[0].drawings] == [
        ("1", False),
        ("2", False),
        ("3", True),
        ("4", False),
        ("5", False),
    ]
    assert levels.notes == ("C is a link to outside the scene folder and was not followed.",)


@WITHOUT_LINKS
def test_what_is_no_file_is_listed_all_the_same(tmp_path):
    put(tmp_path, "A/1.png")
    os.mkfifo(tmp_path / "A" / "2.png")
    (tmp_path / "A" / "3.png").mkdir()
    assert found(tmp_path) == {"A": ["1", "2", "3"]}
    assert size_of(tmp_path / "A" / "1.png") == 1
    assert size_of(tmp_path / "A" / "4.png") == 0


def test_a_folder_that_cannot_be_read_is_told(tmp_path, monkeypatch):
    put(tmp_path, "A/1.png")
    plain = Path.iterdir

    def refuse(folder):
        if folder.name == "A":
            raise PermissionError(13, "Permission denied")
        return plain(folder)

    monkeypatch.setattr(Path, "iterdir", refuse)
    with pytest.raises(BadInput, match=r"A: the folder cannot be read \(Permission denied\)"):
        find_levels(tmp_path, None)
