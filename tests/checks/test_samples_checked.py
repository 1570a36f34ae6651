"""The planted scene's faults are found where they were put, and nothing else on a cel is a retake."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

SAMPLES = Path(__file__).resolve().parents[2] / "samples"


def _report(scene: str, tmp_path: Path) -> dict:
    done = subprocess.run(
        [
            *(sys.executable, "-m", "cel_check", "scene", str(SAMPLES / scene)),
            *("--json", "--exit-zero", "--out", str(tmp_path / "out")),
        ],
        cwd=SAMPLES.parent,
        capture_output=True,
        text=True,
        check=False,
    )
    shutil.rmtree(tmp_path / "out", ignore_errors=True)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_the_clean_scene_passes_without_a_fault(tmp_path: Path) -> None:
    report = _report("sc012", tmp_path)
    assert report["verdict"] == "pass"
    assert report["faults"] == []


def _inside(point: list[int], box: list[int], slack: int = 6) -> bool:
    x, y, w, h = box
    return x - slack <= point[0] <= x + w + slack and y - slack <= point[1] <= y + h + slack


def test_every_planted_fault_is_found_named_boxed_and_on_its_frames(tmp_path: Path) -> None:
    report = _report("sc013", tmp_path)
    planted = json.loads((SAMPLES / "sc013" / "planted.json").read_text())
    for truth in planted:
        found = [
            fault
            for fault in report["faults"]
            if (fault["kind"], fault["level"], fault["drawing"])
            == (truth["kind"], truth["level"], truth["drawing"])
            and (truth["box"] is None or _inside(fault["point"], truth["box"]))
        ]
        assert len(found) == 1, truth["what"]
        assert found[0]["frames"] == truth["frames"], truth["what"]
        assert found[0]["verdict"] == ("query" if truth["kind"] == "uncalled-cel" else "retake")
    retakes = [fault for fault in report["faults"] if fault["verdict"] == "retake"]
    assert len(retakes) == len(planted) - 1
    assert len(report["faults"]) - len(retakes) <= 2


@pytest.mark.parametrize(("scene", "sent_back"), [("sc014", {"flash"}), ("sc015", set())])
def test_every_fault_of_the_frames_is_found_on_its_frames_and_nothing_else(
    scene: str, sent_back: set[str], tmp_path: Path
) -> None:
    report = _report(scene, tmp_path)
    planted = json.loads((SAMPLES / scene / "planted.json").read_text())
    faults = [truth for truth in planted if truth["kind"]]
    found = sorted((fault["kind"], fault["level"] or "", fault["frames"]) for fault in report["faults"])
    assert found == sorted((truth["kind"], truth["level"] or "", truth["frames"]) for truth in faults)
    retakes = {fault["kind"] for fault in report["faults"] if fault["verdict"] == "retake"}
    assert retakes == sent_back
    remarks = [truth for truth in planted if not truth["kind"]]
    assert len(report["notes"]) == len(remarks)
    for truth, note in zip(remarks, report["notes"], strict=True):
        first, last = truth["frames"][0], truth["frames"][-1]
        assert note.startswith(f"Level {truth['level']} leaves the title safe area ")
        assert f"on frames {first} to {last}: " in note
