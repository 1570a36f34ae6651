"""Levels are compared each on its own; where that fails, no cel loses its faults and none looks checked."""

from dataclasses import replace
from pathlib import Path

import pytest
from figure_places import HAIR, PALETTE, level

from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.scene import compared as compared_module
from cel_check.scene.compared import compared
from cel_check.scene.conduct import conduct
from cel_check.scene.scene import DrawingFile, Level
from cel_check.settings import DEFAULTS

STRAY = Fault(FaultKind.OFF_MODEL, Verdict.RETAKE, "Off.", SendTo.PAINT, 0.9, box=(1, 1, 4, 4), area_px=9)


@pytest.fixture(name="scene")
def _scene(make_scene):
    drawings = tuple(DrawingFile(str(k), f"A/A-{k:04d}.png", Path("A", f"{k}.png")) for k in range(1, 13))
    return replace(make_scene({"A": []}), levels=(Level("A", drawings, PALETTE),))


def test_a_level_s_wrong_part_is_a_fault_of_the_scene(scene):
    cels = level(painted={6: {"scarf": HAIR}})
    result = conduct(scene, DEFAULTS, lambda _: enumerate(cels))
    (fault,) = result.faults
    assert (fault.kind, fault.drawing, fault.id) == (FaultKind.WRONG_PART, "6", "sc012/A/6/1")
    assert fault.visibility > 0
    assert result.verdict is Verdict.RETAKE


def test_loose_pictures_are_not_compared(scene):
    cels = level(painted={6: {"scarf": HAIR}})
    result = conduct(replace(scene, loose=True), DEFAULTS, lambda _: enumerate(cels))
    assert result.faults == ()


def test_a_crash_keeps_every_fault_and_no_cel_looks_checked(scene, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError("by\nnothing")

    monkeypatch.setattr(compared_module, "with_wrong_parts", broken)
    cels = level()
    cels[2] = replace(cels[2], faults=(STRAY,), verdict=Verdict.RETAKE)
    result = conduct(scene, DEFAULTS, lambda _: enumerate(cels))
    assert [fault.kind for fault in result.faults] == [FaultKind.OFF_MODEL]
    assert {cel.verdict for cel in result.cels} == {Verdict.NOT_CHECKED}
    assert result.cels[0].error.startswith("the comparison with the level's other drawings failed: Zero")
    assert "\n" not in result.cels[0].error
    assert result.verdict is Verdict.RETAKE


def test_a_reference_cel_that_cannot_be_read_is_noted(scene, tmp_path):
    (tmp_path / "model.png").write_bytes(b"no picture")
    wanted = (tmp_path / "model.png", tmp_path / "gone.png")
    there = replace(scene, levels=(replace(scene.levels[0], references=wanted, base=PALETTE),))
    cels, notes = compared(there, level(), DEFAULTS)
    assert all(cel.error is None for cel in cels)
    assert len(notes) == 1
    assert notes[0].startswith("The reference cel model.png cannot be read")
