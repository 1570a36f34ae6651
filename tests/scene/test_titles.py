"""A level that is called title and leaves the title safe area is named with its frames; others are not.

SMPTE ST 2046-1:2009, clause 5, as quoted by others: titles are safe in the middle 90 % of width and height.
"""

import numpy as np
import pytest

from cel_check.picture.thumbnail import encode_thumbnail
from cel_check.scene.composite import Compositor
from cel_check.scene.frames import exposures_of
from cel_check.scene.tasks import tasks_of
from cel_check.scene.titles import safe_part, titles_outside
from cel_check.settings import DEFAULTS

WIDTH, HEIGHT = 240, 160
"""The safe area is 216 x 144, 12 and 8 from the edges."""
INSIDE = np.s_[10:150, 14:226]


@pytest.fixture
def noted(make_scene, make_cel):
    """Looks at a scene of one level whose drawings 1 and 2 are painted at two places."""

    def look(places, cells="112", level="title", camera=("", "", "")):
        rows = [f"{n},{cell},{entry}" for n, (cell, entry) in enumerate(zip(cells, camera, strict=True), 1)]
        names = [f"{number}.png" for number, _ in enumerate(places, 1)]
        scene = make_scene({level: names}, "\n".join([f"frame,{level},camera", *rows, ""]))
        cels = []
        for task, place in zip(tasks_of(scene, DEFAULTS), places, strict=True):
            rgba = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
            rgba[place] = (200, 80, 60, 255)
            cels.append(make_cel(task, width=WIDTH, height=HEIGHT, thumbnail=encode_thumbnail(rgba)))
        return titles_outside(scene, exposures_of(scene), Compositor(scene, cels))

    return look


@pytest.mark.parametrize(
    "place", [np.s_[50:60, 9:60], np.s_[50:60, 200:231], np.s_[5:20, 60:90], np.s_[140:155, 60:90]]
)
def test_a_title_past_any_side_is_named_with_its_frames(noted, place):
    assert noted([INSIDE, place]) == (
        "Level title leaves the title safe area (the middle 90 % of the field, SMPTE ST 2046-1) on frame 3: "
        "drawing 2.",
    )
    assert len(noted([INSIDE, place], level="Titles")) == 1


def test_what_is_inside_and_what_is_no_title_is_not(noted):
    assert noted([INSIDE, np.s_[8:152, 12:228]]) == ()
    assert noted([INSIDE, np.s_[:, :60]], level="B") == ()
    assert noted([INSIDE, np.s_[0:0, 0:0]]) == ()
    assert noted([np.s_[:, :], np.s_[:, :]]) == ()  # a picture on a card
    assert noted([np.s_[:, :60]], cells="xxx") == ()


def test_the_area_is_of_the_field_that_fills_the_screen(noted):
    """The 8 field shows the middle 160 x 107; its safe part is 144 x 96."""
    middle = np.s_[60:100, 60:180]
    assert noted([middle], "111", camera=("12F", "", "8F")) == ()
    (note,) = noted([middle], "111", camera=("12F", "", "8F 3E"))
    assert "on frame 3" in note


def test_the_safe_part_is_nine_tenths():
    assert safe_part((0.0, 0.0, 1920.0, 1080.0)) == pytest.approx((96, 54, 1824, 1026))
