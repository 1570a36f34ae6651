"""Frames come from the sheet with its holds; without one each drawing has one frame."""

from cel_check.scene.frames import exposures_of


def test_holds_count_as_screen_time(make_scene):
    scene = make_scene(
        {"A": ["1.png", "2.png"], "B": ["1.png"]}, "frame,A,B,notes\n10,1,,pan\n11,,1,\n12,2,x,\n13,1,,\n"
    )
    exposures = exposures_of(scene)
    assert dict(exposures.shown_on) == {("A", "1"): (10, 11, 13), ("A", "2"): (12,), ("B", "1"): (11,)}
    assert [exposure.cels for exposure in exposures.frames] == [
        (("A", "1"),),
        (("A", "1"), ("B", "1")),
        (("A", "2"),),
        (("A", "1"),),
    ]
    assert exposures.frames[0].remarks == (("notes", "pan"),)


def test_levels_run_as_the_sheet_s_columns_and_those_it_forgets_follow(make_scene):
    scene = make_scene({"A": ["1.png"], "B": ["1.png"], "D": ["1.png"]}, "frame,B,C,A\n1,1,1,1\n")
    assert exposures_of(scene).levels == ("B", "C", "A", "D")


def test_without_a_sheet_every_drawing_has_one_frame(make_scene):
    scene = make_scene({"A": ["1.png", "5.png", "x.png"], "B": ["2.png"]})
    exposures = exposures_of(scene)
    assert [exposure.cels for exposure in exposures.frames] == [
        (("A", "1"), ("B", "2")),
        (("A", "5"),),
        (("A", "x.png"),),
    ]
    assert all(len(frames) == 1 for frames in exposures.shown_on.values())
