"""What disagrees inside a file is found even where other things in it are wrong."""

import pytest

from cel_check.model.disagreements import disagreements
from cel_check.model.tomlfile import TomlFile


def wrongs(table):
    return [problem.wrong for problem in disagreements(TomlFile("tilda.toml", table, "", {}))]


COAT = {"id": "coat", "srgb": "#000000"}


def test_nothing_is_said_about_a_file_that_agrees():
    assert (
        wrongs({"color": [COAT], "condition": {"night": {"coat": 1}}, "level-mix": {"12": {"coat": 1}}}) == []
    )


def test_three_ids_alike_are_two_problems():
    assert wrongs({"color": [COAT, COAT, COAT]}) == ['the id "coat" is already that of color 1'] * 2


def test_three_values_are_one_problem():
    assert wrongs({"color": [{**COAT, "lab": {}, "xyz": {}}]}) == [
        "the color has 3 values: srgb and lab and xyz"
    ]


@pytest.mark.parametrize("key", ["sRGB", "rgb", "hex", "labs"])
def test_a_value_under_a_misspelt_key_is_not_called_missing(key):
    assert wrongs({"color": [{"id": "coat", key: "#000000"}]}) == []


@pytest.mark.parametrize("level", ["0", "01", "-1", "two", "", "²", "1.5"])
def test_a_level_mix_needs_a_levels_number(level):
    assert wrongs({"color": [COAT], "level-mix": {level: {}}}) == [f'"{level}" is not a level\'s number']


@pytest.mark.parametrize(
    "table",
    [
        {},
        {"color": 3},
        {"color": [3, []]},
        {"color": [{"id": 3, "srgb": 3}]},
        {"color": [COAT], "condition": 3, "level-mix": []},
        {"color": [COAT], "condition": {"night": 3}},
        {"schema": 2, "color": []},
    ],
)
def test_what_is_no_model_at_all_is_left_to_the_shape_check(table):
    assert wrongs(table) == []
