"""A TOML file is read whole or refused with one clear line, and its keys' lines are known."""

import os

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cel_check.errors import BadInput
from cel_check.model.tomlfile import bare, near, nearest, read_toml, shown


def said(path):
    with pytest.raises(BadInput) as caught:
        read_toml(path, "color model")
    assert len(caught.value.problems) == 1
    return str(caught.value).removeprefix(str(path))


def written(folder, content):
    path = folder / "tilda.toml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


def test_a_missing_file_is_named_with_its_near_neighbor(tmp_path):
    written(tmp_path, "")
    assert said(tmp_path / "tida.toml") == (
        ': there is no such color model. Did you mean "tilda.toml"? Check the path.'
    )
    assert said(tmp_path / "x" / "y.toml") == (
        ": there is no such color model. Its folder cannot be read either: check the path."
    )


def test_a_folder_is_not_a_file(tmp_path):
    assert said(tmp_path) == ": this is a folder, not a color model. Name the file inside it."


def test_a_pipe_is_refused_and_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.toml")
    assert said(tmp_path / "pipe.toml") == ": this is no plain file. Name the color model's file."


@pytest.mark.parametrize(
    ("name", "reason"),
    [("x" * 5000, "File name too long"), ("a\0b", "embedded null byte")],
    ids=["long", "NUL"],
)
def test_a_path_that_no_file_can_have_is_refused(tmp_path, name, reason):
    assert said(tmp_path / name) == (
        f": the color model cannot be read: {reason}. Check the path and its permissions."
    )


def test_text_that_is_not_utf_8_is_named_with_its_line(tmp_path):
    latin_1 = 'schema = 1\nname = "Außen"\n'.encode("latin-1")
    assert said(written(tmp_path, latin_1)) == (", line 2: this is not UTF-8 text. Save the file as UTF-8.")
    assert said(written(tmp_path, "schema = 1".encode("utf-16"))) == (
        ", line 1: this is not UTF-8 text. Save the file as UTF-8."
    )


def test_a_file_far_too_large_is_not_read(tmp_path):
    assert said(written(tmp_path, b"#" * (4 * 1024 * 1024 + 1))) == (
        ": more than 4 MB is too large for a color model. Name the right file."
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a = ", ", last line: this is not TOML: invalid value. Correct it there."),
        ("a = [1,", ", last line: this is not TOML: invalid value. Correct it there."),
        ("[t\n", ", line 1, column 3: this is not TOML: expected ']' at the end of a table declaration."),
        ("a = " + "[" * 100_000, ": brackets are nested too deeply. Write the file without nesting."),
        ("a = " + "9" * 5000, ": this is not TOML: exceeds the limit (4300 digits) for integer string"),
    ],
    ids=["nothing after =", "an open bracket", "an open table", "deep nesting", "a huge number"],
)
def test_what_is_not_toml_is_named_with_its_place(tmp_path, text, expected):
    assert said(written(tmp_path, text)).startswith(expected)


def test_the_lines_of_tables_and_keys_are_known(tmp_path):
    text = 'schema = 1\n[[color]]\nid = "a"\n\n  [[color]] # two\nlab.L = 3\n"no id" = 1\n'
    text += '[condition."deep night"]\nx=1\n'
    lines = read_toml(written(tmp_path, text), "color model").lines
    assert lines["schema",] == 1
    assert (lines["color",], lines["color", 0], lines["color", 1]) == (2, 2, 5)
    assert (lines["color", 0, "id"], lines["color", 1, "no id"]) == (3, 7)
    assert (lines["color", 1, "lab"], lines["color", 1, "lab", "L"]) == (6, 6)
    assert lines["condition", "deep night", "x"] == 9


def test_a_place_without_a_line_of_its_own_has_that_of_the_table_around_it(tmp_path):
    source = read_toml(written(tmp_path, "\nlab = { L = 3 }\n"), "color model")
    assert source.where(("lab", "L"), "lab.L") == "line 2, lab.L"
    assert source.where(("lab",), "") == "line 2"
    assert source.where(("xyz", "X"), "xyz.X") == "xyz.X"


def test_near_words_are_found_and_far_ones_are_not():
    assert near("nigth", ["day", "night"]) == 'Did you mean "night"? '
    assert nearest("NIGHT", ["night"]) == "night"
    assert near("firelight", ["day", "night-snow"]) == ""
    assert near("night", []) == ""


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("a\nb", '"a\\nb"'),
        ("Außen", '"Außen"'),
        (True, "true"),
        (float("nan"), "nan"),
        ({}, "a table"),
        ([], "a list"),
        ("x" * 60, '"' + "x" * 44 + "..."),
    ],
)
def test_values_are_shown_short_and_on_one_line(value, expected):
    assert shown(value) == expected


@given(st.text())
def test_a_key_of_any_letters_is_shown_on_one_line(key):
    assert bare(key).isprintable()
    assert len(bare(key)) <= 48
