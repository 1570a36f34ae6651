"""Tables in the text of CGATS.17 / ISO 28178 are read whole, or one line says what is wrong and where."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from measured_files import cgats, told

from cel_check.errors import BadInput
from cel_check.model.cgats import is_cgats, read_cgats

# Written by hand after the standard; Little CMS 2 (cmsIT8LoadFromFile) loads it and reads the same back.
EXAMPLE = Path(__file__).parents[1] / "reference" / "example_cgats17.txt"
GOOD = cgats(['1 "R-31" 53.1 38.0 31.5', '2 "R-32" 38.2 40.1 24.0'])


def complaint(text):
    with pytest.raises(BadInput) as caught:
        read_cgats("paints.txt", text)
    (problem,) = caught.value.problems
    return f"{problem.where}: {problem.wrong}"


def test_the_example_of_the_standard_is_read():
    (table,) = read_cgats("example", EXAMPLE.read_text(encoding="utf-8"))
    assert table.fields[:3] == ("SAMPLE_ID", "SAMPLE_NAME", "LAB_L")
    assert [row.cells for row in table.rows] == [
        ("1", "skin mid", "65.711", "18.130", "17.810", "39.177", "34.952", "19.221"),
        ("2", "coat blue", "28.778", "14.179", "-50.297", "6.860", "5.752", "21.372"),
    ]
    assert [row.line for row in table.rows] == [17, 18]
    assert table.keywords["WEIGHTING_FUNCTION"] == "ILLUMINANT, D50; OBSERVER, 2 degree"
    assert table.keywords["ORIGINATOR"] == "hand-written example"


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_all_systems(end):
    (table,) = read_cgats("x", GOOD.replace("\n", end))
    assert [row.cells[1] for row in table.rows] == ["R-31", "R-32"]


def test_several_tables_in_one_file():
    text = GOOD + cgats(['1 "R-31" 53.0 38.1 31.6'], title="2026-02-01")
    first, second = read_cgats("x", text)
    assert (len(first.rows), len(second.rows)) == (2, 1)
    assert (first.keywords["CREATED"], second.keywords["CREATED"]) == ("2026-01-15", "2026-02-01")


def test_a_second_table_may_keep_the_fields_of_the_first():
    text = GOOD + "BEGIN_DATA\n1 R-33 10 20 30\nEND_DATA\n"
    assert [len(table.rows) for table in read_cgats("x", text)] == [2, 1]


def test_comments_blank_lines_and_unknown_keywords_are_left_alone():
    text = GOOD.replace("BEGIN_DATA\n", '# by hand\nMY_OWN\t"thing"\nBEGIN_DATA\n\n# so\n')
    (table,) = read_cgats("x", text)
    assert len(table.rows) == 2
    assert table.keywords["MY_OWN"] == "thing"


def test_a_row_may_run_over_lines_where_the_file_counts_its_sets():
    text = GOOD.replace('1 "R-31" 53.1 38.0 31.5', '1 "R-31" 53.1\n  38.0 31.5')
    assert read_cgats("x", text)[0].rows[0].cells == ("1", "R-31", "53.1", "38.0", "31.5")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("\nEND_DATA\n", "\n", "line 13: BEGIN_DATA is never closed by END_DATA"),
        ("NUMBER_OF_SETS\t2", "NUMBER_OF_SETS\t24", "line 13: NUMBER_OF_SETS says 24, and there are 2 sets"),
        ("NUMBER_OF_SETS\t2", "NUMBER_OF_SETS\tmany", 'NUMBER_OF_SETS says "many", which is no number'),
        ("NUMBER_OF_FIELDS\t5", "NUMBER_OF_FIELDS\t6", "NUMBER_OF_FIELDS says 6, and there are 5 fields"),
        ("53.1 38.0 31.5", "53.1 38.0", "line 14: the row has 4 values for 5 fields"),
        ("BEGIN_DATA_FORMAT", "BEGIN_DATA_FORM", "END_DATA_FORMAT closes nothing"),
        ("\nEND_DATA_FORMAT", "", "BEGIN_DATA stands before END_DATA_FORMAT"),
    ],
)
def test_what_does_not_add_up_is_told(old, new, words):
    assert GOOD.count(old) == 1
    assert words in complaint(GOOD.replace(old, new))


def test_data_without_a_format():
    told = complaint("CGATS.17\nBEGIN_DATA\n1 2 3\nEND_DATA\n")
    assert told == "line 2: there is no BEGIN_DATA_FORMAT before the data"


def test_a_file_without_a_table():
    assert complaint("CGATS.17\n") == ": there is no table of measurements in it"


def test_the_format_is_told_from_csv():
    assert is_cgats(GOOD)
    assert not is_cgats("paint,L,a,b\nR-31,50,1,2\n")


WORDS = st.sampled_from(
    ["BEGIN_DATA", "END_DATA", "BEGIN_DATA_FORMAT", "END_DATA_FORMAT", "NUMBER_OF_SETS", "NUMBER_OF_FIELDS",
     "LAB_L", "1", "53,1", '"', "#", "\n", "\r", "\t", " ", '"R-31"', "KEYWORD", "\x00", "é",
     "999999999999"]
)  # fmt: skip


@given(
    st.one_of(
        st.lists(WORDS, max_size=40).map("".join), st.lists(WORDS, max_size=40).map(" ".join), st.text()
    )
)
def test_anything_is_read_or_told_in_one_line(text):
    lines = told(read_cgats, "x", text)
    assert len(lines) <= 1
    assert not any("\n" in line for line in lines)


@given(st.integers(0, len(GOOD)), st.integers(0, 40), st.text(max_size=5))
def test_a_damaged_file_is_read_or_told(at, length, put):
    assert len(told(read_cgats, "x", GOOD[:at] + put + GOOD[at + length :])) <= 1


@given(
    st.lists(
        st.tuples(st.text("abcXYZ 0-9é", min_size=1), *[st.floats(-120, 120).map(lambda v: round(v, 3))] * 3),
        min_size=1,
        max_size=8,
    ),
    st.sampled_from([".", ","]),
)
def test_what_is_written_is_read_back(samples, point):
    rows = [
        f'{number}\t"{name}"\t' + "\t".join(f"{value:.3f}".replace(".", point) for value in values)
        for number, (name, *values) in enumerate(samples)
    ]
    (table,) = read_cgats("x", cgats(rows))
    for row, (name, *values) in zip(table.rows, samples, strict=True):
        assert row.cells[1] == name
        assert [table.number(row, column) for column in (2, 3, 4)] == values
