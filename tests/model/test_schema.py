"""Places in a model file have words that a person finds again, and near keys are known by their meaning."""

import pytest

from cel_check.model.schema import meant_key, read_shape, words_for
from cel_check.model.tomlfile import TomlFile

TABLE = {"color": [{"id": "coat"}, {"id": "Deep Sea"}, {}, 7]}


@pytest.mark.parametrize(
    ("location", "words"),
    [
        (("schema",), "schema"),
        (("model",), "[model]"),
        (("model", "tolerance"), "[model] tolerance"),
        (("color", 0), "color 1 (coat)"),
        (("color", 1, "lab", "L"), 'color 2 ("Deep Sea"), lab.L'),
        (("color", 2, "id"), "color 3, id"),
        (("color", 3), "color 4"),
        (("condition", "night"), "[condition.night]"),
        (("condition", "deep night", "coat"), '[condition."deep night"] coat'),
        (("level-mix", "2", "coat"), "[level-mix.2] coat"),
    ],
)
def test_a_place_has_words(location, words):
    assert words_for(TABLE, location) == words


@pytest.mark.parametrize(
    ("key", "table", "meant"),
    [
        ("tolerence", ("color", 0), "tolerance"),
        ("Srgb", ("color", 0), "srgb"),
        ("colour", ("color", 0), "srgb"),
        ("colour", (), "color"),
        ("level_mix", (), "level-mix"),
        ("charakter", ("model",), "character"),
        ("ilumination", ("color", 0, "lab"), "illuminant"),
        ("zzz", ("color", 0), None),
    ],
)
def test_a_key_that_is_nearly_right_is_known(key, table, meant):
    assert meant_key(key, table) == meant


@pytest.mark.parametrize("version", [0, 2, -1, 1.0, True, "1", [1]])
def test_a_schema_that_is_not_the_number_1_is_the_only_thing_said(version):
    typed, problems = read_shape(TomlFile("tilda.toml", {"schema": version, "x": 1}, "", {}))
    assert typed is None
    assert [problem.mend for problem in problems] == ["Update cel-check, or write schema = 1."]
