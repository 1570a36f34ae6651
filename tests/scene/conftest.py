"""Scenes made in memory, and results of cels that nobody had to look at."""

from pathlib import Path

import pytest

from cel_check.faults import Verdict
from cel_check.model.colormodel import Palette
from cel_check.scene.levels import in_number_order
from cel_check.scene.names import number_in_stem
from cel_check.scene.results import CelResult
from cel_check.scene.scene import DrawingFile, Level, Scene
from cel_check.scene.sheet import parse_sheet

NO_COLORS = Palette((), ())


def make_scene(levels, sheet=None, **more):
    """Make a scene of `{level: [file names]}` and the text of a sheet."""
    made = tuple(
        Level(
            name,
            in_number_order(
                [DrawingFile(number_in_stem(Path(f).stem) or f, f"{name}/{f}", Path(name, f)) for f in files]
            ),
            NO_COLORS,
        )
        for name, files in levels.items()
    )
    parsed = parse_sheet(sheet.encode(), "sheet.csv", tuple(levels)) if sheet else None
    values = {
        "folder": Path("sc012"),
        "name": "sc012",
        "number": "012",
        "source": "digital",
        "condition": None,
        "fps": 24.0,
        "field": 12.0,
        "background": None,
        "models": (),
    }
    return Scene(levels=made, sheet=parsed, **(values | more))


def make_cel(task, **more):
    """Make the result of a cel that passed."""
    values = {"verdict": Verdict.PASS, "width": 1920, "height": 1080, "sha256": "0" * 64}
    return CelResult(task.level, task.drawing, task.file, **(values | more))


@pytest.fixture(name="make_scene")
def _make_scene():
    return make_scene


@pytest.fixture(name="make_cel")
def _make_cel():
    return make_cel
