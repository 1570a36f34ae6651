"""Makes the hand-drawn scenes of `scenes.py` importable and gives a folder with one in it."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import scenes


@pytest.fixture
def full(tmp_path):
    """A scene with every verdict and nearly every shape of fault: (its results, its folder)."""
    folder = tmp_path / "sc012"
    return scenes.full_scene(folder), folder
