"""A figure whose outline parts from the background by neither line nor paint is named with its frames.

Colors that part and that do not are told by scikit-image's CIEDE2000, an outside implementation.
"""

import dataclasses

import cv2
import numpy as np
import pytest
from skimage.color import deltaE_ciede2000, rgb2lab

from cel_check.picture.thumbnail import encode_thumbnail
from cel_check.scene.composite import Compositor
from cel_check.scene.frames import exposures_of
from cel_check.scene.sinking import NEAR, sinking
from cel_check.scene.stacking import Stacking
from cel_check.scene.tasks import tasks_of
from cel_check.settings import DEFAULTS

WIDTH, HEIGHT = 240, 160
SEA, LIKE_SEA, SAND, INK = (40, 60, 90), (44, 62, 92), (200, 180, 140), (20, 20, 24)


def figure(paint, ink=None, at=(120, 80), radius=40):
    rgba = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
    cv2.circle(rgba, at, radius, (*paint, 255), -1)
    if ink:
        cv2.circle(rgba, at, radius, (*ink, 255), 2)
    return rgba


@pytest.fixture
def told(make_scene, make_cel, tmp_path):
    """Tells what sinks of drawings by level and number, over a sea with sand in its right quarter."""

    def tell(sheet="frame,A\n1,1\n2,\n3,2\n", bare=False, **art):
        levels = {
            level: [f"{n[1:]}.png" for n in art if n[0] == level]
            for level in dict.fromkeys(n[0] for n in art)
        }
        scene = make_scene(levels, sheet)
        ground = np.tile(np.array(SEA, np.uint8), (HEIGHT, WIDTH, 1))
        ground[:, 180:] = SAND
        cv2.imwrite(str(tmp_path / "bg.png"), ground[..., ::-1])
        scene = dataclasses.replace(scene, folder=tmp_path, background=None if bare else "bg.png")
        cels = [
            make_cel(
                task, width=WIDTH, height=HEIGHT, thumbnail=encode_thumbnail(art[task.level + task.drawing])
            )
            for task in tasks_of(scene, DEFAULTS)
        ]
        camera = Compositor(scene, cels)
        return sinking(exposures_of(scene), camera, Stacking(camera))

    return tell


def apart(one, other):
    return float(deltaE_ciede2000(*(rgb2lab(np.array(color) / 255.0) for color in (one, other))))


def test_the_colors_are_what_the_tests_take_them_for():
    assert apart(SEA, LIKE_SEA) < NEAR < min(apart(SEA, INK), apart(SEA, SAND))


def test_a_figure_of_the_background_s_color_is_named_with_its_drawing_and_frames(told):
    (note,) = told(A1=figure(LIKE_SEA), A2=figure(SAND))
    assert note.startswith(
        "Level A sinks into the background on frames 1 to 2 (drawing 1): along 100 % of its outline"
    )


@pytest.mark.parametrize(
    "art",
    [
        {"A1": figure(SAND), "A2": figure(SAND, INK)},
        {"A1": figure(LIKE_SEA, INK), "A2": figure(LIKE_SEA, SAND)},  # its line parts
        {"A1": figure(LIKE_SEA, at=(180, 80)), "A2": figure(LIKE_SEA, at=(200, 80))},  # half on the sand
        {"A1": figure(LIKE_SEA, radius=8), "A2": figure(LIKE_SEA, radius=9)},  # a mouth
        {"A1": np.zeros((HEIGHT, WIDTH, 4), np.uint8), "A2": figure(SAND)},
        {"A1": figure(LIKE_SEA), "A2": figure(SAND), "bare": True},
    ],
)
def test_a_figure_that_parts_somewhere_or_is_none_is_not(told, art):
    assert told(**art) == ()


def test_what_lies_on_a_figure_does_not_stand_before_the_background(told):
    assert told("frame,A,B\n1,1,1\n", A1=figure(SAND, radius=70), B1=figure(LIKE_SEA)) == ()
