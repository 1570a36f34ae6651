"""A small scene on disk, and the command line in a process of its own."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

ROOT = Path(__file__).resolve().parents[2]

MODEL = """schema = 1
[model]
character = "Tilda Brake"
[[color]]
id = "coat"
name = "Coat"
use = "paint"
srgb = "#C8553D"
[[color]]
id = "outline"
name = "Outline"
use = "ink"
srgb = "#202020"
"""


def paint(path, coat="#C8553D", size=(320, 180)):
    """Paint a cel: one coat with its ink line on a clear cel."""
    path.parent.mkdir(parents=True, exist_ok=True)
    image = Image.new("RGBA", size, (0, 0, 0, 0))
    ImageDraw.Draw(image).ellipse((100, 20, 220, 150), fill=coat, outline="#202020", width=4)
    image.save(path, "PNG")
    return path


def make_scene(folder, drawings=3, sheet=True):
    """Make a scene whose cels all pass, with its model beside it."""
    for number in range(1, drawings + 1):
        paint(folder / "A" / f"A-{number:04}.png")
    (folder.parent / "tilda.toml").write_text(MODEL, encoding="utf-8")
    (folder / "scene.toml").write_text(
        'schema = 1\n[scene]\nnumber = "012"\nmodels = ["../tilda.toml"]\n', encoding="utf-8"
    )
    if sheet:
        rows = "".join(f"{number},{number}\n" for number in range(1, drawings + 1))
        (folder / "sheet.csv").write_text("frame,A\n" + rows, encoding="utf-8")
    return folder


def environment(**more):
    """Return an environment in which the project is found and nothing is colored."""
    paths = os.pathsep.join([str(ROOT), str(Path(__file__).parent)])
    return {**os.environ, "PYTHONPATH": paths, "PYTHONWARNINGS": "error", **more}


def run_tool(*arguments, cwd=None, **more):
    """Run the command line in a process of its own; with one worker, unless told otherwise."""
    if arguments[:1] in {("scene",), ("cel",)} and "--jobs" not in arguments:
        arguments += ("--jobs", "1")
    return subprocess.run(
        [sys.executable, "-m", "cel_check", *map(os.fspath, arguments)],
        cwd=cwd,
        env=environment(**more),
        capture_output=True,
        encoding="utf-8",
        errors="surrogateescape",
        timeout=300,
        check=False,
    )


@pytest.fixture
def scene(tmp_path):
    return make_scene(tmp_path / "sc012")


@pytest.fixture(name="make_scene")
def _make_scene():
    return make_scene


@pytest.fixture(name="paint")
def _paint():
    return paint


@pytest.fixture(name="environment")
def _environment():
    return environment


@pytest.fixture
def tool():
    return run_tool
