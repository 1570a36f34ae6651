"""The camera must not see past the background, nor past the paper of art that runs off it."""

import dataclasses

import cv2
import numpy as np
import pytest

from cel_check.faults import SendTo, Verdict
from cel_check.picture.thumbnail import encode_thumbnail
from cel_check.scene.composite import Compositor
from cel_check.scene.frames import exposures_of
from cel_check.scene.short_of_field import short_of_field
from cel_check.scene.tasks import tasks_of
from cel_check.settings import DEFAULTS

WIDTH, HEIGHT = 240, 160


def sheet(*entries):
    rows = (f"{frame},{1 if frame == 1 else ''},{entry}" for frame, entry in enumerate(entries, 1))
    return "\n".join(["frame,A,camera", *rows, ""])


@pytest.fixture
def found(make_scene, make_cel, tmp_path):
    """Looks at a scene of one cel over a background of some size; `art` is where the cel is painted."""

    def look(entries, behind=(WIDTH, HEIGHT), art=np.s_[60:100, 40:120], **more):
        scene = make_scene({"A": ["1.png"]}, sheet(*entries), **more)
        if behind is not None:
            cv2.imwrite(str(tmp_path / "bg.png"), np.full((behind[1], behind[0], 3), 90, np.uint8))
            scene = dataclasses.replace(scene, folder=tmp_path, background="bg.png")
        rgba = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
        rgba[art] = (200, 80, 60, 255)
        cels = [
            make_cel(task, width=WIDTH, height=HEIGHT, thumbnail=encode_thumbnail(rgba))
            for task in tasks_of(scene, DEFAULTS)
        ]
        return short_of_field(scene, exposures_of(scene), Compositor(scene, cels))

    return look


def test_a_field_that_leaves_the_background_is_sent_back_with_its_frames_and_sides(found):
    (fault,) = found(["12F", "", "8F 6E", "", "8F"])
    assert (fault.verdict, fault.send_to, fault.level) == (Verdict.RETAKE, SendTo.ANIMATION, None)
    assert fault.frames == (3, 4)
    assert "past the background by up to 20 px on its right on frames 3 to 4" in fault.text


def test_a_move_leaves_it_where_it_does(found):
    (fault,) = found(["12F", "", "", "", "to 12F 4N"])
    assert fault.frames == (2, 3, 4, 5)
    assert "27 px on its top" in fault.text  # four steps of a twenty-fourth of 160


@pytest.mark.parametrize("entries", [["12F"], ["8F 4E", "", "to 8F 4W"], ["6F 6N 6E"], ["pan"], [""]])
def test_a_field_within_the_background_is_no_fault(found, entries):
    assert found(entries) == ()


def test_a_pan_background_reaches_further(found):
    assert found(["12F", "", "to 12F 6E"], behind=(2 * WIDTH, HEIGHT)) == ()
    assert len(found(["12F", "", "to 12F 16E"], behind=(2 * WIDTH, HEIGHT))) == 1


def test_a_background_of_other_resolution_is_taken_for_as_large_as_the_cels(found):
    assert found(["12F"], behind=(WIDTH // 2, HEIGHT // 2)) == ()


def test_fields_that_never_fit_are_asked_about(found):
    """The pictures may have been painted to another field than scene.toml says."""
    (fault,) = found(["16F", "15F"])
    assert fault.verdict is Verdict.QUERY
    assert "`field` in scene.toml" in fault.text
    assert found(["16F", "15F"], field=16.0) == ()


def test_art_that_runs_off_its_paper_inside_the_field_is_asked_about(found):
    past = {"behind": (2 * WIDTH, HEIGHT), "entries": ["12F", "12F 3W"]}
    (fault,) = found(art=np.s_[60:100, :80], **past)
    assert (fault.verdict, fault.level, fault.frames) == (Verdict.QUERY, "A", (2,))
    assert "drawing 1 of level A" in fault.text
    assert "30 px on its left" in fault.text
    assert found(art=np.s_[60:100, 1:80], **past) == ()
    assert found(art=np.s_[60:100, 160:], **past) == ()


def test_one_cause_is_one_fault(found):
    """Where the background is short too, the cel's own edge is not told again."""
    assert len(found(["12F", "12F 3W"], art=np.s_[60:100, :80])) == 1


def test_without_a_background_the_art_alone_counts(found):
    assert found(["12F", "12F 3W"], behind=None) == ()
    assert len(found(["12F", "12F 3W"], behind=None, art=np.s_[60:100, :80])) == 1
