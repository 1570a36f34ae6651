"""The sample characters pass, and the bad sample is told each of its six faults by name."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from looks_art import UNKNOWN, lenient

from cel_check.errors import BadInput
from cel_check.model.finding import Kind, Severity
from cel_check.model.load import load_model
from cel_check.model.looks import looks_of
from cel_check.model.shown import Levels
from cel_check.model.validate import file_findings, validate

ROOT = Path(__file__).resolve().parents[2]


def findings(*names):
    models, found = [], []
    for name in names:
        model, problems = lenient(ROOT / name)
        models.append(model)
        found += file_findings(model, problems)
    return (*found, *validate(looks_of(models), UNKNOWN, Levels.SCALED))


def test_the_sample_characters_have_no_error():
    found = findings("palettes/tilda.toml", "palettes/rook.toml", "palettes/lamp.toml")
    assert not [one.text for one in found if one.severity is Severity.ERROR]


def test_a_sample_character_alone_has_no_warning_either():
    for name in ("tilda", "rook", "lamp"):
        found = findings(f"palettes/{name}.toml")
        assert not [
            one.text
            for one in found
            if one.severity is not Severity.NOTE and one.kind is not Kind.HARD_TO_TELL
        ]


def test_the_bad_sample_is_told_all_six_by_name():
    found = findings("samples/bad_palette/pointsman.toml")
    planted = {
        (Kind.TOO_CLOSE, Severity.ERROR): "Vest (R-60) and Vest, shade (R-61) are",
        (Kind.OUT_OF_GAMUT, Severity.ERROR): "Lantern, glass (T-50), L*a*b*",
        (Kind.BROADCAST, Severity.ERROR): "Lantern, flame (Y-50) is no legal broadcast level",
        (Kind.ODD_ONE_OUT, Severity.WARNING): "Scarf (R-64) does not follow in night",
        (Kind.FILE, Severity.ERROR): 'no color has the id "hatt"',
        (Kind.PAINT_NUMBER, Severity.ERROR): "Boots and Pipe both bear the paint number K-22",
    }
    for (kind, severity), words in planted.items():
        told = [one for one in found if one.kind is kind and words in one.text]
        assert [one.severity for one in told] == [severity], words
    # and nothing else of its colors is called wrong
    others = [one for one in found if one.severity is not Severity.NOTE]
    assert {(one.kind, one.severity) for one in others} == set(planted)
    assert len(others) == 8, "the two lantern colors are each out of the gamut and illegal"


def test_a_model_read_leniently_is_the_strict_one_where_nothing_is_wrong():
    path = ROOT / "palettes/tilda.toml"
    assert lenient(path) == (load_model(path), ())


GOOD = (ROOT / "palettes/lamp.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('id    = "lamp-glass"', 'id    = "lamp-brass"', 'the id "lamp-brass" is already that of color 1'),
        ('srgb  = "#F4EFC0"\n', "", "the color has no value"),
        (
            "[condition.night]\nlamp-brass =",
            "[condition.night]\nlamp-bras =",
            'no color has the id "lamp-bras"',
        ),
        ("[condition.rain]", "[level-mix.0]\n[condition.rain]", '"0" is not a level\'s number'),
    ],
)
def test_one_slip_does_not_hide_the_rest(tmp_path, old, new, words):
    assert GOOD.count(old) == 1
    path = tmp_path / "lamp.toml"
    path.write_text(GOOD.replace(old, new).replace("#8C6B48", "#8D6C49"), encoding="utf-8")
    model, problems = lenient(path)
    assert words in " ".join(problem.wrong for problem in problems)
    assert len(model.colors) >= 9
    told = file_findings(model, problems)
    assert {one.kind for one in told} == {Kind.FILE}
    assert [one.severity for one in told].count(Severity.ERROR) == len(problems)
    validate(looks_of([model]), UNKNOWN, Levels.SCALED)


def test_what_is_odd_in_a_file_is_a_warning(tmp_path):
    path = tmp_path / "lamp.toml"
    path.write_text(
        GOOD.replace('srgb  = "#8C6B48"', "xyz = { X = 0.3, Y = 0.3, Z = 0.2, illuminant = 'D50' }")
    )
    model, problems = lenient(path)
    (scale, reference) = file_findings(model, problems)
    assert scale.severity is Severity.WARNING
    assert "is read with Y = 100 for the white" in scale.text
    assert "lamp-model.png" in reference.text


@given(st.integers(0, len(GOOD)), st.integers(0, 60), st.text(max_size=6))
def test_any_damage_is_told_or_judged(tmp_path_factory, at, length, put):
    path = tmp_path_factory.mktemp("damaged") / "lamp.toml"
    path.write_bytes((GOOD[:at] + put + GOOD[at + length :]).encode("utf-8", "surrogatepass"))
    try:
        model, problems = lenient(path)
    except BadInput:
        return
    found = (*file_findings(model, problems), *validate(looks_of([model]), UNKNOWN, Levels.SCALED))
    assert all(one.text and one.mend for one in found)
