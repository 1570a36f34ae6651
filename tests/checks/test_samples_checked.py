"""The planted scene's faults are found where they were put, and nothing else on a cel is a retake."""

import json
import shutil
import subprocess
import sys
from pathlib import Path

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


def test_every_fault_of_the_frames_is_found_on_its_frames_and_nothing_else(tmp_path: Path) -> None:
    report = _report("sc014", tmp_path)
    planted = json.loads((SAMPLES / "sc014" / "planted.json").read_text())
    found = sorted((fault["kind"], fault["level"] or "", fault["frames"]) for fault in report["faults"])
    assert found == sorted((truth["kind"], truth["level"] or "", truth["frames"]) for truth in planted)
    retakes = {fault["kind"] for fault in report["faults"] if fault["verdict"] == "retake"}
    assert retakes == {"flash"}
    assert report["notes"] == []
