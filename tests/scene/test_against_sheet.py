"""Each drawing that is missing, uncalled or of another size is one fault with a text to act on."""

import pytest

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.scene.against_sheet import missing_cels, uncalled_cels, wrong_sizes
from cel_check.scene.frames import exposures_of
from cel_check.scene.tasks import tasks_of
from cel_check.settings import DEFAULTS


def missing(scene):
    return missing_cels(scene, exposures_of(scene))


def sized(scene, make_cel, sizes, dpi=None):
    tasks = tasks_of(scene, DEFAULTS)
    dpis = dpi or [None] * len(tasks)
    cels = [
        make_cel(task, width=size[0] if size else None, height=size[1] if size else None, dpi=one)
        for task, size, one in zip(tasks, sizes, dpis, strict=True)
    ]
    return wrong_sizes(scene, cels)


def test_a_missing_drawing_is_one_fault_with_its_frames(make_scene):
    scene = make_scene({"A": ["1.png"]}, "frame,A\n1,1\n2,9\n3,\n4,1\n5,9\n")
    (fault,) = missing(scene)
    assert (fault.kind, fault.verdict) == (FaultKind.MISSING_CEL, Verdict.RETAKE)
    assert fault.send_to is SendTo.SHEET
    assert (fault.level, fault.drawing, fault.frames, fault.box) == ("A", "9", (2, 3, 5), None)
    assert fault.text.startswith(
        "The sheet calls drawing 9 of level A on frames 2 to 3 and 5, and its folder has no"
    )


def test_a_level_without_a_folder_is_one_fault(make_scene):
    scene = make_scene({"A": ["1.png"]}, "frame,A,C\n1,1,1\n2,,2\n3,,x\n4,,1\n")
    (fault,) = missing(scene)
    assert (fault.level, fault.drawing, fault.frames) == ("C", None, (1, 2, 4))
    assert "2 drawings 1 and 2 of level C" in fault.text


def test_a_drawing_that_is_there_is_not_missing(make_scene):
    assert missing(make_scene({"A": ["A-0012B.png"]}, "frame,A\n1,012b\n")) == ()
    assert missing(make_scene({"A": ["1.png"]})) == ()


def test_a_drawing_that_the_sheet_never_calls_is_a_query(make_scene):
    scene = make_scene({"A": ["1.png", "2.png"]}, "frame,A\n1,1\n")
    ((key, fault),) = uncalled_cels(scene).items()
    assert key == ("A", "2")
    assert (fault.kind, fault.verdict) == (FaultKind.UNCALLED_CEL, Verdict.QUERY)
    assert fault.text.startswith("The sheet never calls drawing 2 of level A.")


def test_a_level_without_a_column_is_uncalled_drawing_by_drawing(make_scene):
    faults = uncalled_cels(make_scene({"A": ["1.png"], "B": ["1.png", "2.png"]}, "frame,A\n1,1\n"))
    assert list(faults) == [("B", "1"), ("B", "2")]
    assert "no column for level B" in faults["B", "1"].text


@pytest.mark.parametrize("sheet", [None, "frame,A\n1,12\n"])
def test_a_file_that_no_sheet_could_call_is_named(make_scene, sheet):
    faults = uncalled_cels(make_scene({"A": ["A-0012.png", "A-12.png", "co\x1bver.png"]}, sheet))
    assert faults["A", "A-12.png"].text.startswith("A-12.png bears the same drawing number as A-0012.png.")
    assert faults["A", "co\x1bver.png"].text.startswith("co\\x1bver.png bears no drawing number")
    assert len(faults) == 2


def test_loose_pictures_are_called_by_nobody(make_scene, make_cel):
    scene = make_scene({"A": ["1.png", "01.png", "cover.png"]}, loose=True)
    assert uncalled_cels(scene) == {}
    assert sized(scene, make_cel, [(10, 10), (20, 20), (30, 30)]) == {}


FOUR = {"A": ["1.png", "2.png", "3.png", "4.png"]}


def test_a_picture_of_another_size_is_a_retake(make_scene, make_cel):
    ((key, fault),) = sized(make_scene(FOUR), make_cel, [(1920, 1080)] * 3 + [(1280, 720)]).items()
    assert key == ("A", "4")
    assert (fault.kind, fault.verdict) == (FaultKind.WRONG_SIZE, Verdict.RETAKE)
    assert fault.text == (
        "Drawing 4 is 1280 x 720 pixels, and most of level A is 1920 x 1080. "
        "Send it again at the level's size."
    )


def test_what_looks_like_a_pan_cel_is_a_query(make_scene, make_cel):
    (fault,) = sized(make_scene(FOUR), make_cel, [(1920, 1080)] * 3 + [(4000, 1080)]).values()
    assert fault.verdict is Verdict.QUERY
    assert "pan cel" in fault.text


def test_an_even_split_names_no_culprit_for_certain(make_scene, make_cel):
    scene = make_scene({"A": ["1.png", "2.png"], "B": ["1.png"]})
    ((key, fault),) = sized(scene, make_cel, [(1280, 720), (1920, 1080), (1920, 1080)]).items()
    assert key == ("A", "1")
    assert fault.verdict is Verdict.QUERY


def test_levels_may_differ_and_unread_pictures_have_no_size(make_scene, make_cel):
    scene = make_scene({"A": ["1.png", "2.png"], "B": ["1.png"]})
    assert sized(scene, make_cel, [(1920, 1080), None, (1280, 720)]) == {}


def test_another_resolution_is_a_query(make_scene, make_cel):
    faults = sized(make_scene(FOUR), make_cel, [(10, 10)] * 4, dpi=[300, 300.004, 299.9994, 150])
    assert list(faults) == [("A", "4")]
    assert faults["A", "4"].verdict is Verdict.QUERY
    assert "states 150 dpi, and most of level A states 300" in faults["A", "4"].text


def test_a_rounded_resolution_is_the_same(make_scene, make_cel):
    # 72 dpi is 2834.6 pixels a meter; PNG stores 2835 or 2834 (PNG 3rd edition, pHYs: whole pixels a unit).
    dpi = [72, 2835 * 0.0254, 2834 * 0.0254, None]
    assert sized(make_scene(FOUR), make_cel, [(10, 10)] * 4, dpi=dpi) == {}
