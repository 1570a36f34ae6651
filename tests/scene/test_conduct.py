"""A scene's result depends on its cels alone: not on who ran them, nor in which order they finished."""

import random
from dataclasses import replace

import pytest

from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.scene.conduct import STOPPED, conduct
from cel_check.scene.tasks import unchecked
from cel_check.settings import DEFAULTS

SHEET = "frame,A,B,notes\n1,1,,\n2,,1,look\n3,2,x,\n4,9,1,\n"


def spot(y, x, kind=FaultKind.STRAY, verdict=Verdict.RETAKE):
    return Fault(
        kind, verdict, f"at {x},{y}", SendTo.PAINT, 0.9, box=(x, y, 20, 20), area_px=400, contrast=30.0
    )


@pytest.fixture
def scene(make_scene):
    return make_scene({"A": ["1.png", "2.png", "3.png"], "B": ["1.png"]}, SHEET, notes=("a note",))


@pytest.fixture
def run(make_cel):
    def runner(found=None, lost=(), shuffle=0):
        found = found or {}

        def run(tasks):
            answers = []
            for place, task in enumerate(tasks):
                key = (task.level, task.drawing)
                if key in lost:
                    answers.append((place, unchecked(task, "its worker was killed")))
                else:
                    answers.append((place, make_cel(task, faults=tuple(found.get(key, ())))))
            random.Random(shuffle).shuffle(answers)
            return answers

        return run

    return runner


FOUND = {
    ("A", "1"): [spot(50, 10), spot(5, 90), spot(5, 3, FaultKind.SPILL, Verdict.QUERY)],
    ("B", "1"): [spot(1, 1)],
}


def test_faults_are_numbered_in_reading_order_and_know_their_frames(scene, run):
    result = conduct(scene, DEFAULTS, run(FOUND))
    assert [(fault.id, fault.kind.value, fault.frames) for fault in result.faults] == [
        ("sc012/A/1/1", "spill", (1, 2)),
        ("sc012/A/1/2", "stray", (1, 2)),
        ("sc012/A/1/3", "stray", (1, 2)),
        ("sc012/A/3/1", "uncalled-cel", ()),
        ("sc012/A/9/1", "missing-cel", (4,)),
        ("sc012/B/1/1", "stray", (2, 4)),
    ]
    assert all(fault.level for fault in result.faults)


def test_frames_carry_the_faults_that_show_on_them(scene, run):
    result = conduct(scene, DEFAULTS, run(FOUND))
    assert [(frame.frame, frame.verdict, frame.faults) for frame in result.frames] == [
        (1, Verdict.RETAKE, ("sc012/A/1/1", "sc012/A/1/2", "sc012/A/1/3")),
        (2, Verdict.RETAKE, ("sc012/A/1/1", "sc012/A/1/2", "sc012/A/1/3", "sc012/B/1/1")),
        (3, Verdict.PASS, ()),
        (4, Verdict.RETAKE, ("sc012/A/9/1", "sc012/B/1/1")),
    ]
    assert result.frames[1].remarks == (("notes", "look"),)
    assert result.frames[3].cels == (("A", "9"), ("B", "1"))


def test_every_file_has_one_verdict(scene, run):
    result = conduct(scene, DEFAULTS, run(FOUND, lost={("A", "2")}))
    assert [(cel.level, cel.drawing, cel.verdict) for cel in result.cels] == [
        ("A", "1", Verdict.RETAKE),
        ("A", "2", Verdict.NOT_CHECKED),
        ("A", "3", Verdict.QUERY),
        ("B", "1", Verdict.RETAKE),
    ]
    assert result.verdict is Verdict.RETAKE
    assert result.frames[2].verdict is Verdict.NOT_CHECKED


def test_a_scene_with_a_cel_that_was_not_checked_does_not_pass(make_scene, run):
    scene = make_scene({"A": ["1.png", "2.png"]}, "frame,A\n1,1\n2,2\n")
    assert conduct(scene, DEFAULTS, run()).verdict is Verdict.PASS
    assert conduct(scene, DEFAULTS, run(lost={("A", "2")})).verdict is Verdict.NOT_CHECKED


def test_what_the_run_leaves_out_is_not_checked(scene):
    result = conduct(scene, DEFAULTS, lambda tasks: [])
    assert {cel.verdict for cel in result.cels} == {Verdict.NOT_CHECKED}
    assert {cel.error for cel in result.cels} == {STOPPED}


@pytest.mark.parametrize("shuffle", range(1, 6))
def test_the_order_in_which_cels_finish_does_not_matter(scene, run, shuffle):
    assert conduct(scene, DEFAULTS, run(FOUND, shuffle=shuffle)) == conduct(scene, DEFAULTS, run(FOUND))


def test_the_order_in_which_a_check_reports_does_not_matter(scene, run):
    turned = {key: faults[::-1] for key, faults in FOUND.items()}
    assert conduct(scene, DEFAULTS, run(turned)) == conduct(scene, DEFAULTS, run(FOUND))


def test_a_longer_hold_is_seen_more(scene, run):
    result = conduct(scene, DEFAULTS, run({("A", "1"): [spot(1, 1)], ("A", "2"): [spot(1, 1)]}))
    by_id = {fault.id: fault.visibility for fault in result.faults}
    assert by_id["sc012/A/1/1"] > by_id["sc012/A/2/1"] > 0


def test_ids_are_unique_even_where_numbers_are_not(make_scene, run):
    scene = make_scene({"A": ["A-1.png", "A-01.png", "cover.png"]})
    found = {("A", drawing): [spot(1, 1), spot(2, 2)] for drawing in ("1", "A-1.png", "cover.png")}
    result = conduct(scene, DEFAULTS, run(found))
    ids = [fault.id for fault in result.faults]
    assert len(set(ids)) == len(ids) == 8
    assert sorted(cel.file for cel in result.cels) == ["A/A-01.png", "A/A-1.png", "A/cover.png"]


def test_sizes_are_compared_once_all_cels_are_in(scene, run):
    def narrower(tasks):
        return [(at, replace(cel, width=10) if at == 1 else cel) for at, cel in run()(tasks)]

    result = conduct(scene, DEFAULTS, narrower)
    assert [fault.kind for fault in result.cels[1].faults] == [FaultKind.WRONG_SIZE]
    assert result.cels[1].verdict is Verdict.RETAKE


def test_the_scene_s_own_facts_are_handed_on(scene, run):
    result = conduct(scene, DEFAULTS, run())
    assert (result.number, result.folder, result.levels, result.notes) == (
        "012",
        "sc012",
        ("A", "B"),
        ("a note",),
    )
