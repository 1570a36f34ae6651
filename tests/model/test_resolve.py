"""A palette has the colors of all its models as the condition, then the level's mix, then the base say."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from model_files import GOOD, load_text, spoiled

from cel_check.errors import BadInput
from cel_check.model.colormodel import Palette
from cel_check.model.resolve import palette_for
from cel_check.settings import DEFAULTS

ROOK = """\
schema = 1
[model]
character = "Rook"
[[color]]
id = "coat"
name = "Feathers"
use = "both"
srgb = "#101820"
[condition.rain]
"""


@pytest.fixture
def tilda(tmp_path):
    return load_text(tmp_path, GOOD)


@pytest.fixture
def rook(tmp_path):
    return load_text(tmp_path, ROOK, "rook.toml")


def hexes(palette: Palette) -> dict[str, str]:
    return {f"{color.model}/{color.id}": color.hex for color in palette.colors}


def test_base_colors_hold_where_there_is_no_condition_and_no_mix(tilda, rook):
    palette = palette_for([tilda, rook], None, 1)
    assert hexes(palette) == {"tilda/coat": "#C8553D", "tilda/outline": "#2A2829", "rook/coat": "#101820"}
    assert palette.characters == ("Tilda Brake", "Rook")
    assert palette.notes == ()


def test_tolerances_are_the_colors_the_models_or_the_programs(tilda, rook):
    palette = palette_for([tilda, rook], None, 1)
    assert [color.tolerance for color in palette.colors] == [1.5, 2.5, DEFAULTS.tolerance]


def test_a_tolerance_of_nil_is_kept(tmp_path):
    model = load_text(tmp_path, spoiled("tolerance = 1.5", "tolerance = 0"))
    assert palette_for([model], None, 1).colors[0].tolerance == 0.0


def test_a_condition_changes_the_colors_it_names_and_no_others(tilda):
    assert hexes(palette_for([tilda], "night", 1)) == {"tilda/coat": "#5A2E3A", "tilda/outline": "#2A2829"}


def test_a_condition_does_not_change_names_uses_tolerances_and_paint_numbers(tilda):
    base, night = palette_for([tilda], None, 1).colors[0], palette_for([tilda], "night", 1).colors[0]
    assert (night.name, night.use, night.tolerance, night.paint) == (
        base.name,
        base.use,
        base.tolerance,
        base.paint,
    )


def test_a_level_mix_holds_on_its_own_level_only(tilda):
    found = [palette_for([tilda], None, level).colors[0].hex for level in (1, 2, 3)]
    assert found == ["#C8553D", "#CB5B44", "#C8553D"]


def test_a_condition_goes_before_a_level_mix_of_the_same_color_and_a_note_says_so(tilda):
    palette = palette_for([tilda], "night", 2)
    assert palette.colors[0].hex == "#5A2E3A"
    assert palette.notes == (
        f'{tilda.file}: level mix 2 and condition "night" both name coat: the condition\'s colors hold.',
    )


def test_a_level_mix_holds_for_what_the_condition_leaves(tmp_path):
    model = load_text(tmp_path, spoiled('coat = "#CB5B44"', 'outline = "#303030"'))
    palette = palette_for([model], "night", 2)
    assert hexes(palette) == {"tilda/coat": "#5A2E3A", "tilda/outline": "#303030"}
    assert palette.notes == ()


def test_black_is_a_color_and_not_nothing(tmp_path):
    model = load_text(tmp_path, spoiled("#5A2E3A", "#000000"))
    assert palette_for([model], "night", 1).colors[0].hex == "#000000"


def test_a_model_without_the_condition_keeps_its_base_colors_and_a_note_says_so(tilda, rook):
    palette = palette_for([tilda, rook], "night", 1)
    assert hexes(palette)["rook/coat"] == "#101820"
    assert palette.notes == (f'{rook.file} has no condition "night": its base colors hold.',)


def test_a_condition_that_changes_nothing_is_still_a_condition(rook):
    assert palette_for([rook], "rain", 1).notes == ()


def test_a_condition_of_no_model_is_named_with_the_near_one(tilda, rook):
    with pytest.raises(BadInput) as caught:
        palette_for([tilda, rook], "nigth", 1)
    assert str(caught.value) == (
        f'{tilda.file}, {rook.file}: no model has the condition "nigth". Did you mean "night"? '
        "The conditions there are night, rain."
    )


def test_a_condition_where_no_model_has_any_is_refused(tmp_path):
    model = load_text(tmp_path, ROOK.replace("[condition.rain]\n", ""), "rook.toml")
    with pytest.raises(BadInput) as caught:
        palette_for([model], "night", 1)
    assert str(caught.value) == (
        f'{model.file}: no model has the condition "night". They have no conditions at all.'
    )


def test_a_model_named_twice_counts_once(tilda):
    assert palette_for([tilda, tilda], None, 1) == palette_for([tilda], None, 1)


def test_two_models_of_one_name_are_refused(tmp_path, tilda):
    other_folder = tmp_path / "other"
    other_folder.mkdir()
    other = load_text(other_folder, ROOK, "tilda.toml")
    with pytest.raises(BadInput) as caught:
        palette_for([tilda, other], None, 1)
    assert str(caught.value) == (
        f'{other.file}: another model is called "tilda" too: {tilda.file}. '
        "Rename one of the two files, since reports name a model by its file's name."
    )


def test_no_models_give_no_colors():
    assert palette_for([], "night", 1) == Palette((), ())


@given(st.integers(1, 40), st.sampled_from([None, "night"]))
def test_every_level_has_every_color_once(tmp_path_factory, level, condition):
    model = load_text(tmp_path_factory.mktemp("model"), GOOD)
    colors = palette_for([model], condition, level).colors
    assert [color.id for color in colors] == ["coat", "outline"]


def test_scenes_that_name_one_model_by_other_paths_share_its_colors(tilda):
    there = replace(tilda, file="elsewhere/tilda.toml", notes=("read before",))
    assert palette_for([there], None, 1).colors is palette_for([tilda], None, 1).colors


@pytest.mark.parametrize("change", [{"key": "rook"}, {"tolerance": 3.5}, {"conditions": ()}])
def test_a_model_that_says_something_else_shares_nothing(tilda, change):
    plain, other = palette_for([tilda], None, 1), palette_for([replace(tilda, **change)], None, 1)
    assert other.colors is not plain.colors
    assert {color.model for color in other.colors} == {change.get("key", "tilda")}
