"""What hides the frames from the check is said; that each check of the frames finds is tested beside it."""

import numpy as np
import pytest

from cel_check.picture.thumbnail import encode_thumbnail
from cel_check.scene.before_camera import before_camera
from cel_check.scene.frames import exposures_of
from cel_check.scene.tasks import tasks_of
from cel_check.settings import DEFAULTS


def notes(make_scene, make_cel, card):
    """Look at two levels, A below B, of which `card` names those that fill their picture."""
    scene = make_scene({"A": ["1.png"], "B": ["1.png"]}, "frame,A,B\n1,1,1\n2,,\n")
    cels = []
    for task in tasks_of(scene, DEFAULTS):
        rgba = np.zeros((80, 120, 4), np.uint8)
        rgba[(slice(None) if task.level in card else slice(10, 60), slice(None))] = (200, 80, 60, 255)
        cels.append(make_cel(task, width=120, height=80, thumbnail=encode_thumbnail(rgba)))
    return before_camera(scene, cels, exposures_of(scene)).notes


@pytest.mark.parametrize(("card", "told"), [("", 0), ("A", 0), ("B", 1), ("AB", 1)])
def test_upper_levels_on_a_card_are_said_to_hide_the_lower_ones(make_scene, make_cel, card, told):
    found = notes(make_scene, make_cel, card)
    assert len(found) == told
    assert all(note.startswith("Level B of pictures without clear cel") for note in found)
