"""Drawing numbers are read from names and cells as the file contract says; names are shown harmless."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cel_check.scene.names import (
    frames_of,
    listed,
    near_name,
    number_in_cell,
    number_in_stem,
    number_order,
    number_runs,
    same_name,
    shown,
)


# The rule and the first two rows are the file contract's; the rest follows from its words.
@pytest.mark.parametrize(
    ("stem", "number"),
    [
        ("A-0012b", "12b"),
        ("A-0001", "1"),
        ("A2-0012", "12"),
        ("0000", "0"),
        ("12", "12"),
        ("A-0012B", "12b"),
        ("A-0012_final", "12"),
        ("A-0012final", "12"),
        ("sc012-A-3-v2", "2"),
        ("cover", None),
        ("", None),
        ("A-٣", None),
        ("Häuschen 7", "7"),
        ('A "7" <b>', "7"),
    ],
)
def test_the_last_run_of_digits_is_the_number(stem, number):
    assert number_in_stem(stem) == number


@pytest.mark.parametrize(
    ("cell", "number"),
    [("12", "12"), ("0012b", "12b"), ("7B", "7b"), ("x", None), ("A-12", None), ("12.0", None), ("-1", None)],
)
def test_a_cell_holds_nothing_but_a_number(cell, number):
    assert number_in_cell(cell) == number


def test_numbers_sort_as_numbers_and_names_come_last():
    huge = "9" * 5000
    assert sorted(["cover.png", huge, "10", "2b", "2", "2a", "1"], key=number_order) == [
        *("1", "2", "2a", "2b", "10"),
        huge,
        "cover.png",
    ]


@given(st.integers(0, 10**9), st.sampled_from(["", "a", "z"]), st.integers(0, 6))
def test_leading_zeros_do_not_count(number, letter, zeros):
    text = "0" * zeros + str(number) + letter
    assert number_in_stem(f"A-{text}") == number_in_cell(text) == f"{number}{letter}"


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("\x1b[31mred", "\\x1b[31mred"),
        ("a\nb", "a\\x0ab"),
        ("a\u202eb", "a\\u202eb"),
        ("a\udcffb", "a\\xffb"),
        ("Häuschen 海", "Häuschen 海"),
        ("\x9b1m", "\\x9b1m"),
        ("\ud800", "\\ud800"),
        ("\ue000\U000e0001", "\\ue000\\U000e0001"),
        ("\U0001f468\u200d\U0001f469", "\U0001f468\u200d\U0001f469"),
    ],
)
def test_hidden_characters_are_written_out(name, safe):
    assert shown(name) == safe


@given(st.text(st.characters(exclude_categories=())))
def test_a_shown_name_can_be_printed_anywhere_and_stays_as_it_is_the_second_time(name):
    safe = shown(name)
    assert safe.encode("utf-8").decode("utf-8") == safe
    assert shown(safe) == safe
    assert safe.isprintable() or not any(ord(char) < 32 or 127 <= ord(char) < 160 for char in safe)


def test_runs_are_sorted_and_without_repeats():
    assert number_runs((14, 13, 20, 13)) == ("13–14", "20")
    assert number_runs(()) == ()


def test_phrases():
    assert frames_of((7,)) == "frame 7"
    assert frames_of((3, 4, 5, 9)) == "frames 3 to 5 and 9"
    assert listed(("1", "2", "3")) == "1, 2 and 3"
    assert listed(tuple(map(str, range(12)))) == "0, 1, 2, 3, 4, 5, 6, 7 and 4 more"
    assert listed(()) == ""
    assert near_name("conditon", ("number", "condition")) == "Did you mean condition? "
    assert near_name("zzz", ("number", "condition")) == ""


def test_spellings_of_one_name_are_the_same():
    assert same_name("Höhe") == same_name("HO\u0308HE ")
