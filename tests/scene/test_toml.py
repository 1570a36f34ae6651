"""scene.toml is read whole or told wrong key by key, with the name that was probably meant."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cel_check.errors import BadInput
from cel_check.scene.toml import WITHOUT_FILE, read_scene_toml

# The example of the file contract, section 2.
CONTRACT = """
schema = 1
[scene]
number     = "012"
source     = "digital"
condition  = "night"
fps        = 24
field      = 12
background = "bg/harbour.png"
models     = ["../../palettes/tilda.toml"]

[level.B]
models = ["../../palettes/rook.toml"]

[scan]
dpi     = 300
profile = "../scanner.toml"
backing = "#7FA8A0"
"""


@pytest.fixture
def read(tmp_path):
    def reader(text):
        path = tmp_path / "scene.toml"
        path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8"))
        return read_scene_toml(path)

    return reader


@pytest.fixture
def lines(read):
    def told(text):
        with pytest.raises(BadInput) as caught:
            read(text)
        return [problem.line().partition("scene.toml")[2] for problem in caught.value.problems]

    return told


def test_the_contract_s_example(read):
    keys = read(CONTRACT)
    assert keys.scene.number == "012"
    assert keys.scene.models == ("../../palettes/tilda.toml",)
    assert keys.level["B"].models == ("../../palettes/rook.toml",)
    assert keys.scan is not None
    assert keys.scan.backing == "#7FA8A0"


def test_every_key_but_the_schema_is_optional(read):
    assert read("schema = 1") == WITHOUT_FILE
    assert read("\ufeffschema = 1\r\n").scene.fps == 24


def test_an_unknown_key_is_named_with_the_near_one(lines):
    (line,) = lines("schema = 1\n[scene]\nconditon = 'night'\n")
    assert line.startswith(", line 3, key scene.conditon: this key is not known. Did you mean")
    assert "condition" in line


def test_unknown_keys_of_every_table(lines):
    told = lines("schema = 1\nscenes = 1\n[level.B]\nmodel = []\n[scan]\nback = 1\n")
    assert [line.partition(":")[0] for line in told] == [
        ", line 4, key level.B.model",
        ", line 6, key scan.back",
        ", line 2, key scenes",
    ]
    assert "models" in told[0]
    assert "backing" in told[1]
    assert "scene" in told[2].partition("Did you mean")[2]


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("", "key schema", "the key is missing. Add the line: schema = 1."),
        ("schema = 2", "line 1, key schema", "input should be 1 (found 2)"),
        ("schema = 1\n[scene]\nfps = 0", "line 3, key scene.fps", "greater than 0"),
        ("schema = 1\n[scene]\nfps = nan", "line 3, key scene.fps", "finite"),
        ("schema = 1\n[scene]\nfps = '24'", "line 3, key scene.fps", "Write a number without quotes."),
        (
            "schema = 1\n[scene]\nnumber = 12",
            "line 3, key scene.number",
            "(found 12). Write it as text in quotes.",
        ),
        ("schema = 1\n[scene]\nsource = 'film'", "line 3, key scene.source", "'digital' or 'scan'"),
        ("schema = 1\n[scene]\nmodels = 'a.toml'", "line 3, key scene.models", "Write a list in brackets"),
        ("schema = 1\n[scene]\nmodels = [1]", "line 3, key scene.models.0", "Write it as text"),
        ("schema = 1\n[scan]\nbacking = '#7FA8'", "line 3, key scan.backing", "Write a color as #RRGGBB."),
        ("schema = 1\nscene = 3", "line 2, key scene", "dictionary"),
    ],
)
def test_a_wrong_value_names_its_line_and_key(lines, text, place, words):
    (line,) = lines(text)
    assert line.startswith(f", {place}: ")
    assert words in line


def test_every_wrong_key_is_told_at_once(lines):
    assert len(lines("schema = 1\n[scene]\nfps = -1\nfield = 0\nnumber = ''\n")) == 3


def test_levels_that_differ_only_in_spelling_are_told(lines):
    (line,) = lines("schema = 1\n[level.B]\n[level.b]\n")
    assert "two [level] tables name the same level" in line


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("schema = 1\n[scene\n", "line 2, column 7"),
        ("schema = 1\nschema = 1\n", "line 2"),
        (b"schema = 1\n# \xff\n", "line 2: this is not UTF-8"),
        ("a = " + "[" * 5000, "nested too deeply"),
        ("a = " + "9" * 5000, "not TOML"),
        ("# " + "x" * 5_000_000, "more than 4 MB"),
    ],
)
def test_what_is_no_toml_names_its_line(lines, text, words):
    (line,) = lines(text)
    assert words in line
    assert "\n" not in line


def test_a_folder_is_no_scene_toml(tmp_path):
    (tmp_path / "scene.toml").mkdir()
    with pytest.raises(BadInput, match="no plain file"):
        read_scene_toml(tmp_path / "scene.toml")


@given(st.binary(max_size=200))
def test_whatever_is_in_the_file_nothing_but_bad_input_is_raised(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("toml") / "scene.toml"
    path.write_bytes(data)
    with contextlib.suppress(BadInput):
        read_scene_toml(path)
