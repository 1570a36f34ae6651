"""The sample characters pass, and the bad sample is told each of its six faults by name."""

from pathlib import Path

from looks_art import UNKNOWN, lenient

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
