"""Nothing that a person reads can act, hide or break the encoding, and no scene reads better than it is."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from report_scenes import scene_of

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.report import words
from cel_check.scene.results import CelResult

ANY_TEXT = st.text(st.characters(exclude_categories=()))


@given(ANY_TEXT)
def test_printable_is_valid_utf8_and_stays_as_it_is_the_second_time(text):
    shown = words.printable(text)
    assert shown.encode("utf-8").decode("utf-8") == shown
    assert words.printable(shown) == shown


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("A-0007.png", "A-0007.png"),
        ("灯台 é.png", "灯台 é.png"),
        ("a\nb", "a\\nb"),
        ("gnp\u202e.exe", "gnp\\u202e.exe"),
        ("caf\udce9", "caf\\xe9"),
        ("\ud800", "\\ud800"),
        ("\U0001f468\u200d\U0001f469", "\U0001f468\u200d\U0001f469"),
    ],
)
def test_printable_shows_what_would_hide(text, shown):
    assert words.printable(text) == shown


def test_number_runs_gather_holds():
    assert words.number_runs((14, 13, 20, 13)) == ("13–14", "20")
    assert words.frames_phrase((13,)) == "frame 13"
    assert words.frames_phrase(()) == "no frame of the sheet"


def test_every_kind_verdict_and_department_has_a_word():
    assert set(words.KIND_TITLES) == set(FaultKind)
    assert set(words.VERDICT_WORDS) == set(Verdict)
    assert set(words.DEPARTMENTS) == set(SendTo)


def test_an_empty_or_unchecked_scene_never_passes():
    cel = CelResult("A", "1", "A/1.png", Verdict.NOT_CHECKED)
    assert words.shown_verdict(scene_of(())) is Verdict.NOT_CHECKED
    assert words.shown_verdict(scene_of((cel,), verdict=Verdict.PASS)) is Verdict.NOT_CHECKED
    assert words.verdict_sentences(scene_of(()), 0) == ("Nothing was checked: no cel was found.",)
    assert words.verdict_sentences(scene_of((cel,)), 0) == ("1 cel was not fully checked.",)


def test_confidence_that_is_no_number_is_said_to_be_unknown():
    assert words.how_sure(float("nan")) == "not known"
    assert words.how_sure(0.97) == "all but certain (0.97)"
