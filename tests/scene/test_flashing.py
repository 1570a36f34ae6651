"""Frames of a scene that flash too often or show too many stripes are found from its cels' results.

What counts as a flash, and how many are too many, is tested in `tests/color/test_flash.py` against published
pairs, and stripes in `tests/color/test_patterns.py`; here it is frames, holds and missing cels.
"""

import dataclasses

import cv2
import numpy as np
import pytest

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.picture.thumbnail import encode_thumbnail
from cel_check.scene.before_camera import before_camera
from cel_check.scene.conduct import conduct
from cel_check.scene.flashing import CAUTION, may_flash, on_screen
from cel_check.scene.frames import exposures_of
from cel_check.scene.tasks import tasks_of, unchecked
from cel_check.settings import DEFAULTS

WIDTH, HEIGHT = 120, 80
WHITE, BLACK, GRAY = (255, 255, 255, 255), (0, 0, 0, 255), (120, 120, 120, 255)
ALL = np.s_[:, :]


def cel_of(color, where):
    rgba = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
    rgba[where] = color
    return rgba


def strobe(frames=48, on=2):
    """A sheet whose level A shows drawings 1 and 2 in turn."""
    cells = [str(frame // on % 2 + 1) if frame % on == 0 else "" for frame in range(frames)]
    return "frame,A\n" + "".join(f"{frame},{cell}\n" for frame, cell in enumerate(cells, 1))


@pytest.fixture
def look(make_scene, make_cel, tmp_path):
    """Looks at a scene of level A, whose drawings 1 and 2 are of two colors, over a gray background."""

    def make(where=ALL, *, sheet=None, colors=(WHITE, BLACK), bare=False, lost=(), **more):
        folder = tmp_path
        cv2.imwrite(str(folder / "bg.png"), np.full((HEIGHT, WIDTH, 3), 120, np.uint8))
        scene = make_scene({"A": ["1.png", "2.png"]}, strobe() if sheet is None else sheet or None, **more)
        scene = dataclasses.replace(scene, folder=folder, background=None if bare else "bg.png")

        def run(tasks):
            for place, task in enumerate(tasks):
                if task.drawing in lost:
                    yield place, unchecked(task, "it is not whole")
                    continue
                rgba = cel_of(colors[int(task.drawing) - 1], where)
                made = make_cel(task, width=WIDTH, height=HEIGHT, thumbnail=encode_thumbnail(rgba))
                yield place, made

        return conduct(scene, DEFAULTS, run)

    return make


def test_a_strobe_on_twos_of_full_field_black_and_white_is_one_retake(look):
    result = look()
    (fault,) = result.faults
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.FLASH, Verdict.RETAKE, SendTo.ANIMATION)
    assert (fault.level, fault.drawing, fault.box) == (None, None, None)
    assert fault.frames == tuple(range(3, 48))
    assert fault.id == "sc012/-/-/1"
    assert fault.visibility > 0.6
    assert fault.text.startswith(
        "Frames 3 to 47 flash more than three times in a second on 100 % of the picture."
    )
    assert "ITU-R BT.1702 and WCAG 2.2 allow that on 25 % at most." in fault.text
    assert fault.text.endswith(CAUTION)


def test_red_that_flashes_is_said_to_be_red(look):
    """A pair of the public test set: its luminances differ by 0.1 cd/m2 only."""
    (fault,) = look(colors=((101, 34, 34, 255), (9, 63, 63, 255))).faults
    assert fault.verdict is Verdict.RETAKE
    assert "to and from saturated red" in fault.text


def test_it_is_the_scene_s_and_the_frames_verdict_and_no_cel_s(look):
    result = look()
    assert result.verdict is Verdict.RETAKE
    assert {cel.verdict for cel in result.cels} == {Verdict.PASS}
    assert [frame.verdict for frame in result.frames[:3]] == [Verdict.PASS, Verdict.PASS, Verdict.RETAKE]


@pytest.mark.parametrize(
    "why",
    [
        {"where": np.s_[20:30, 40:60]},  # a blinking eye, a fiftieth of the picture
        {"where": np.s_[:, :28]},  # 23 % of it
        {"sheet": strobe(on=4)},  # three flashes a second
        {"sheet": strobe(on=2), "fps": 10.0},  # two and a half a second
        {"colors": (GRAY, (130, 130, 130, 255))},  # 12 cd/m2 apart
        {"colors": (GRAY, GRAY)},
        {"sheet": ""},  # no sheet, so nobody knows the frames
        {"loose": True},
    ],
)
def test_what_the_rules_allow_is_no_fault(look, why):
    result = look(**why)
    assert [fault.kind for fault in result.faults] == []
    assert result.notes == ()


def with_camera(text, entry):
    rows = text.splitlines()
    return "\n".join([f"{rows[0]},camera", f"{rows[1]},{entry}", *(f"{row}," for row in rows[2:]), ""])


@pytest.mark.parametrize(("entry", "found"), [("12F", 0), ("8F", 1), ("4F 8E", 0), ("16F", 0)])
def test_the_area_is_of_the_field_that_fills_the_screen(look, entry, found):
    """15 % in the middle are a third of what an 8 field shows, and little of a 4 field to the right."""
    result = look(np.s_[24:56, 38:83], sheet=with_camera(strobe(), entry))
    assert sum(fault.kind is FaultKind.FLASH for fault in result.faults) == found


def test_a_field_is_cut_out_to_the_pixel():
    """On a ramp a value tells its place: the middle of a pixel lies half a pixel from its edge."""
    frame = np.zeros((40, 60, 3), np.uint8)
    frame[..., 0] = 4 * np.arange(60)
    frame[..., 1] = 6 * np.arange(40)[:, None]
    assert on_screen(frame, None) is frame
    assert on_screen(frame, (0.0, 0.0, 60.0, 40.0)) is frame
    shown = on_screen(frame, (15.0, 10.0, 45.0, 30.0))
    assert shown.shape == frame.shape
    assert shown[7, :, 0] == pytest.approx(4 * (15 + (np.arange(60) + 0.5) / 2 - 0.5), abs=1)
    assert shown[:, 7, 1] == pytest.approx(6 * (10 + (np.arange(40) + 0.5) / 2 - 0.5), abs=1)


def test_a_quarter_broken_by_a_hair_and_a_scene_without_background_are_for_a_person(look):
    narrow = look(np.s_[:62, :39])  # 25.2 % of the picture
    assert [fault.verdict for fault in narrow.faults] == [Verdict.QUERY]
    bare = look(np.s_[:, :90], bare=True)
    assert [fault.verdict for fault in bare.faults] == [Verdict.QUERY]


def test_two_stretches_are_two_faults_with_numbers_of_their_own(look):
    still = "".join(f"{frame},\n" for frame in range(49, 120))
    again = "".join(
        f"{frame},{number}\n" for frame, number in zip(range(120, 168, 2), [1, 2] * 12, strict=True)
    )
    result = look(sheet=strobe() + still + again)
    assert [(fault.id, fault.frames[0]) for fault in result.faults] == [
        ("sc012/-/-/1", 3),
        ("sc012/-/-/2", 120),
    ]


def test_frames_with_a_cel_that_cannot_be_shown_are_left_out_and_said(look):
    result = look(lost=("2",))
    assert result.faults == ()
    assert len(result.notes) == 1
    assert result.notes[0].startswith("Frames 3 to 4, 7 to 8,")
    assert result.notes[0].endswith("could not be looked at for flashes: A 2 cannot be shown.")


def test_a_defect_of_the_check_is_a_query_that_says_so(look, monkeypatch):
    def broken(*_):
        raise ValueError("no such thing")

    monkeypatch.setattr("cel_check.scene.before_camera.flashes", broken)
    (fault,) = look().faults
    assert fault.verdict is Verdict.QUERY
    assert "ValueError: no such thing" in fault.text


def test_the_quick_look_never_rules_out_what_flashes(make_scene):
    """Seven changes of cels within less than a second; the seventh a second after the first is none."""
    sheet = "frame,A\n" + "".join(f"{frame},{number}\n" for frame, number in enumerate([1, 2] * 4, 1))
    frames = exposures_of(make_scene({"A": ["1.png", "2.png"]}, sheet)).frames
    assert may_flash(frames, 7.0, {})
    assert not may_flash(frames, 6.0, {})
    assert not may_flash(frames[:7], 24.0, {})
    moves = {exposure.frame: (0.0, 0.0, 10.0 + exposure.frame, 10.0) for exposure in frames}
    held = tuple(dataclasses.replace(exposure, cels=frames[0].cels) for exposure in frames)
    assert may_flash(held, 24.0, moves)
    assert not may_flash(held, 24.0, {})


def test_the_same_cels_from_a_ledger_give_the_same_faults(make_scene, make_cel, tmp_path):
    """Only the results count: the cels' files are not there at all."""
    scene = make_scene({"A": ["1.png", "2.png"]}, strobe())
    cels = [
        make_cel(task, width=WIDTH, height=HEIGHT, thumbnail=encode_thumbnail(cel_of(color, ALL)))
        for task, color in zip(tasks_of(scene, DEFAULTS), (WHITE, BLACK), strict=True)
    ]
    found = before_camera(scene, cels, exposures_of(scene))
    assert [fault.kind for fault in found.faults] == [FaultKind.FLASH]
    assert before_camera(scene, cels[::-1], exposures_of(scene)).faults == found.faults


STRIPES = tuple(np.s_[:, left : left + 5] for left in range(0, WIDTH, 10))
"""Twelve stripes of 5 px, as many lie between them: twelve pairs."""


def striped(share=1.0, shifted=0):
    rgba = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
    for stripe in STRIPES:
        rgba[stripe] = WHITE
    rgba[:, :, 3] = 255
    rgba = np.roll(rgba, shifted, axis=1)
    rgba[round(HEIGHT * share) :] = 0
    return rgba


@pytest.fixture
def look_at(make_scene, make_cel, tmp_path):
    """Looks at a scene of level A, whose drawings are these pictures, over a gray background."""

    def make(pictures, sheet):
        cv2.imwrite(str(tmp_path / "bg.png"), np.full((HEIGHT, WIDTH, 3), 120, np.uint8))
        names = [f"{number}.png" for number, _ in enumerate(pictures, 1)]
        scene = dataclasses.replace(make_scene({"A": names}, sheet), folder=tmp_path, background="bg.png")
        cels = [
            make_cel(task, width=WIDTH, height=HEIGHT, thumbnail=encode_thumbnail(picture))
            for task, picture in zip(tasks_of(scene, DEFAULTS), pictures, strict=True)
        ]
        return before_camera(scene, cels, exposures_of(scene)).faults

    return make


HELD = "frame,A\n" + "".join(f"{frame},{'1' if frame == 1 else ''}\n" for frame in range(1, 25))


def test_stripes_that_stand_still_are_a_query_that_says_how_many_and_how_large(look_at):
    assert look_at([striped(0.38)], HELD) == ()
    (fault,) = look_at([striped(0.43)], HELD)
    assert (fault.kind, fault.verdict, fault.level) == (FaultKind.FLASH, Verdict.QUERY, None)
    assert fault.frames == tuple(range(1, 25))
    assert fault.text == (
        "Frames 1 to 24 show a regular pattern on 43 % of the picture: 12 pairs of light and dark stripes "
        "that stand still. ITU-R BT.1702 allows more than 5 such pairs on 40 % at most. Make them fewer, "
        f"softer or smaller. {CAUTION}"
    )


def test_stripes_that_reverse_slowly_are_a_query_on_more_than_a_quarter(look_at):
    """On fours and slower they flash no more than three times a second."""
    for share, found in ((0.22, 0), (0.30, 1)):
        faults = look_at([striped(share), striped(share, 5)], strobe(on=6))
        assert len(faults) == found
        assert all("reverse in contrast. ITU-R BT.1702 allows" in fault.text for fault in faults)
        assert all("on 25 % at most" in fault.text for fault in faults)


def test_stripes_that_flash_too_often_are_told_once(look_at):
    (fault,) = look_at([striped(), striped(shifted=5)], strobe(on=2))
    assert fault.verdict is Verdict.RETAKE
    assert "more than three times in a second" in fault.text


def test_stripes_that_drift_say_that_guidance_differs(look_at):
    sheet = "frame,A\n" + "".join(f"{frame},{frame % 10 + 1}\n" for frame in range(24))
    (fault,) = look_at([striped(shifted=shift) for shift in range(10)], sheet)
    assert "stripes that drift one way. ITU-R BT.1702 lets pass what flows smoothly" in fault.text
