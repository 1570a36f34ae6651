"""A painting is decoded once, whatever scenes show it, until its file changes; an unreadable one is told."""

import os

import numpy as np
import pytest
from PIL import Image

from cel_check.errors import BadPicture
from cel_check.scene import background


@pytest.fixture
def reads(monkeypatch):
    real, seen = background.read_picture, []
    monkeypatch.setattr(background, "read_picture", lambda path: seen.append(path) or real(path))
    background._digest.cache_clear()
    background._kept.clear()
    return seen


def painted(path, color, side):
    Image.fromarray(np.full((side, side, 3), color, np.uint8)).save(path)


def test_it_is_read_once_and_again_when_it_changed(tmp_path, reads):
    path = tmp_path / "harbor.png"
    painted(path, (10, 120, 200), 8)
    first = background.read_background(path)
    assert background.read_background(path) is first
    assert len(reads) == 1
    assert tuple(first.rgba[0, 0]) == (10, 120, 200, 255)
    for rgba in (first.rgba, first.at(4, 4)):
        with pytest.raises(ValueError, match="read-only"):
            rgba[0, 0] = 0
    painted(path, (1, 2, 3), 9)
    assert tuple(background.read_background(path).rgba[8, 8]) == (1, 2, 3, 255)
    assert len(reads) == 2


def test_one_painting_in_two_scenes_is_read_once(tmp_path, reads):
    for name in ("sc001.png", "sc002.png"):
        painted(tmp_path / name, (10, 120, 200), 8)
    first = background.read_background(tmp_path / "sc001.png")
    assert background.read_background(tmp_path / "sc002.png") is first
    assert len(reads) == 1


def test_another_painting_of_the_same_size_and_time_in_another_scene_is_read(tmp_path, reads):
    for name, color in (("sc001.bmp", (10, 120, 200)), ("sc002.bmp", (200, 10, 20))):
        painted(tmp_path / name, color, 8)
        os.utime(tmp_path / name, (1, 1))
    shown = [
        background.read_background(tmp_path / name).at(2, 2)[1, 1] for name in ("sc001.bmp", "sc002.bmp")
    ]
    assert [tuple(color) for color in shown] == [(10, 120, 200, 255), (200, 10, 20, 255)]
    assert len(reads) == 2


def test_few_paintings_are_kept(tmp_path, reads):
    for number in range(background.KEPT + 1):
        painted(tmp_path / f"{number}.png", (number, 0, 0), 8)
    for number in (*range(background.KEPT + 1), 0):
        assert background.read_background(tmp_path / f"{number}.png").rgba[0, 0, 0] == number
    assert len(reads) == background.KEPT + 2


def test_what_cannot_be_read_is_not_kept(tmp_path, reads):
    path = tmp_path / "harbor.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n and then nothing")
    for _ in range(2):
        with pytest.raises(BadPicture):
            background.read_background(path)
    assert len(reads) == 2
    with pytest.raises(FileNotFoundError):
        background.read_background(tmp_path / "nowhere.png")
