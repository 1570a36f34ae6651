"""`cel-check cel` holds loose pictures against a color model, with the same checks and the same answers."""

import json

import pytest


@pytest.fixture
def model(scene):
    return scene.parent / "tilda.toml"


def test_pictures_that_pass(tool, scene, model):
    run = tool("cel", scene / "A" / "A-0001.png", scene / "A" / "A-0002.png", "--model", model)
    assert (run.returncode, run.stderr) == (0, "")
    assert run.stdout.splitlines()[-1] == "Verdict: pass."
    assert not list(scene.glob("**/report.*"))


def test_a_picture_off_the_model(tool, scene, model, paint, tmp_path):
    bad = paint(tmp_path / "odd name <b>.png", coat="#4055C0")
    run = tool("cel", bad, "--model", model, "--json")
    assert run.returncode == 1
    found = json.loads(run.stdout)
    assert [fault["kind"] for fault in found["faults"]] == ["off-model"]
    assert found["cels"][0]["file"] == "odd name <b>.png"


def test_the_report_is_written_where_it_is_asked_for(tool, scene, model, tmp_path):
    run = tool("cel", scene / "A" / "A-0001.png", "-m", model, "-o", tmp_path / "out", "--quiet")
    assert (run.returncode, run.stdout) == (0, "")
    assert {file.name for file in (tmp_path / "out").iterdir()} >= {
        "report.html",
        "report.json",
        "report.csv",
    }


def test_the_cels_of_a_scene_and_loose_ones_are_judged_alike(tool, scene, model, paint):
    paint(scene / "A" / "A-0002.png", coat="#4055C0")
    as_scene = json.loads(tool("scene", scene, "--json").stdout)
    as_loose = json.loads(tool("cel", *sorted((scene / "A").iterdir()), "--model", model, "--json").stdout)
    keys = ("kind", "verdict", "box", "point", "area_px", "found", "nearest")

    def plain(found):
        return [[fault[key] for key in keys] for fault in found["faults"]]

    assert plain(as_scene) == plain(as_loose) != []
    # Only a scene's other drawings tell what the paint should be: loose pictures are not compared.
    (in_scene,), (alone,) = as_scene["faults"], as_loose["faults"]
    assert in_scene["text"].endswith("Repaint with Coat: same part on drawings 1 and 3.")
    assert alone["text"].endswith("Repaint with the model's color.")
    assert in_scene["text"].rpartition("Repaint")[0] == alone["text"].rpartition("Repaint")[0]
    assert (in_scene["expected"]["color"], alone["expected"]) == ("coat", None)


def test_what_is_not_there_is_told(tool, scene, model):
    run = tool("cel", scene / "nowhere.png", scene / "A", "--model", model)
    assert run.returncode == 2
    assert [line.partition(": ")[2] for line in run.stderr.splitlines()] == [
        "there is no such file. Check the path for a slip.",
        "it is a folder, not a picture. Give pictures; for a scene's folder use `cel-check scene`.",
    ]
