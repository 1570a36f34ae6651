"""A CSV file becomes rows of cells whatever its delimiter and line ends, or one clear problem."""

import os

import pytest

from cel_check.errors import BadInput
from cel_check.scene.table import bytes_of, records_of


def cells(data):
    return [record.cells for record in records_of(data, "sheet.csv", "frame")]


PLAIN = [("frame", "A"), ("1", "2")]


@pytest.mark.parametrize(
    "data",
    [
        b"frame,A\n1,2\n",
        b"\xef\xbb\xbfframe,A\r\n1,2\r\n",
        b"frame;A\r1;2\r",
        b"frame\tA\n1\t2",
        b'"frame","A"\n"1","2"\n',
        b"\n\nframe,A\n1,2\n",
    ],
)
def test_the_same_table_in_many_spellings(data):
    assert cells(data) == PLAIN


def test_the_delimiter_is_the_one_that_makes_a_frame_column():
    assert cells(b"frame;say, what\n1;a, b, c\n") == [("frame", "say, what"), ("1", "a, b, c")]


def test_rows_count_as_in_a_spreadsheet():
    records = records_of(b'\nframe,notes\n1,"two\nlines"\n\n2,\n', "sheet.csv", "frame")
    assert [record.row for record in records] == [2, 3, 4, 5]


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"frame,A\n1,\xff\n", "row 2: it is not UTF-8"),
        ("frame,A\n1,2\n".encode("utf-16"), "UTF-16"),
        (b'frame,A\n1,"2\n3,4\n', "not a CSV table"),
        (b"frame,A\n1," + b"2" * 200_000, "not a CSV table"),
    ],
)
def test_what_is_no_table_is_told(data, words):
    with pytest.raises(BadInput, match=words):
        records_of(data, "sheet.csv", "frame")


def test_a_file_is_read_whole_or_told(tmp_path):
    path = tmp_path / "sheet.csv"
    path.write_bytes(b"frame\n")
    assert bytes_of(path, 100, "sheet") == b"frame\n"
    with pytest.raises(BadInput, match="longer than"):
        bytes_of(path, 3, "sheet")
    with pytest.raises(BadInput, match="no plain file"):
        bytes_of(tmp_path, 100, "sheet")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no fifos here")
def test_a_fifo_is_never_opened(tmp_path):
    os.mkfifo(tmp_path / "sheet.csv")
    with pytest.raises(BadInput, match="no plain file"):
        bytes_of(tmp_path / "sheet.csv", 100, "sheet")
