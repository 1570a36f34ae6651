"""What is odd about levels is asked about where all the rest of the scene agrees, and else not.

All cases are made up; that mouths ride on heads is common practice, no source.
"""

import dataclasses

import numpy as np
import pytest

from cel_check.drawing.place import Place
from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.picture.thumbnail import encode_thumbnail
from cel_check.scene.composite import Compositor
from cel_check.scene.frames import exposures_of
from cel_check.scene.level_queries import level_queries
from cel_check.scene.stacking import Stacking
from cel_check.scene.tasks import tasks_of
from cel_check.settings import DEFAULTS

WIDTH, HEIGHT = 120, 80
HEAD, MOUTH, ASIDE = np.s_[20:60, 30:70], np.s_[45:50, 45:55], np.s_[5:15, 100:110]


def sheet(**columns):
    """A sheet of columns such as A="1111x222", a letter a frame."""
    frames = zip(*columns.values(), strict=True)
    return "\n".join(
        [f"frame,{','.join(columns)}", *(f"{n},{','.join(row)}" for n, row in enumerate(frames, 1)), ""]
    )


@pytest.fixture
def asked(make_scene, make_cel):
    """Asks about a scene of levels, given by their columns; `art` is where each level is painted."""

    def ask(columns, art=None, places=None, lost=()):
        numbers = {level: sorted(set(cells) - {"x"}) for level, cells in columns.items()}
        scene = make_scene({lv: [f"{n}.png" for n in own] for lv, own in numbers.items()}, sheet(**columns))
        cels = []
        for task in tasks_of(scene, DEFAULTS):
            rgba = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
            own_place = np.s_[5:15, 10:20] if task.level == "A" else ASIDE
            rgba[(art or {}).get(task.level, own_place)] = (200, 80, 60, 255)
            thumbnail = b"" if task.level in lost else encode_thumbnail(rgba)
            cel = make_cel(task, width=WIDTH, height=HEIGHT, thumbnail=thumbnail)
            own = (places or {}).get(task.level + task.drawing, ())
            cels.append(dataclasses.replace(cel, places=own))
        exposures = exposures_of(scene)
        return level_queries(cels, exposures, Stacking(Compositor(scene, cels)))

    return ask


def test_a_level_that_is_missing_from_one_frame_alone_is_asked_about(asked):
    (fault,) = asked({"A": "1111x2222"})
    assert (fault.kind, fault.verdict, fault.send_to) == (FaultKind.MISSING_CEL, Verdict.QUERY, SendTo.SHEET)
    assert (fault.level, fault.drawing, fault.frames) == ("A", None, (5,))
    assert "on frame 5 alone, between drawings 1 and 2" in fault.text


@pytest.mark.parametrize(
    "cells",
    [
        "111111111",
        "1111xx2222",  # off for two frames
        "111x2222",  # not long on before it
        "1111x2222x1111",  # it blinks
        "x11111111",
        "11111111x",
        "xxxxxxxxx",
    ],
)
def test_a_level_that_blinks_enters_or_leaves_is_not(asked, cells):
    assert asked({"A": cells, "B": "1" * len(cells)}) == ()


def test_a_level_that_another_covers_on_every_frame_is_asked_about(asked):
    (fault,) = asked({"A": "112211", "B": "111111"}, {"A": MOUTH, "B": HEAD})
    assert (fault.level, fault.frames) == ("A", (1, 2, 3, 4, 5, 6))
    assert "the levels above cover it whole" in fault.text


@pytest.mark.parametrize(
    ("columns", "art", "lost"),
    [
        ({"A": "112211", "B": "111111"}, {"A": HEAD, "B": MOUTH}, ()),  # the right way round
        ({"A": "112211", "B": "1111xx"}, {"A": MOUTH, "B": HEAD}, ()),  # seen in the end
        ({"A": "112211", "B": "111111"}, {"A": MOUTH, "B": np.s_[:, :]}, ()),  # knows no clear cel
        ({"A": "112211", "B": "111111"}, {"A": MOUTH, "B": HEAD}, ("B",)),  # nobody knows
        ({"A": "112211", "B": "111111"}, {"A": np.s_[:0], "B": HEAD}, ()),  # nothing is on it
    ],
)
def test_a_level_that_is_seen_at_all_is_not(asked, columns, art, lost):
    assert asked(columns, art, lost=lost) == ()


ART = {"A": HEAD, "B": MOUTH}


def test_a_mouth_without_its_head_is_asked_about(asked):
    (fault,) = asked({"A": "1" * 14 + "xx", "B": "1212121212121212"}, ART)
    assert (fault.level, fault.frames) == ("B", (15, 16))
    assert "lies on nothing on frames 15 to 16" in fault.text
    assert "level A, which shows nothing there" in fault.text


def test_a_head_that_is_off_for_one_frame_is_told_once(asked):
    (fault,) = asked({"A": "1" * 14 + "x11111", "B": "12" * 10}, ART)
    assert (fault.level, fault.frames) == ("A", (15,))


@pytest.mark.parametrize(
    ("columns", "art"),
    [
        ({"A": "1" * 16, "B": "12" * 8}, ART),
        ({"A": "1" * 8 + "xx", "B": "12" * 5}, ART),  # too short to tell
        ({"A": "1" * 13 + "x" * 9, "B": "12" * 11}, ART),  # bare as often as not
        ({"A": "1" * 14 + "xx", "B": "12" * 8}, ART | {"B": ASIDE}),  # it never lies on the other
        ({"A": "1" * 14 + "xx", "C": "x" * 14 + "11", "B": "12" * 8}, ART | {"C": HEAD}),  # another head
    ],
)
def test_a_level_that_does_not_ride_on_another_is_not(asked, columns, art):
    assert asked(columns, art) == ()


def painted(*areas, at=0):
    return tuple(
        Place(
            number,
            area,
            (at + 10 * number, 10, 10, 10),
            (at + 10 * number + 5, 15.0),
            (),
            srgb=f"#{number:06X}",
        )
        for number, area in enumerate(areas)
        if area
    )


BODY, FACE = (900, 500, 300), (0, 0, 0, 250, 120, 80)
LEVELS = {"A": "1122334455", "B": "1122334455"}


def bodies_and_faces(at=0, **changed):
    usual = {f"A{n}": painted(*BODY, at=at) for n in range(1, 6)} | {
        f"B{n}": painted(*FACE) for n in range(1, 6)
    }
    return usual | changed


def test_a_drawing_that_looks_like_another_level_s_is_asked_about(asked):
    (fault,) = asked(LEVELS, places=bodies_and_faces(B4=painted(880, 510, 300)))
    assert (fault.level, fault.drawing, fault.frames) == ("B", None, (7, 8))
    assert "Drawing 4 of level B has the colors and the place of drawing 1 of level A" in fault.text


@pytest.mark.parametrize(
    "places",
    [
        bodies_and_faces(),
        bodies_and_faces(B4=painted(880, 510, 300), B5=painted(880, 510, 300)),  # two of them are a custom
        bodies_and_faces(B4=painted(880, 510, 300, 400, 200, 90)),  # its own face is there too
        bodies_and_faces(B4=painted(400, 0, 300)),  # not very like it
        bodies_and_faces(at=300, B4=painted(880, 510, 300)),  # elsewhere in the picture
        bodies_and_faces(B4=()),
        {},
    ],
)
def test_a_drawing_that_is_like_its_own_level_or_like_nothing_is_not(asked, places):
    assert asked(LEVELS, places=places) == ()
