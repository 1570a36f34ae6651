"""A background is read once, until its file changes; what cannot be read is said each time."""

import numpy as np
import pytest
from PIL import Image

from cel_check.errors import BadPicture
from cel_check.scene import background


@pytest.fixture
def reads(monkeypatch):
    real, seen = background.read_picture, []
    monkeypatch.setattr(background, "read_picture", lambda path: seen.append(path) or real(path))
    background._read.cache_clear()
    return seen


def painted(path, color, side):
    Image.fromarray(np.full((side, side, 3), color, np.uint8)).save(path)


def test_it_is_read_once_and_again_when_it_changed(tmp_path, reads):
    path = tmp_path / "harbor.png"
    painted(path, (10, 120, 200), 8)
    first = background.read_background(path)
    assert background.read_background(path) is first
    assert len(reads) == 1
    assert tuple(first[0, 0]) == (10, 120, 200, 255)
    with pytest.raises(ValueError, match="read-only"):
        first[0, 0] = 0
    painted(path, (1, 2, 3), 9)
    assert tuple(background.read_background(path)[8, 8]) == (1, 2, 3, 255)
    assert len(reads) == 2


def test_what_cannot_be_read_is_not_kept(tmp_path, reads):
    path = tmp_path / "harbor.png"
    path.write_bytes(b"\x89PNG\r\n\x1a\n and then nothing")
    for _ in range(2):
        with pytest.raises(BadPicture):
            background.read_background(path)
    assert len(reads) == 2
    with pytest.raises(FileNotFoundError):
        background.read_background(tmp_path / "nowhere.png")
