"""Color model files for the tests: a good one, and ways to spoil it."""

from pathlib import Path

import pytest

from cel_check.errors import BadInput
from cel_check.model.colormodel import ColorModel
from cel_check.model.load import load_model

GOOD = """\
schema = 1

[model]
character = "Tilda Brake"
show = "Signal Hill"
tolerance = 2.5
reference = ["tilda.png"]

[[color]]
id = "coat"
name = "Coat"
use = "paint"
srgb = "#C8553D"
paint = "R-31"
tolerance = 1.5

[[color]]
id = "outline"
name = "Outline"
use = "ink"
lab = { L = 16.2, a = 1.1, b = -0.4, illuminant = "D50" }

[condition.night]
coat = "#5A2E3A"

[level-mix.2]
coat = "#CB5B44"
"""


def write(folder: Path, text: str | bytes, name: str = "tilda.toml") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def load_text(folder: Path, text: str | bytes, name: str = "tilda.toml") -> ColorModel:
    return load_model(write(folder, text, name))


def spoiled(old: str, new: str) -> str:
    """Return the good file with one thing in it changed."""
    assert GOOD.count(old) == 1
    return GOOD.replace(old, new)


def complaints(folder: Path, text: str | bytes) -> list[str]:
    """Return what is said about a bad file, without the file's path."""
    path = write(folder, text)
    with pytest.raises(BadInput) as caught:
        load_model(path)
    lines = str(caught.value).split("\n")
    assert all(line.startswith(str(path)) for line in lines), lines
    return [line.removeprefix(str(path)).removeprefix(", ").removeprefix(": ") for line in lines]
