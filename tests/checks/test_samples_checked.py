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


def test_the_clean_scene_has_no_retake(tmp_path: Path) -> None:
    report = _report("sc012", tmp_path)
    assert [fault for fault in report["faults"] if fault["verdict"] == "retake"] == []


def test_every_planted_fault_is_found_and_no_other_cel_is_sent_back(tmp_path: Path) -> None:
    report = _report("sc013", tmp_path)
    planted = json.loads((SAMPLES / "sc013" / "planted.json").read_text())
    faults = planted["faults"] if isinstance(planted, dict) else planted
    wanted = {(fault["kind"], fault["level"], str(fault["drawing"])) for fault in faults}
    found = {(fault["kind"], fault["level"], str(fault["drawing"])) for fault in report["faults"]}
    assert wanted <= found
    retakes = [fault for fault in report["faults"] if fault["verdict"] == "retake"]
    assert {(fault["kind"], fault["level"], str(fault["drawing"])) for fault in retakes} <= wanted
