"""`cel-check calibrate` writes a profile and its picture, or says in one line why not."""

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from cel_check.scan.chart import Edition, published
from cel_check.scan.profile import read_profile

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "scan"))
from scan_art import WARM, chart_light, scanned

CHART = published(Edition.AFTER)


@pytest.fixture(scope="module")
def chart(tmp_path_factory):
    path = tmp_path_factory.mktemp("charts") / "chart.png"
    Image.fromarray(np.asarray(scanned(chart_light(CHART), WARM), np.uint8)).save(path)
    return path


def test_profile_and_picture_are_written(tool, chart, tmp_path):
    run = tool("calibrate", chart, "--blank", blank(tmp_path), "--out", tmp_path / "left.toml")
    assert run.returncode == 0, run.stderr
    assert "no color of a scan is judged closer than" in run.stdout
    profile = read_profile(tmp_path / "left.toml")
    assert profile.chart == "after-2014"
    assert profile.scan == "chart.png"
    assert profile.light is not None
    assert 0 < profile.residual.mean < profile.residual.p95 <= profile.residual.worst < 4
    with Image.open(chart) as scan:
        codes = np.asarray(scan)[60 + 4 + 30, 60 + 4 + 30] / 255  # dark skin
    assert np.abs(profile.correction.lab(codes) - CHART.lab[0]).max() < 2.5
    with Image.open(tmp_path / "left.png") as picture:
        assert picture.size[0] > 1000
    assert sorted(path.name for path in tmp_path.iterdir()) == ["blank.png", "left.png", "left.toml"]


def blank(folder):
    path = folder / "blank.png"
    Image.new("RGB", (488, 368), (235, 233, 220)).save(path)
    return path


def test_residuals_as_json(tool, chart, tmp_path):
    run = tool("calibrate", chart, "--json", "--out", tmp_path / "scanner.toml")
    data = json.loads(run.stdout)
    assert data["residual"]["p95"] == pytest.approx(
        read_profile(tmp_path / "scanner.toml").residual.p95, abs=1e-3
    )
    assert set(data["kinds"]) == {"3x3", "affine", "root-polynomial"}


def test_a_chart_upside_down_is_calibrated_all_the_same(tool, chart, tmp_path):
    with Image.open(chart) as scan:
        scan.rotate(180).save(tmp_path / "turned.png")
    run = tool("calibrate", tmp_path / "turned.png", "--out", tmp_path / "turned.toml")
    assert run.returncode == 0, run.stderr
    tool("calibrate", chart, "--out", tmp_path / "upright.toml")
    turned, upright = (read_profile(tmp_path / f"{name}.toml") for name in ("turned", "upright"))
    assert turned.residual.mean == pytest.approx(upright.residual.mean, abs=0.05)


def test_a_covered_patch_is_named_in_one_line(tool, tmp_path):
    light = chart_light(CHART, covered=9)
    Image.fromarray(np.asarray(scanned(light, WARM), np.uint8)).save(tmp_path / "scan.png")
    run = tool("calibrate", tmp_path / "scan.png", "--out", tmp_path / "scanner.toml")
    assert run.returncode == 2
    assert len(run.stderr.splitlines()) == 1
    assert "patch 10 (purple)" in run.stderr
    assert "Uncover and wipe the chart" in run.stderr
    assert not (tmp_path / "scanner.toml").exists()


BAD = {
    "no chart": lambda path: Image.new("RGB", (400, 300), "white").save(path),
    "no picture": lambda path: path.write_bytes(b"chart"),
    "missing": lambda path: None,
}


@pytest.mark.parametrize("bad", BAD)
def test_what_is_no_chart_is_told_in_one_line(tool, tmp_path, bad):
    BAD[bad](tmp_path / "scan.png")
    run = tool("calibrate", tmp_path / "scan.png", "--out", tmp_path / "out" / "scanner.toml")
    assert run.returncode == 2
    assert run.stdout == ""
    assert len(run.stderr.splitlines()) == 1
    assert run.stderr.startswith(str(tmp_path / "scan.png"))
    assert not run.stderr.rstrip().endswith("..")
    assert not list((tmp_path / "out").glob("*"))


@pytest.mark.parametrize(
    "corners",
    [
        ("1,2", "3,4", "5,6", "x"),
        ("10,10", "10,90", "90,90", "90,10"),
        ("1,1", "1,1", "1,1", "1,1"),
        ("9,9", "900,9", "900,90", "9,90"),
    ],
)
def test_corners_that_make_no_chart_are_told(tool, chart, tmp_path, corners):
    run = tool("calibrate", chart, "--corners", *corners, "--out", tmp_path / "scanner.toml")
    assert run.returncode == 2
    assert len(run.stderr.splitlines()) == 1


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("schema = 1", "schema = 2"),
        ("mean = ", "mean = nan # "),
        ("red = [[", "red = [[0.9, 0.9], ["),
        ("kind", "kinds"),
    ],
)
def test_an_edited_profile_is_refused_with_its_line(tool, chart, tmp_path, old, new):
    path = tmp_path / "scanner.toml"
    tool("calibrate", chart, "--out", path)
    path.write_text(path.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
    with pytest.raises(Exception, match=r"line \d+.*Make the profile again"):
        read_profile(path)
