"""Drawdowns are read from CGATS text and CSV, by paint number, with their illuminant, or the slip is told."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from measured_files import HEAD, cgats, told, write

from cel_check.color.spaces import White
from cel_check.errors import BadInput
from cel_check.model.measured import read_measured

LAB_ROW = '1 "R-31" 53.1 38.0 31.5'


def read_one(folder, content, name="drawdowns.txt"):
    (one,) = read_measured(write(folder, content, name))
    return one


def complaint(folder, content, name="drawdowns.txt"):
    path = write(folder, content, name)
    with pytest.raises(BadInput) as caught:
        read_measured(path)
    (problem,) = caught.value.problems
    return problem.line().removeprefix(str(path)).lstrip(", :")


def test_lab_by_name(tmp_path):
    one = read_one(tmp_path, cgats([LAB_ROW]))
    (sample,) = one.samples
    assert (sample.names, sample.lab, sample.xyz, sample.spectrum) == (
        ("R-31", "1"),
        (53.1, 38.0, 31.5),
        None,
        (),
    )
    assert (one.white, one.title, one.notes, sample.line) == (White.D50, "2026-01-15", (), 14)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "latin-1"])
def test_decimal_commas_and_encodings(tmp_path, encoding):
    one = read_one(tmp_path, cgats(['1 "Rôt 31" 53,1 38,0 -31,5']).encode(encoding))
    assert one.samples[0].names[0] == "Rôt 31"
    assert one.samples[0].lab == (53.1, 38.0, -31.5)


def test_xyz(tmp_path):
    one = read_one(tmp_path, cgats(["R-31 39.1 34.9 19.2"], "SAMPLE_ID XYZ_X XYZ_Y XYZ_Z"))
    assert one.samples[0].xyz == (39.1, 34.9, 19.2)


WAVES = (400, 450, 500, 550, 600, 650, 700)


def columns(prefix, waves=WAVES):
    return "SAMPLE_ID " + " ".join(f"{prefix}{wave}" for wave in waves)


@pytest.mark.parametrize(
    ("fields", "cells"),
    [
        (columns("nm"), "R-31 0.1 0.2 0.3 0.4 0.5 0.6 0.7"),
        (columns("NM_"), "R-31 10 20 30 40 50 60 70"),
        (columns("SPEC_", WAVES[::-1]), "R-31 70,0 60,0 50,0 40,0 30,0 20,0 10,0"),
        (columns("SPECTRAL_NM"), "R-31 0.1 0.2 0.3 0.4 0.5 0.6 0.7"),
        ("SAMPLE_ID" + 7 * " SPECTRAL_NM SPECTRAL_PCT",
         "R-31 400 10 450 20 500 30 550 40 600 50 650 60 700 70"),
    ],
)  # fmt: skip
def test_spectra_in_the_ways_they_are_written(tmp_path, fields, cells):
    (sample,) = read_one(tmp_path, cgats([cells], fields)).samples
    waves, values = zip(*sample.spectrum, strict=True)
    assert waves == WAVES
    assert values == pytest.approx([0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7])


def test_a_dark_paint_in_per_cent_is_told_by_its_columns(tmp_path):
    (sample,) = read_one(tmp_path, cgats(["R-31 1 1 1 1 1 1 1"], columns("SPECTRAL_PCT"))).samples
    assert sample.spectrum[0] == (400.0, 0.01)


@pytest.mark.parametrize("waves", [(400, 500, 600, 700), (500, 520, 540, 560, 580, 600, 620)])
def test_too_little_of_a_spectrum_is_none(tmp_path, waves):
    (sample,) = read_one(tmp_path, cgats(["R-31" + " .5" * len(waves)], columns("nm", waves))).samples
    assert sample.spectrum == ()


@pytest.mark.parametrize(
    ("keywords", "white", "noted"),
    [
        ('ILLUMINATION_NAME "D65"\nOBSERVER_ANGLE "2"\n', White.D65, False),
        ('MEASUREMENT_SOURCE "Illumination=D50	ObserverAngle=2	WhiteBase=Abs"\n', White.D50, False),
        ('WEIGHTING_FUNCTION "ILLUMINANT, D65"\n', White.D65, False),
        ("", White.D50, True),
    ],
)
def test_the_illuminant_is_found_or_taken_for_d50(tmp_path, keywords, white, noted):
    one = read_one(tmp_path, cgats([LAB_ROW], head="CGATS.17\n" + keywords))
    assert (one.white, bool(one.notes)) == (white, noted)


@pytest.mark.parametrize(
    ("keywords", "words"),
    [
        (
            'WEIGHTING_FUNCTION "ILLUMINANT, D50"\nWEIGHTING_FUNCTION "OBSERVER, 10 degree"\n',
            "10 degree observer",
        ),
        ('MEASUREMENT_SOURCE "Illumination=D65 ObserverAngle=10"\n', "10 degree observer"),
        ('ILLUMINATION_NAME "A"\n', "illuminant A"),
        ('ILLUMINATION_NAME "F2"\n', "illuminant F2"),
    ],
)
def test_colors_for_another_light_or_observer_are_refused(tmp_path, keywords, words):
    assert words in complaint(tmp_path, cgats([LAB_ROW], head="CGATS.17\n" + keywords))


def test_spectra_need_no_illuminant(tmp_path):
    head = 'CGATS.17\nWEIGHTING_FUNCTION "OBSERVER, 10 degree"\n'
    assert read_one(tmp_path, cgats(["R-31 .1 .2 .3 .4 .5 .6 .7"], columns("nm"), head=head)).notes == ()


@pytest.mark.parametrize(
    "text",
    [
        "paint,batch,L,a,b,illuminant\nR-31,7,53.1,38.0,31.5,D65\n",
        "paint;batch;L;a;b;illuminant\nR-31;7;53,1;38,0;31,5;D65\n",
        "sep=;\r\npaint;batch;L;a;b;illuminant\r\nR-31;7;53,1;38,0;31,5;D65\r\n",
        "\ufeffPaint\tBatch\tLAB_L\tLAB_A\tLAB_B\tIlluminant\r\nR-31\t7\t53.1\t38.0\t31.5\tD65\r\n",
        '# by us\n"paint","batch","L*","a*","b*","illuminant"\n"R-31","7","53,1","38,0","31,5","D65"\n\n',
    ],
)
def test_csv_in_the_ways_spreadsheets_write_it(tmp_path, text):
    one = read_one(tmp_path, text, "paints.csv")
    (sample,) = one.samples
    assert (sample.names, sample.batch, sample.lab, one.white) == (
        ("R-31",),
        "7",
        (53.1, 38.0, 31.5),
        White.D65,
    )


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (cgats(['1 "R-31" 53.1 38.0 red']), 'line 14, LAB_B: "red" is not a number.'),
        (cgats(['1 "R-31" nan 38.0 1']), 'line 14, LAB_L: "nan" is not a number.'),
        (cgats(['1 "R-31" 5311 38.0 1']), "line 14, LAB_L: 5311 38 1 is no color."),
        (cgats(["1 2 3"], "A_1 B_1 C_1"), "line 13: no column names the paint."),
        (cgats(["1 2 3"], "SAMPLE_ID B_1 C_1"), "line 13: no column holds a color."),
        ("paint,L,a,b\nR-31,53,1,38,0,31,5\n", "line 2: the row has 7 cells for 4 columns."),
        ("", "the file is empty."),
        ("\n\n", "the file is empty."),
        (",", "the file is empty."),
        (";;\n;;\n", "the file is empty."),
    ],
)
def test_slips_are_told_with_their_place(tmp_path, text, words):
    assert complaint(tmp_path, text).startswith(words)


def test_what_is_not_there_or_no_file(tmp_path):
    for path, words in ((tmp_path / "no.txt", "there is no such file"), (tmp_path, "this is no plain file")):
        with pytest.raises(BadInput, match=words):
            read_measured(path)


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_told(tmp_path_factory, content):
    assert len(told(read_measured, write(tmp_path_factory.mktemp("any"), content))) <= 1


@given(st.integers(0, 600), st.integers(0, 30), st.binary(max_size=4))
def test_a_damaged_file_is_read_or_told(tmp_path_factory, at, length, put):
    good = cgats([LAB_ROW, '2 "R-32" 38,2 40,1 24,0'], head=HEAD).encode()
    path = write(tmp_path_factory.mktemp("damaged"), good[:at] + put + good[at + length :])
    assert len(told(read_measured, path)) <= 1
