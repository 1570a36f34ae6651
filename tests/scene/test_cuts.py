"""A straight cut is a fault where a frame shows it: not where a cel covers it, goes on past it, or no field
reaches."""

import numpy as np
import pytest

from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.picture.thumbnail import encode_thumbnail
from cel_check.scene.composite import Compositor
from cel_check.scene.cuts import with_seen_cuts
from cel_check.scene.frames import exposures_of
from cel_check.scene.tasks import tasks_of
from cel_check.settings import DEFAULTS

WIDTH, HEIGHT = 240, 160
CUT = Fault(
    FaultKind.SHORT_OF_FIELD, Verdict.QUERY, "cut", SendTo.ANIMATION, 0.6,
    box=(96, 60, 24, 40), point=(119, 80), area_px=40,
)  # fmt: skip
STRAY = Fault(FaultKind.STRAY, Verdict.QUERY, "spot", SendTo.PAINT, 0.6, box=(0, 0, 2, 2))
ARM = np.s_[60:100, 40:120]
"""What level B draws: it ends at x = 120."""


def drawn(where):
    rgba = np.zeros((HEIGHT, WIDTH, 4), np.uint8)
    if where is not None:
        rgba[where] = (200, 80, 60, 255)
    return rgba


@pytest.fixture
def kept(make_scene, make_cel):
    """Returns the kinds that are kept on level B's drawing, with level A below and C above it."""

    def keep(below=None, above=None, *, sheet="frame,A,B,C\n1,1,1,1\n", lost=(), **more):
        scene = make_scene({"A": ["1.png"], "B": ["1.png"], "C": ["1.png"]}, sheet or None, **more)
        art = {"A": below, "B": ARM, "C": above}
        cels = []
        for task in tasks_of(scene, DEFAULTS):
            thumbnail = b"" if task.level in lost else encode_thumbnail(drawn(art[task.level]))
            faults = (STRAY, CUT) if task.level == "B" else ()
            cels.append(make_cel(task, width=WIDTH, height=HEIGHT, thumbnail=thumbnail, faults=faults))
        done = with_seen_cuts(scene, cels, exposures_of(scene), Compositor(scene, cels))
        return [fault.kind.value for cel in done for fault in cel.faults]

    return keep


def test_a_cut_in_the_open_is_a_fault(kept):
    assert kept() == ["stray", "short-of-field"]


@pytest.mark.parametrize(
    "hidden",
    [
        {"above": np.s_[50:110, 100:140]},  # a collar lies over it
        {"below": np.s_[50:110, 100:140]},  # the art below goes on in its place
        {"above": np.s_[50:110, 60:120]},  # the art above ends with it
    ],
)
def test_a_cut_that_another_cel_hides_or_goes_on_past_is_none(kept, hidden):
    assert kept(**hidden) == ["stray"]


def test_a_cut_of_which_a_little_is_hidden_is_a_fault(kept):
    assert kept(above=np.s_[60:75, 110:140]) == ["stray", "short-of-field"]


@pytest.mark.parametrize(
    ("camera", "kinds"),
    [("12F", 2), ("6F", 2), ("6F 6W", 1), ("5F 4E", 2), ("5F 7E", 1), ("to no", 2)],
)
def test_only_what_lies_in_the_field_counts(kept, camera, kinds):
    """The cut is at x = 120: 6F 6W shows 0 to 120, 5F 7E shows 140 to 240."""
    assert len(kept(sheet=f"frame,A,B,C,camera\n1,1,1,1,{camera}\n")) == kinds


def test_one_frame_that_shows_it_is_enough(kept):
    sheet = "frame,A,B,C\n1,1,1,1\n2,,,x\n"
    assert kept(above=np.s_[50:110, 100:140], sheet=sheet) == ["stray", "short-of-field"]


@pytest.mark.parametrize(
    "unknown",
    [
        {"sheet": ""},
        {"sheet": "frame,A,C\n1,1,1\n"},  # never called
        {"loose": True},
        {"source": "scan"},
        {"lost": ("C",)},  # nobody knows what level C hides
    ],
)
def test_what_nobody_knows_is_no_fault(kept, unknown):
    assert kept(**unknown) == ["stray"]
