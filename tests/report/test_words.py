"""Every kind, verdict and department has its word, and no scene reads better than it is."""

from report_scenes import scene_of

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.report import words
from cel_check.scene.results import CelResult


def test_frames_are_told_with_their_runs():
    assert words.frames_phrase((14, 13, 20, 13)) == "frames 13–14, 20"
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
