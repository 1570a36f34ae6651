"""A model color on the wrong part is told by the level's other drawings, or by the model's reference cel."""

from dataclasses import replace

import pytest
from figure_places import (
    BOOT,
    COAT,
    HAIR,
    PALETTE,
    SCARF,
    SLEEVE,
    TROUSERS,
    box_of,
    cel,
    level,
    places,
)

from cel_check.episode.codec import decode, encode, restored
from cel_check.faults import Fault, FaultKind, FoundColor, ModelMatch, SendTo, Verdict
from cel_check.scene.reference_cels import ReferenceCel
from cel_check.scene.results import Measured
from cel_check.scene.tasks import CelTask
from cel_check.scene.wrong_part import with_wrong_parts
from cel_check.settings import DEFAULTS

REFERENCE = (ReferenceCel("tilda-model.png", places(0)),)


def found(cels, references=()):
    return {
        one.drawing: [fault for fault in one.faults if fault.kind is FaultKind.WRONG_PART]
        for one in with_wrong_parts(cels, PALETTE, references)
    }


def flagged(cels, references=()):
    return {drawing for drawing, faults in found(cels, references).items() if faults}


def test_a_level_painted_right_has_no_fault():
    assert not flagged(level())
    assert not flagged(level(), REFERENCE)


@pytest.mark.parametrize("drawing", [1, 6, 12])
@pytest.mark.parametrize(
    ("part", "paint"), [("left sleeve", TROUSERS), ("scarf", BOOT), ("right hand", COAT)]
)
def test_a_pop_is_found_on_any_drawing_with_its_evidence(drawing, part, paint):
    faults = found(level(painted={drawing: {part: paint}}))
    assert {number for number, own in faults.items() if own} == {str(drawing)}
    (fault,) = faults[str(drawing)]
    assert fault.verdict is Verdict.RETAKE
    assert fault.send_to is SendTo.PAINT
    assert fault.box == box_of(drawing, part)
    assert fault.nearest.color == PALETTE.colors[paint].id
    assert fault.nearest.model == "tilda"
    assert fault.expected.because.startswith("same part on drawings ")
    neighbor = "2" if drawing == 1 else str(drawing - 1)
    assert neighbor in fault.expected.because
    assert fault.expected.because in fault.text
    assert fault.expected.delta_e == pytest.approx(fault.contrast)
    assert fault.expected.delta_e > 5


def test_a_pop_says_which_paint_it_should_be():
    (fault,) = found(level(painted={6: {"left sleeve": TROUSERS}}))["6"]
    assert fault.text.startswith("Trousers (P-3) is on a part that should be Sleeve (P-1): ")
    assert (fault.found.srgb, fault.expected.color) == ("#283C6E", "sleeve")


def test_a_run_of_wrong_drawings_is_found_on_each():
    wrong = {drawing: {"scarf": HAIR} for drawing in (5, 6, 7)}
    assert flagged(level(14, painted=wrong)) == {"5", "6", "7"}


def test_a_level_wrong_throughout_is_told_by_the_reference_cel_only():
    wrong = {drawing: {"scarf": HAIR} for drawing in range(1, 13)}
    assert not flagged(level(painted=wrong))
    faults = found(level(painted=wrong), REFERENCE)
    assert all(len(own) == 1 for own in faults.values())
    fault = faults["4"][0]
    assert fault.expected.because == "same part on the reference cel tilda-model.png"
    assert "11 other drawings of the level too" in fault.text


def test_left_and_right_that_are_exchanged_are_told_as_that():
    right = {drawing: {"right sleeve": SCARF} for drawing in range(1, 13)}
    right[8] = {"left sleeve": SCARF, "right sleeve": SLEEVE}
    faults = found(level(painted=right))
    assert {number for number, own in faults.items() if own} == {"8"}
    assert all("exchanged" in fault.text for fault in faults["8"])


def test_parts_of_one_paint_that_should_be_another_are_one_fault():
    faults = found(level(painted={6: {"left sleeve": SCARF, "right sleeve": SCARF}}))["6"]
    assert len(faults) == 1
    assert "in 2 places" in faults[0].text
    assert faults[0].expected.color == PALETTE.colors[SLEEVE].id


@pytest.mark.parametrize(
    "hidden",
    [("left hand",), ("left sleeve", "left hand"), ("right boot", "right leg"), ("face", "hair", "scarf")],
)
def test_what_passes_behind_or_comes_and_goes_is_no_fault(hidden):
    assert not flagged(level(without={4: hidden, 5: hidden, 11: hidden}), REFERENCE)
    assert not flagged(level(without=dict.fromkeys(range(6, 13), hidden)), REFERENCE)


def test_of_two_drawings_neither_is_sent_back():
    faults = found(level(2, painted={2: {"scarf": HAIR}}))
    assert all(fault.verdict is Verdict.QUERY for own in faults.values() for fault in own)


def test_a_fill_off_the_model_is_told_what_it_should_be():
    near = ModelMatch("boot", "Boot", "P-4", "tilda", "#3C281E", 3.0, 2.0)
    off = Fault(
        FaultKind.OFF_MODEL, Verdict.RETAKE, "Boot is off. Repaint with Boot (P-4).", SendTo.PAINT, 0.9,
        box=box_of(6, "scarf"), found=FoundColor("#808080", (53.6, 0.0, 0.0)), nearest=near,
    )  # fmt: skip
    cels = level(painted={6: {"scarf": -1}})
    cels[5] = replace(cels[5], faults=(off,))
    (fault,) = with_wrong_parts(cels, PALETTE, ())[5].faults
    assert fault.kind is FaultKind.OFF_MODEL
    assert fault.expected.color == "scarf"
    assert "Repaint with Scarf (P-6): same part on drawings" in fault.text


def test_a_spill_that_explains_a_part_is_the_one_fault_and_sure():
    spill = Fault(
        FaultKind.SPILL, Verdict.QUERY, "Coat runs over.", SendTo.PAINT, 0.5, box=box_of(6, "left hand")
    )
    cels = level(painted={6: {"left hand": COAT}})
    cels[5] = replace(cels[5], faults=(spill,))
    (fault,) = with_wrong_parts(cels, PALETTE, ())[5].faults
    assert (fault.kind, fault.verdict) == (FaultKind.SPILL, Verdict.RETAKE)


def test_remembered_results_tell_the_same(tmp_path):
    cels = [replace(one, measured=Measured()) for one in level(painted={6: {"scarf": HAIR}})]
    back = [
        restored(
            decode(encode(one)), b"", CelTask("A", one.drawing, one.file, tmp_path, PALETTE, DEFAULTS, 9.0)
        )
        for one in cels
    ]
    assert found(back, REFERENCE) == found(cels, REFERENCE)
    assert flagged(back) == {"6"}


def test_a_lone_drawing_and_none_at_all_are_no_news():
    assert not flagged([cel(1)])
    assert with_wrong_parts([], PALETTE, REFERENCE) == ()


@pytest.mark.parametrize("count", [1, 2])
def test_drawings_of_a_part_or_two_are_compared_without_a_warning(count):
    cels = [replace(cel(k), places=places(k)[:count]) for k in range(1, 7)]
    assert not flagged(cels)


# A figure whose boots differ: the left one is brown, the right one green as the scarf.
BOOTS = {"left boot": BOOT, "right boot": SCARF}
EXCHANGED = {"left boot": SCARF, "right boot": BOOT}


@pytest.mark.parametrize("drawing", [2, 6, 11])
def test_two_parts_that_have_each_other_s_paint_on_a_drawing_are_both_told(drawing):
    painted = dict.fromkeys(range(1, 13), BOOTS) | {drawing: EXCHANGED}
    faults = found(level(painted=painted))
    assert {number for number, own in faults.items() if own} == {str(drawing)}
    assert {(one.nearest.color, one.expected.color) for one in faults[str(drawing)]} == {
        ("boot", "scarf"),
        ("scarf", "boot"),
    }
    for fault in faults[str(drawing)]:
        assert fault.verdict is Verdict.RETAKE
        assert "The two paints are exchanged." in fault.text
        assert f"drawings {drawing - 1}" in fault.text


def test_a_paint_that_changes_sides_on_every_drawing_is_meant():
    assert not flagged(level(painted={n: (BOOTS, EXCHANGED)[n % 2] for n in range(1, 13)}))


def test_a_paint_that_changes_sides_for_good_is_meant():
    assert not flagged(level(painted={n: BOOTS if n < 7 else EXCHANGED for n in range(1, 13)}))


def test_a_run_of_wrong_drawings_does_not_speak_for_itself():
    wrong = {number: {"left hand": HAIR} for number in (5, 6, 7, 8, 9)}
    assert flagged(level(20, painted=wrong)) == {"5", "6", "7", "8", "9"}
