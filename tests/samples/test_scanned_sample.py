"""The scanned sample scene: its chart gives its profile, and only its planted faults are sent back."""

import hashlib
import json
import subprocess
import sys
import tomllib
from pathlib import Path

import colour
import numpy as np
import pytest
from PIL import Image

from cel_check.color.difference import ciede2000
from cel_check.scan.profile import read_profile

SAMPLES = Path(__file__).resolve().parents[2] / "samples"
SCENE, SCANNER = SAMPLES / "sc016", SAMPLES / "scanner"

sys.path.insert(0, str(SAMPLES))
from drawing_kit.chart24 import LAB, light_of  # noqa: E402


def tool(*arguments: object) -> str:
    command = [sys.executable, "-m", "cel_check", *map(str, arguments)]
    done = subprocess.run(command, cwd=SAMPLES.parent, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_the_charts_light_is_that_of_colour_science():
    """Its values of the chart made from November 2014 on, its D50 and its Bradford adaptation to D65."""
    chart = colour.CCS_COLOURCHECKERS["ColorChecker24 - After November 2014"]
    xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
    assert np.abs(colour.XYZ_to_Lab(xyz, chart.illuminant) - LAB).max() <= 0.01  # the last digit of the table
    rgb = colour.XYZ_to_sRGB(
        xyz, chart.illuminant, chromatic_adaptation_transform="Bradford", apply_cctf_encoding=False
    )
    assert np.abs(rgb - light_of(np.array(LAB))).max() < 5e-4


def test_the_profile_is_what_its_chart_gives(tmp_path):
    out = tmp_path / "scanner.toml"
    tool("calibrate", SCANNER / "chart.jpg", "--blank", SCANNER / "blank.jpg", "--out", out)
    kept, made = read_profile(SCANNER / "scanner.toml"), read_profile(out)
    assert kept.scan_sha256 == hashlib.sha256((SCANNER / "chart.jpg").read_bytes()).hexdigest()
    assert kept.chart == made.chart == "after-2014"
    assert (kept.light is None) == (made.light is None) is False
    codes = np.stack(np.meshgrid(*[np.linspace(0.15, 0.85, 8)] * 3), axis=-1).reshape(-1, 3)
    apart = ciede2000(kept.correction.lab(codes), made.correction.lab(codes))
    assert apart.max() < 0.2  # another decoder may be a level off
    assert made.residual.p95 == pytest.approx(kept.residual.p95, abs=0.05)


def test_cels_chart_and_blank_are_scans_of_one_bed():
    table = tomllib.loads((SCENE / "scene.toml").read_text(encoding="utf-8"))
    assert table["scene"]["source"] == "scan"
    for path in (*sorted((SCENE / "A").iterdir()), SCANNER / "chart.jpg", SCANNER / "blank.jpg"):
        with Image.open(path) as image:
            dpi = image.info["dpi"][0]
            inches = [side / dpi for side in image.size]
        assert inches == pytest.approx([table["scene"]["field"], 6.2])
        assert dpi == (100 if path.stem == "blank" else table["scan"]["dpi"])


def test_every_planted_fault_is_sent_back_and_nothing_else(tmp_path):
    """Queries are not held: what a scan asks about (specks, its lines as a whole) changes with the check."""
    report = json.loads(tool("scene", SCENE, "--json", "--exit-zero", "--jobs", 1, "--out", tmp_path))
    planted = json.loads((SCENE / "planted.json").read_text(encoding="utf-8"))
    retakes = [fault for fault in report["faults"] if fault["verdict"] == "retake"]
    named = [(fault["kind"], fault["level"], fault["drawing"]) for fault in retakes]
    assert sorted(named) == sorted((truth["kind"], truth["level"], truth["drawing"]) for truth in planted)
    for truth in planted:
        (fault,) = (one for one in retakes if one["drawing"] == truth["drawing"])
        assert fault["frames"] == truth["frames"], truth["what"]
        assert truth["box"] is None or _inside(fault["point"], truth["box"]), truth["what"]
    assert report["counts"]["not-checked"] == 0
    sent_back = {cel["drawing"] for cel in report["cels"] if cel["verdict"] == "retake"}
    assert sent_back == {truth["drawing"] for truth in planted}
    assert {cel["drawing"] for cel in report["cels"]} - sent_back == {"1", "4"}


def _inside(point, box):
    x, y, w, h = box
    return x - 4 <= point[0] <= x + w + 4 and y - 4 <= point[1] <= y + h + 4
