"""The camera column's fields are read, held and moved; what begins as a field and is none is one line.

The notation and the field chart are common practice, no source.
"""

import pytest

from cel_check.errors import BadInput
from cel_check.scene.camera import BadEntry, Entry, Field, entry_of, fields_of, seen_rect
from cel_check.scene.sheet import parse_sheet


@pytest.mark.parametrize(
    ("cell", "field"),
    [
        ("12F", Field(12)),
        ("8F 2N 3E", Field(8, 2, 3)),
        ("8f2s3w", Field(8, -2, -3)),
        (" 6.5 F  0.5 E 1 N ", Field(6.5, 1, 0.5)),
        ("5F 0N", Field(5)),
    ],
)
def test_a_field_is_its_width_and_the_steps_of_its_middle(cell, field):
    assert entry_of(cell) == Entry(field)
    assert entry_of(f"to {cell}") == Entry(field, moved=True)


@pytest.mark.parametrize(
    "cell",
    ["", "pan", "truck in", "12", "f 8", "fade 12F", "12F dissolve", "16F X-DISS", "8 frames", "8F north"],
)
def test_words_are_a_remark(cell):
    assert entry_of(cell) is None


@pytest.mark.parametrize(
    ("cell", "wrong"),
    [
        ("8F 2Q", "`2Q` is no step"),
        ("8F 2", "`2` is no step"),
        ("8F 2N 3S", "two steps go north or south"),
        ("8F 2E 3E", "two steps go east or west"),
        ("0F", "0F is no field"),
        ("8F, 2N", "`, 2N` is no step"),
    ],
)
def test_what_begins_as_a_field_and_is_none_is_wrong(cell, wrong):
    with pytest.raises(BadEntry, match=wrong):
        entry_of(cell)


def test_entries_hold_and_a_move_runs_evenly_by_frames_from_the_entry_above():
    cells = [(1, ""), (2, "12F"), (3, ""), (4, "pan"), (6, ""), (8, "to 6F 3N 6W"), (9, "")]
    assert fields_of(cells) == (
        None,
        Field(12),
        Field(11, 0.5, -1),
        Field(10, 1, -2),
        Field(8, 2, -4),
        Field(6, 3, -6),
        Field(6, 3, -6),
    )


def test_an_entry_without_to_is_a_cut():
    assert fields_of([(1, "12F"), (2, ""), (3, "8F")]) == (Field(12), Field(12), Field(8))


def test_the_field_s_rectangle_on_pictures_of_the_scene_s_field():
    assert seen_rect(Field(12), (1920, 1080), 12) == (0, 0, 1920, 1080)
    assert seen_rect(Field(6), (1920, 1080), 12) == (480, 270, 1440, 810)
    assert seen_rect(Field(6, 0, 6), (1920, 1080), 12) == (960, 270, 1920, 810)
    assert seen_rect(Field(6, 6, 0), (1920, 1080), 12) == (480, 0, 1440, 540)
    assert seen_rect(Field(16), (1200, 600), 12) == (-200, -100, 1400, 700)


def test_a_sheet_s_problems_name_row_and_column():
    text = "frame,A,Camera\n1,1,to 8F\n2,,8F 2Q\n3,,12F\n"
    with pytest.raises(BadInput) as caught:
        parse_sheet(text.encode(), "sheet.csv", ("A",))
    lines = [problem.line() for problem in caught.value.problems]
    assert lines[0].startswith(
        "sheet.csv, row 2, column `Camera`: `to 8F` is no field "
        "(a move ends here and no field above begins it). Write"
    )
    assert lines[1].startswith(
        "sheet.csv, row 3, column `Camera`: `8F 2Q` is no field (`2Q` is no step). Write"
    )
    assert len(lines) == 2


def test_a_sheet_keeps_its_fields_beside_its_remarks():
    sheet = parse_sheet(b"frame,A,camera\n1,1,8F\n2,,pan\n", "sheet.csv", ("A",))
    assert sheet.fields == (Field(8), Field(8))
    assert sheet.rows[1].remarks == (("camera", "pan"),)
    assert parse_sheet(b"frame,A,camera\n1,1,pan\n", "sheet.csv", ("A",)).fields == ()
