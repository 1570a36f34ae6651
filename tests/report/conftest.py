"""Gives the tests of the report a hand-drawn scene in a folder."""

import pytest
import report_scenes


@pytest.fixture
def full(tmp_path):
    """A scene with every verdict and nearly every shape of fault: (its results, its folder)."""
    folder = tmp_path / "sc012"
    return report_scenes.full_scene(folder), folder
