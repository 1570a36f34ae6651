"""`cel-check scene` says in one clear line what is wrong with a scan's pegs."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "scan"))
from scan_art import PLAIN, punched, scanned

SIZE, DPI = (1800, 900), 150.0

PEGS = {
    "torn": ({0: "torn"}, "retake", "the left slot of its peg holes is torn or covered"),
    "none": (dict.fromkeys(range(3), "missing"), "query", "no row of peg holes is along its bottom edge"),
}


@pytest.mark.parametrize("pegs", PEGS)
def test_bad_pegs_are_one_line_of_the_report(tool, scene, pegs):
    torn, verdict, wrong = PEGS[pegs]
    light, _ = punched(SIZE, DPI, 0.5, torn=torn)
    codes = np.asarray(scanned(light, PLAIN), np.uint8)
    for cel in (scene / "A").iterdir():
        cel.unlink()
    Image.fromarray(codes).save(scene / "A" / "A-0001.png", dpi=(DPI, DPI))
    (scene / "sheet.csv").unlink()
    path = scene / "scene.toml"
    path.write_text(path.read_text(encoding="utf-8") + 'source = "scan"\n', encoding="utf-8")
    run = tool("scene", scene, COLUMNS="200")  # a narrow screen would break the line
    lines = [line for line in run.stdout.splitlines() if "off-register" in line]
    assert len(lines) == 1
    assert lines[0].startswith(verdict)
    assert wrong in lines[0]
    report = json.loads((scene / "check" / "report.json").read_text(encoding="utf-8"))
    (fault,) = [one for one in report["faults"] if one["kind"] == "off-register"]
    assert fault["send_to"] == "scan"
