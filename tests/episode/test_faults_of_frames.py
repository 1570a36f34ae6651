"""A decision on a fault of frames holds as long as they show what they showed, and no longer."""

from pathlib import Path

import pytest

from cel_check.episode.conclude import summary_of
from cel_check.episode.scene_task import SceneTask
from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.scene.results import CelResult, FrameResult, SceneResult
from cel_check.scene.scene import Scene
from cel_check.scene.summary import Written
from cel_check.settings import DEFAULTS

FLASH = Fault(FaultKind.FLASH, Verdict.RETAKE, "it flashes", SendTo.ANIMATION, 0.9, frames=(1, 2))
LOST = Fault(
    FaultKind.MISSING_CEL, Verdict.RETAKE, "no such level", SendTo.SHEET, 1.0, level="C", frames=(1, 2)
)


ONES = ((1, "1"), (2, "2"), (3, "3"))


def content(faults=(FLASH,), sha256=("1" * 64, "2" * 64, "3" * 64), fps=24.0, frames=ONES):
    """Return the content that a decision is bound to; drawing N of level A has `sha256[N - 1]`."""
    cels = tuple(
        CelResult("A", str(number), f"A/{number}.png", Verdict.PASS, sha256=each)
        for number, each in enumerate(sha256, 1)
    )
    shown = tuple(FrameResult(frame, (("A", drawing),), Verdict.PASS) for frame, drawing in frames)
    result = SceneResult(
        "014", "sc014", "digital", ("A",), (), None, fps, None, Verdict.RETAKE, cels, shown, faults
    )
    scene = Scene(Path("sc014"), "sc014", "014", "digital", None, fps, 12.0, None, (), None, ())
    task = SceneTask(scene, DEFAULTS, (), Path("ledger"), Path("check/sc014"), (), lambda *_: Written((), ()))
    return summary_of(result, task, Written((), ())).faults[0].sha256


def test_it_is_the_same_for_the_same_frames():
    assert content() == content()
    assert len(content()) == 64
    assert content(sha256=("1" * 64, "2" * 64, "4" * 64)) == content()  # on none of its frames


@pytest.mark.parametrize(
    "changed",
    [
        {"sha256": ("1" * 64, "4" * 64, "3" * 64)},
        {"sha256": ("1" * 64, None, "3" * 64)},
        {"fps": 12.0},
        {"frames": ((1, "1"), (2, "3"), (3, "3"))},
        {"faults": (Fault(FaultKind.FLASH, Verdict.RETAKE, "", SendTo.ANIMATION, 0.9, frames=(2, 3)),)},
    ],
)
def test_it_changes_with_whatever_its_frames_show(changed):
    assert content(**changed) != content()


def test_what_is_not_there_has_no_content():
    assert content(faults=(LOST,)) is None
