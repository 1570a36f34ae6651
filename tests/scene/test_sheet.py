"""A sheet says which drawing each level shows on each frame; every problem of it is told at once."""

import csv
import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cel_check.errors import BadInput
from cel_check.scene.names import same_name
from cel_check.scene.sheet import MOST_PROBLEMS, REMARK_NAMES, parse_sheet, read_sheet


def parse(text, folders=("A", "B")):
    return parse_sheet(text.encode("utf-8"), "sheet.csv", folders)


def cels(text, folders=("A", "B")):
    return [(row.frame, row.cels) for row in parse(text, folders).rows]


def problems(text, folders=("A", "B")):
    with pytest.raises(BadInput) as caught:
        parse(text, folders)
    return [(problem.where, problem.wrong) for problem in caught.value.problems]


def test_cells_hold_and_x_means_no_cel():
    sheet = parse("frame,A,B,camera\n1,1,,pan\n2,,03,\n3,x,,\n4,,12B,\n")
    assert sheet.levels == ("A", "B")
    assert [(row.frame, row.cels) for row in sheet.rows] == [
        (1, ("1", None)),
        (2, ("1", "3")),
        (3, (None, "3")),
        (4, (None, "12b")),
    ]
    assert [row.remarks for row in sheet.rows] == [(("camera", "pan"),), (), (), ()]


@pytest.mark.parametrize(
    "text",
    [
        "frame,A,B\n1,1,2\n2,,3\n",
        "\ufeffframe;A;B\r\n1;1;2\r\n2;;3\r\n",
        'Frame\ta\tb\n"1"\t 1 \t2\n2\t\t3\n\n\n',
    ],
)
def test_spellings_of_one_sheet(text):
    assert cels(text) == [(1, ("1", "2")), (2, ("1", "3"))]


def test_columns_run_from_the_bottom_level_to_the_top():
    assert parse("frame,B,A\n1,1,1\n").levels == ("B", "A")


def test_a_column_of_drawings_without_a_folder_is_a_lone_level():
    sheet = parse("frame,A,C\n1,1,4\n2,,x\n")
    assert sheet.levels == ("A", "C")
    assert sheet.lone == ("C",)


@pytest.mark.parametrize("name", [*sorted(REMARK_NAMES), "Camera", "NOTES"])
def test_numbers_in_a_remark_column_are_no_drawings(name):
    sheet = parse(f"frame,A,{name}\n1,1,12\n")
    assert sheet.levels == ("A",)
    assert sheet.rows[0].remarks == ((name, "12"),)


def test_text_in_an_unknown_column_is_a_remark():
    sheet = parse('frame,A,acting\n1,1,"he says: ""no"""\n2,,3\n')
    assert sheet.levels == ("A",)
    assert sheet.rows[0].remarks == (("acting", 'he says: "no"'),)


def test_a_missing_level_column_is_no_broken_sheet():
    assert parse("frame,A\n1,1\n").levels == ("A",)


def test_frames_without_a_row_are_noted():
    assert parse("frame,A\n1,1\n2,\n6,\n8,\n").notes == ("The sheet has no row for frames 3 to 5 and 7.",)


def test_folders_that_differ_in_case_need_the_exact_name():
    assert parse("frame,a\n1,1\n", folders=("A", "a")).levels == ("a",)


def test_a_folder_named_frame_does_not_take_the_frame_column():
    sheet = parse("frame,A\n1,1\n", folders=("A", "frame"))
    assert sheet.levels == ("A",)


def test_a_text_cell_names_its_row_and_column():
    assert problems("frame,A,B\n1,1,2\n2,three,\n") == [("row 3, column `A`", "`three` is no drawing number")]


@pytest.mark.parametrize(
    "cell", ["../../etc/passwd", "/etc/passwd", "C:\\x", "..%2f1", "A/1", "12.png", "-3", "1.5"]
)
def test_a_path_in_a_cell_is_a_problem_and_never_a_path(cell):
    assert problems(f"frame,A\n1,{cell}\n") == [("row 2, column `A`", f"`{cell}` is no drawing number")]


def test_every_problem_is_told_at_once():
    found = problems("frame,A,B\n1,one,2\n3,1,two\n2,1,1\n2,1,1\nfour,1,1\n,1,1\n7,1,1,spare\n")
    assert found == [
        ("row 4, column `frame`", "frame 2 comes after frame 3"),
        ("row 5, column `frame`", "frame 2 is there twice"),
        ("row 6, column `frame`", "`four` is not a whole number"),
        ("row 7, column `frame`", "the frame number is missing"),
        ("row 2, column `A`", "`one` is no drawing number"),
        ("row 3, column `B`", "`two` is no drawing number"),
        ("row 8", "the row has more cells than the header (3)"),
    ]


@pytest.mark.parametrize("frame", ["1.0", "-1", "1e3", "٣", "9" * 5000])
def test_frames_are_whole_numbers(frame):
    ((where, wrong),) = problems(f"frame,A\n{frame},1\n")
    assert where == "row 2, column `frame`"
    assert "is not a whole number" in wrong


def test_a_sheet_without_a_frame_column_names_what_it_has():
    ((where, wrong),) = problems("no,A,B\n1,1,1\n")
    assert where == "row 1"
    assert wrong == "there is no column `frame` (columns found: `no`, `A` and `B`)"


def test_columns_that_are_there_twice_are_told():
    assert problems("frame,A,a,frame\n1,1,1,1\n") == [
        ("row 1", "the column `a` is there twice"),
        ("row 1", "the column `frame` is there twice"),
    ]


def test_a_nameless_column_of_drawings_is_told_and_an_empty_one_is_not():
    assert problems("frame,A,\n1,1,4\n") == [("row 1", "column 3 holds drawing numbers and has no name")]
    assert cels("frame,A,,\n1,1,,\n") == [(1, ("1",))]


@pytest.mark.parametrize(
    ("text", "words"), [("", "it is empty"), ("\n \n", "it is empty"), ("frame,A\n", "no frames")]
)
def test_a_sheet_without_frames_is_told(text, words):
    assert words in problems(text)[0][1]


def test_a_hopeless_sheet_is_told_in_a_few_lines():
    found = problems("frame,A\n" + "".join(f"{n},bad\n" for n in range(1, 1000)))
    assert len(found) == MOST_PROBLEMS + 1
    assert found[-1] == ("", f"{999 - MOST_PROBLEMS} more problems of this kind")


def test_hidden_characters_of_a_cell_are_written_out():
    assert problems("frame,A\n1,\x1b[2J\n") == [("row 2, column `A`", "`\\x1b[2J` is no drawing number")]


def test_a_long_sheet():
    rows = cels("frame,A\n" + "".join(f"{n},{n}\n" for n in range(1, 50_001)), folders=("A",))
    assert rows[-1] == (50_000, ("50000",))


def test_a_sheet_is_read_from_its_file(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_bytes(b"frame,A\n1,1\n")
    assert read_sheet(path, ("A",)).rows[0].cels == ("1",)
    with pytest.raises(BadInput, match="no plain file"):
        read_sheet(tmp_path, ("A",))


level_names = st.lists(
    st.text(
        st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Zs", "Zl", "Zp"]),
        min_size=1,
        max_size=6,
    ),
    min_size=1,
    max_size=5,
    unique_by=same_name,
).filter(
    lambda names: all(name.strip() == name and name.casefold() not in ("frame", "notes") for name in names)
)
drawings = st.one_of(st.none(), st.from_regex(r"[1-9][0-9]{0,5}[a-z]?", fullmatch=True))


styles = st.fixed_dictionaries(
    {
        "delimiter": st.sampled_from([",", ";", "\t"]),
        "lineterminator": st.sampled_from(["\n", "\r\n", "\r"]),
    }
)


@given(st.data(), level_names, styles, st.booleans())
def test_a_written_sheet_reads_back(data, levels, style, holds):
    exposures = data.draw(st.lists(st.tuples(*[drawings] * len(levels)), min_size=1, max_size=12))
    first = data.draw(st.integers(0, 10_000))
    out = io.StringIO()
    writer = csv.writer(out, **style)
    writer.writerow(["frame", *levels, "notes"])
    before = (None,) * len(levels)
    for frame, row in enumerate(exposures, start=first):
        cells = ["" if holds and cel == held else cel or "x" for cel, held in zip(row, before, strict=True)]
        writer.writerow([frame, *cells, "a; b, \t c"])
        before = row
    text = data.draw(st.sampled_from(["", "\ufeff"])) + out.getvalue()
    sheet = parse_sheet(text.encode("utf-8"), "sheet.csv", tuple(levels))
    assert sheet.levels == tuple(levels)
    assert [row.frame for row in sheet.rows] == list(range(first, first + len(exposures)))
    assert [row.cels for row in sheet.rows] == exposures
    assert all(row.remarks == (("notes", "a; b, \t c"),) for row in sheet.rows)


sheet_like = st.lists(
    st.lists(
        st.sampled_from(["frame", "A", "B", "C", "1", "2", "x", "", '"', "\x00", "\n", "é", "notes", " "])
    ),
    max_size=6,
).map(lambda rows: "\n".join(",".join(row) for row in rows))


@settings(max_examples=300)
@given(
    st.one_of(
        st.binary(),
        st.text().map(lambda text: text.encode("utf-8", "surrogatepass")),
        sheet_like.map(str.encode),
    )
)
def test_whatever_is_in_the_file_nothing_but_bad_input_is_raised(data):
    told = ()
    try:
        sheet = parse_sheet(data, "sheet.csv", ("A", "B"))
    except BadInput as error:
        told = error.problems
    else:
        assert all(len(row.cels) == len(sheet.levels) for row in sheet.rows)
        frames = [row.frame for row in sheet.rows]
        assert frames == sorted(set(frames))
        return
    assert told
    assert all("\n" not in problem.line() for problem in told)
