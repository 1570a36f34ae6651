"""A color model file is read as it stands, and all that is wrong with it is said at once, line by line."""

import contextlib
import hashlib

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from model_files import GOOD, complaints, load_text, spoiled, write

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import srgb8_to_lab
from cel_check.errors import BadInput
from cel_check.model.colormodel import Use
from cel_check.model.load import load_model, load_models

SRGB_MEND = 'Write # and six digits of 0-9 and A-F, as in "#C8553D".'
COLOR_KEYS = "The keys here are id, name, use, srgb, lab, xyz, paint, tolerance."

# what is changed in the good file (old, new), and everything that is then said
BAD_FILES = {
    "a hex digit too few": (
        ('"#C8553D"', '"#C8553"'),
        [f'line 13, color 1 (coat), srgb: "#C8553" is not an sRGB color. {SRGB_MEND}'],
    ),
    "a hex color with a letter beyond F": (
        ('"#C8553D"', '"#C8553G"'),
        [f'line 13, color 1 (coat), srgb: "#C8553G" is not an sRGB color. {SRGB_MEND}'],
    ),
    "a hex color without #": (
        ('"#C8553D"', '"C8553D"'),
        [f'line 13, color 1 (coat), srgb: "C8553D" is not an sRGB color. {SRGB_MEND}'],
    ),
    "a hex color of a condition": (
        ('"#5A2E3A"', '"night blue"'),
        [f'line 24, [condition.night] coat: "night blue" is not an sRGB color. {SRGB_MEND}'],
    ),
    "a tolerance below nil": (
        ("tolerance = 1.5", "tolerance = -1"),
        ["line 15, color 1 (coat), tolerance: -1 is not a tolerance. Write a ΔE00 from 0 to 100, as in 2.0."],
    ),
    "a tolerance that is no number": (
        ("tolerance = 2.5", "tolerance = nan"),
        ["line 6, [model] tolerance: nan is not a tolerance. Write a ΔE00 from 0 to 100, as in 2.0."],
    ),
    "a tolerance that is true": (
        ("tolerance = 2.5", "tolerance = true"),
        ["line 6, [model] tolerance: true is not a tolerance. Write a ΔE00 from 0 to 100, as in 2.0."],
    ),
    "an id with other letters": (
        ('id = "outline"', 'id = "Außen Linie"'),
        [
            'line 18, color 2 ("Außen Linie"), id: "Außen Linie" is not a color id. '
            'Use only a-z, 0-9 and -, as in id = "coat".'
        ],
    ),
    "an unknown use": (
        ('use = "ink"', 'use = "line"'),
        ['line 20, color 2 (outline), use: "line" is not a use. Write use = "paint", "ink" or "both".'],
    ),
    "two ids alike": (
        ('id = "outline"', 'id = "coat"'),
        [
            'line 18, color 2 (coat), id: the id "coat" is already that of color 1. '
            "Give each color its own id."
        ],
    ),
    "a color with no value": (
        ('srgb = "#C8553D"\n', ""),
        [
            "line 9, color 1 (coat): the color has no value. "
            'Add one of srgb, lab and xyz, as in srgb = "#C8553D".'
        ],
    ),
    "a color with two values": (
        ('srgb = "#C8553D"', 'srgb = "#C8553D"\nlab = { L = 50, a = 44, b = 36, illuminant = "D65" }'),
        [
            "line 9, color 1 (coat): the color has 2 values: srgb and lab. "
            "Keep the one that was measured or mixed."
        ],
    ),
    "a key that is nearly right": (
        ("tolerance = 1.5", "tolerence = 1.5"),
        [f'line 15, color 1 (coat): the key tolerence is not known. Did you mean "tolerance"? {COLOR_KEYS}'],
    ),
    "a key in another spelling": (
        ('srgb = "#C8553D"', 'colour = "#C8553D"'),
        [f'line 13, color 1 (coat): the key colour is not known. Did you mean "srgb"? {COLOR_KEYS}'],
    ),
    "a needed key that is nearly right is not called missing as well": (
        ('name = "Coat"', 'nam = "Coat"'),
        [f'line 11, color 1 (coat): the key nam is not known. Did you mean "name"? {COLOR_KEYS}'],
    ),
    "a needed key that is missing": (
        ('name = "Coat"\n', ""),
        [
            "line 9, color 1 (coat): the key name is missing. "
            'Write what the shop calls it, as in name = "Coat".'
        ],
    ),
    "a condition that names no color of the file": (
        ('coat = "#5A2E3A"', 'coats = "#5A2E3A"'),
        [
            'line 24, [condition.night] coats: no color has the id "coats". Did you mean "coat"? '
            "Name a color of this file by its id."
        ],
    ),
    "a level mix that names no color of the file": (
        ('coat = "#CB5B44"', 'boots = "#CB5B44"'),
        ['line 27, [level-mix.2] boots: no color has the id "boots". Name a color of this file by its id.'],
    ),
    "a level mix without a number": (
        ("[level-mix.2]", "[level-mix.top]"),
        [
            'line 26, [level-mix.top]: "top" is not a level\'s number. '
            "Count the levels from the bottom: 1 is the bottom level, as in [level-mix.2]."
        ],
    ),
    "an illuminant that is not known": (
        ('"D50"', '"D55"'),
        [
            'line 21, color 2 (outline), lab.illuminant: "D55" is not an illuminant that is known here. '
            'Write illuminant = "D50" or "D65".'
        ],
    ),
    "no illuminant": (
        (', illuminant = "D50"', ""),
        [
            "line 21, color 2 (outline), lab: the key illuminant is missing. "
            'Write illuminant = "D50" or "D65".'
        ],
    ),
    "a schema of the future": (
        ("schema = 1", "schema = 2"),
        [
            "line 1, schema: schema 2 is not one that this version reads. "
            "Update cel-check, or write schema = 1."
        ],
    ),
    "no schema": (("schema = 1\n", ""), ["the key schema is missing. Write schema = 1."]),
    "a quote that is not closed": (
        ('"Tilda Brake"', '"Tilda Brake'),
        ["line 4, column 25: this is not TOML: illegal character '\\n'. Correct it there."],
    ),
    "a key that stands twice": (
        ('name = "Coat"', 'name = "Coat"\nname = "Cape"'),
        ["line 12, column 14: this is not TOML: cannot overwrite a value. Correct it there."],
    ),
    "a reference that is no path": (
        ('["tilda.png"]', "[7]"),
        [
            "line 7, [model] reference 1: 7 is not a picture's path. "
            'Write paths in brackets, as in ["../samples/tilda-model.png"].'
        ],
    ),
    "a reference without brackets": (
        ('["tilda.png"]', '"tilda.png"'),
        [
            'line 7, [model] reference: "tilda.png" is not a list of pictures. '
            'Write paths in brackets, as in ["../samples/tilda-model.png"].'
        ],
    ),
}


@pytest.mark.parametrize(("change", "expected"), BAD_FILES.values(), ids=BAD_FILES.keys())
def test_a_bad_file_is_named_with_line_fault_and_mend(tmp_path, change, expected):
    assert complaints(tmp_path, spoiled(*change)) == expected


def test_a_good_file_is_read_as_it_stands(tmp_path):
    (tmp_path / "tilda.png").touch()
    model = load_text(tmp_path, GOOD)
    assert (model.key, model.character, model.show, model.tolerance) == (
        "tilda",
        "Tilda Brake",
        "Signal Hill",
        2.5,
    )
    coat, outline = model.colors
    assert (coat.id, coat.name, coat.use, coat.swatch.srgb) == ("coat", "Coat", Use.PAINT, (200, 85, 61))
    assert (coat.paint, coat.tolerance) == ("R-31", 1.5)
    assert (outline.use, outline.paint, outline.tolerance) == (Use.INK, None, None)
    assert [variant.name for variant in model.conditions] == ["night"]
    assert model.conditions[0].colors[0][1].srgb == (0x5A, 0x2E, 0x3A)
    assert [variant.name for variant in model.level_mixes] == ["2"]
    assert model.references == (tmp_path / "tilda.png",)
    assert model.sha256 == hashlib.sha256(GOOD.encode()).hexdigest()
    assert model.notes == ()


def test_a_model_can_be_compared_and_hashed(tmp_path):
    first, second = load_text(tmp_path, GOOD), load_text(tmp_path, GOOD)
    assert first == second
    assert hash(first) == hash(second)


def test_a_byte_order_mark_is_accepted(tmp_path):
    model = load_text(tmp_path, b"\xef\xbb\xbf" + GOOD.encode())
    assert model.character == "Tilda Brake"


def test_windows_line_ends_are_accepted_and_counted_right(tmp_path):
    assert load_text(tmp_path, GOOD.replace("\n", "\r\n")).colors
    said = complaints(tmp_path, spoiled("#C8553D", "red").replace("\n", "\r\n"))
    assert said == [f'line 13, color 1 (coat), srgb: "red" is not an sRGB color. {SRGB_MEND}']


def test_a_d50_color_is_brought_to_d65_and_rounded_for_srgb(tmp_path):
    outline = load_text(tmp_path, GOOD).colors[1].swatch
    # computed beside this program with colour-science 0.4.7: Lab D50 to XYZ, Bradford to D65, to Lab
    np.testing.assert_allclose(outline.lab, (16.197034, 1.133755, -0.413019), rtol=0, atol=1e-4)
    shown = srgb8_to_lab(np.array(outline.srgb, np.uint8))
    assert ciede2000(shown, outline.lab) < 0.5


def test_xyz_has_its_white_at_100(tmp_path):
    value = 'xyz = { X = 96.422, Y = 100, Z = 82.521, illuminant = "D50" }'
    model = load_text(tmp_path, spoiled('srgb = "#C8553D"', value))
    assert model.colors[0].swatch.srgb == (255, 255, 255)
    np.testing.assert_allclose(model.colors[0].swatch.lab, (100, 0, 0), rtol=0, atol=1e-9)


def test_xyz_that_looks_like_the_other_scale_is_noted(tmp_path):
    (tmp_path / "tilda.png").touch()
    value = 'xyz = { X = 0.41, Y = 0.21, Z = 0.02, illuminant = "D65" }'
    model = load_text(tmp_path, spoiled('srgb = "#C8553D"', value))
    assert model.notes == (
        f"{tmp_path / 'tilda.toml'}: coat is nearly black, "
        "for xyz is read with Y = 100 for the white, not 1.",
    )


def test_a_color_outside_srgb_is_clipped_keeps_its_lab_and_is_noted(tmp_path):
    (tmp_path / "tilda.png").touch()
    value = 'lab = { L = 80, a = -120, b = 90, illuminant = "D65" }'
    model = load_text(tmp_path, spoiled('srgb = "#C8553D"', value))
    swatch = model.colors[0].swatch
    assert swatch.lab == (80.0, -120.0, 90.0)
    assert not swatch.in_gamut
    assert min(swatch.srgb) == 0
    assert model.notes == (
        f"{tmp_path / 'tilda.toml'}: coat is outside what sRGB can show; pictures can only hold "
        "#{:02X}{:02X}{:02X}.".format(*swatch.srgb),
    )


def test_a_missing_reference_picture_is_only_a_note(tmp_path):
    model = load_text(tmp_path, spoiled('["tilda.png"]', '["../cels/tilda.png"]'))
    assert model.references == (tmp_path.parent / "cels" / "tilda.png",)
    note = f"{tmp_path / 'tilda.toml'}: the reference picture ../cels/tilda.png is not there."
    assert model.notes == (note,)


@pytest.mark.parametrize("name", ["x" * 5000, "a\\u0000b", ".", "loop"])
def test_a_reference_that_no_picture_can_have_is_only_a_note(tmp_path, name):
    (tmp_path / "loop").symlink_to("loop")
    model = load_text(tmp_path, spoiled("tilda.png", name))
    assert len(model.notes) == 1
    assert model.notes[0].endswith(" is not there.")


def test_everything_wrong_is_said_at_once_from_top_to_bottom(tmp_path):
    text = GOOD.replace("2.5", "-1").replace('"#C8553D"', '"red"').replace('"ink"', '"pen"')
    text = text.replace('coat = "#5A2E3A"', 'goat = "#5A2E3A"')
    said = complaints(tmp_path, text)
    assert [line.split(",")[0] for line in said] == ["line 6", "line 13", "line 20", "line 24"]


def test_no_colors_is_an_error(tmp_path):
    header = 'schema = 1\n[model]\ncharacter = "Tilda"\n'
    mend = "Write [[color]] and below it id, name, use and srgb, once for each color."
    assert complaints(tmp_path, header) == [f"the key color is missing. {mend}"]
    assert complaints(tmp_path, 'schema = 1\ncolor = []\n[model]\ncharacter = "Tilda"\n') == [
        "line 2, color: the list of colors is empty. Write a [[color]] for each color."
    ]


def test_an_empty_file_says_what_a_model_needs(tmp_path):
    assert [line.split(".")[0] for line in complaints(tmp_path, "")] == [
        "the key schema is missing",
        "the key model is missing",
        "the key color is missing",
    ]


def test_the_errors_of_several_files_are_said_together(tmp_path):
    good = write(tmp_path, GOOD, "good.toml")
    first = write(tmp_path, spoiled("#C8553D", "red"), "first.toml")
    with pytest.raises(BadInput) as caught:
        load_models([first, good, tmp_path / "goood.toml"])
    assert [(problem.file, problem.where) for problem in caught.value.problems] == [
        (str(first), "line 13, color 1 (coat), srgb"),
        (str(tmp_path / "goood.toml"), ""),
    ]
    assert [model.key for model in load_models([good])] == ["good"]


# Text that is nearly a model: whole lines of a good one, with anything at all in between.
lines_like_a_models = st.lists(
    st.one_of(
        st.sampled_from(GOOD.splitlines()),
        st.text(max_size=20),
        st.sampled_from(
            ["[condition]", "[[condition]]", "[color]", "[level-mix]", "color = 3", "lab = 1", "[a.b]"]
        ),
    ),
    max_size=30,
).map("\n".join)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=300)
@given(st.one_of(st.binary(), st.text().map(str.encode), lines_like_a_models.map(str.encode)))
def test_no_file_raises_anything_but_bad_input(tmp_path, content):
    path = write(tmp_path, content)
    with contextlib.suppress(BadInput):
        load_model(path)


toml_values = st.recursive(
    st.one_of(
        st.integers(-3, 3), st.booleans(), st.sampled_from(['"coat"', '"#000000"', "nan", "1979-05-27"])
    ).map(lambda value: str(value).lower() if isinstance(value, bool) else str(value)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
        st.dictionaries(
            st.sampled_from(["L", "a", "b", "X", "id", "coat", '"\\n"', "2"]), inner, max_size=3
        ).map(lambda table: "{" + ", ".join(f"{key} = {value}" for key, value in table.items()) + "}"),
    ),
    max_leaves=6,
)
top_keys = st.sampled_from(["schema", "model", "color", "condition", "level-mix", '"a\\nb"', '""'])


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=300)
@given(st.dictionaries(top_keys, toml_values))
def test_any_value_in_any_place_is_said_on_lines_of_their_own(tmp_path, table):
    path = write(tmp_path, "\n".join(f"{key} = {value}" for key, value in table.items()))
    with pytest.raises(BadInput) as caught:  # none of these is a whole model
        load_model(path)
    assert caught.value.problems
    assert all("\n" not in problem.line() for problem in caught.value.problems)
