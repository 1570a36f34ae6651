"""`cel-check palette` tells findings with their mend, and whatever is broken in one line."""

import json
import os
import shutil
import tomllib
from pathlib import Path

import jsonschema
import pytest
from PIL import Image

ROOT = Path(__file__).resolve().parents[2]
TILDA, ROOK, LAMP = (ROOT / f"palettes/{name}.toml" for name in ("tilda", "rook", "lamp"))
BAD = ROOT / "samples/bad_palette/pointsman.toml"
SIX = (
    "Vest (R-60) and Vest, shade (R-61) are",
    "Lantern, glass (T-50), L*a*b* 62.5 -43.8 -21.1 (D65), is outside what sRGB can show",
    "Lantern, flame (Y-50) is no legal broadcast level",
    "Scarf (R-64) does not follow in night",
    'no color has the id "hatt"',
    "Boots and Pipe both bear the paint number K-22",
)


def test_the_sample_characters_pass(tool):
    run = tool("palette", TILDA, ROOK, LAMP)
    assert (run.returncode, run.stderr) == (0, "")
    lines = run.stdout.splitlines()
    assert lines[0] == "Tilda Brake, Rook and Signal lamp and flag: 50 colors, 3 conditions and mixes"
    assert not [line for line in lines if line.startswith("error")]
    assert lines[-1].startswith("Verdict: warning (")


def test_the_bad_sample_is_told_all_six_by_name(tool):
    run = tool("palette", BAD)
    assert (run.returncode, run.stderr) == (1, "")
    for words in SIX:
        assert sum(words in line for line in run.stdout.splitlines()) == 1, words
    assert run.stdout.splitlines()[-1].startswith("Verdict: error (7 errors, 1 warning, ")


def test_a_finding_is_one_line_with_severity_character_and_mend(tool):
    line = next(line for line in tool("palette", BAD).stdout.splitlines() if "Vest, shade (R-61)" in line)
    assert line.startswith("error    Harl, the pointsman: Vest (R-60) and ")
    assert " Make Vest" in line


def test_quiet_prints_errors_and_warnings_alone(tool):
    run = tool("palette", BAD, "--quiet")
    assert {line.split()[0] for line in run.stdout.splitlines()} == {"error", "warning"}
    assert tool("palette", LAMP, "-q").stdout == ""


def test_strict_counts_warnings(tool):
    assert tool("palette", ROOK, "--strict", "-q").returncode == 1
    assert tool("palette", LAMP, "--strict", "-q").returncode == 0


def test_json_has_its_published_shape(tool):
    run = tool("palette", BAD, TILDA, "--json")
    schema = json.loads((ROOT / "cel_check/report/palette_schema.json").read_text(encoding="utf-8"))
    told = json.loads(run.stdout)
    jsonschema.validate(told, schema, jsonschema.Draft202012Validator)
    assert (run.returncode, told["verdict"]) == (1, "error")
    assert [model["key"] for model in told["models"]] == ["pointsman", "tilda"]


def test_out_writes_page_data_and_charts(tool, tmp_path):
    run = tool("palette", TILDA, "--out", tmp_path / "made" / "here")
    assert run.returncode == 0
    names = {path.name for path in (tmp_path / "made" / "here").iterdir()}
    assert names == {"palette.html", "palette.json", "charts.html", "chart-tilda.png"}
    assert run.stdout.splitlines()[-1].endswith(f"Page: {tmp_path / 'made' / 'here' / 'palette.html'}")


def test_an_episode_says_who_meets_on_a_level(tool, tmp_path):
    run = tool("palette", "--episode", ROOT / "samples", "--json")
    told = json.loads(run.stdout)
    assert run.returncode == 0
    assert told["scenes"] == ["sc012", "sc013", "sc014", "sc015", "sc016"]
    assert {model["key"] for model in told["models"]} == {"tilda", "lamp", "rook"}
    close = [one for one in told["findings"] if one["kind"] == "too-close"]
    assert close
    assert all("They meet in sc012, sc013, sc014." in one["text"] for one in close)


def test_straight_levels_name_what_a_master_cannot_take(tool):
    run = tool("palette", ROOK, "--levels", "straight")
    assert run.returncode == 1
    assert "Eye (Y-02) is no legal broadcast level: #FFF0B0 has codes outside 5 to 246" in run.stdout


GRAY_XYZ = (0.9505, 1.0, 1.089)  # D65's white, CIE 015


def strip(folder, bands=5):
    """A light, a gray and a dark chip under cels that let 90 % of the light through and add 0.6 %."""
    rows = ["SAMPLE_NAME,XYZ_X,XYZ_Y,XYZ_Z,ILLUMINANT"]
    for chip, bare in (("light", 85.0), ("gray", 20.0), ("dark", 3.0)):
        light = bare
        for cels in range(bands):
            rows.append(f"{chip} {cels}," + ",".join(f"{light * one:.3f}" for one in GRAY_XYZ) + ",D65")
            light = 0.9 * light + 0.6
    path = folder / "strip.csv"
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_colors_are_graded_by_a_measured_strip(tool, tmp_path):
    run = tool("palette", TILDA, "--stack", strip(tmp_path), "--out", tmp_path / "out")
    assert (run.returncode, run.stderr) == (0, "")
    told = "A cel lets 90.0, 90.0, 90.0 % of red, green and blue through and adds 0.6, 0.6, 0.6 %"
    assert told in run.stdout
    data = json.loads((tmp_path / "out" / "palette.json").read_text(encoding="utf-8"))
    schema = json.loads((ROOT / "cel_check/report/palette_schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(data, schema, jsonschema.Draft202012Validator)
    assert data["stack"]["cels"] == 4
    assert len(data["stack"]["levels"]) == 4 * data["models"][0]["colors"]
    coat = next(one for one in data["stack"]["levels"] if (one["color"], one["level"]) == ("coat", 4))
    model = tomllib.loads(TILDA.read_text(encoding="utf-8"))
    base = next(one["srgb"] for one in model["color"] if one["id"] == "coat")
    assert coat["seen"] < base < coat["mix"]
    assert coat["mix_delta_e"] < 0.5 < coat["delta_e"]
    assert all(one["mix_delta_e"] < one["delta_e"] for one in data["stack"]["levels"])
    assert "Under the cels above" in (tmp_path / "out" / "palette.html").read_text(encoding="utf-8")


def test_the_mixes_that_are_written_match_when_they_stand_in_the_model(tool, tmp_path):
    tool("palette", TILDA, "--stack", strip(tmp_path), "--out", tmp_path / "out")
    mixes = (tmp_path / "out" / "level-mixes-tilda.toml").read_text(encoding="utf-8")
    model = TILDA.read_text(encoding="utf-8")
    before, _, after = model.partition("[level-mix.2]")
    rest = after[after.index("\n[") :] if "\n[" in after else ""
    (tmp_path / "tilda.toml").write_text(before + rest + "\n" + mixes, encoding="utf-8")
    assert set(tomllib.loads(mixes)["level-mix"]) == {"1", "2", "3", "4"}
    run = tool("palette", tmp_path / "tilda.toml", "--stack", tmp_path / "strip.csv", "--json")
    found = [one for one in json.loads(run.stdout)["findings"] if one["kind"] == "level-mix"]
    assert found
    assert {one["severity"] for one in found} == {"note"}


def test_a_declared_mix_that_does_not_match_is_a_warning(tool, tmp_path):
    run = tool("palette", TILDA, "--stack", strip(tmp_path), "--quiet")
    (line,) = [line for line in run.stdout.splitlines() if "Skin, shade (S-14), level mix 2" in line]
    assert line.startswith("warning")
    assert "under 3 cels" in line


def test_a_strip_as_a_picture_says_what_it_took_for_granted(tool, tmp_path):
    image = Image.new("L", (800, 90))
    for cels, code in enumerate((124, 118, 113, 108, 104)):  # about 5 % of the light less each time
        image.paste(code, (160 * cels, 0, 160 * cels + 160, 90))
    image.save(tmp_path / "gray.png")
    run = tool("palette", TILDA, "--stack", tmp_path / "gray.png")
    assert run.returncode == 0, run.stderr
    assert "gray.png was taken as sRGB" in run.stdout
    assert "5 bands follow that" in run.stdout


@pytest.mark.parametrize("wrong", ["missing.csv", "no_bands.png", "cels.csv"])
def test_a_bad_strip_is_one_line(tool, tmp_path, wrong):
    Image.new("RGB", (300, 80), "gray").save(tmp_path / "no_bands.png")
    strip(tmp_path, bands=2).rename(tmp_path / "cels.csv")
    run = tool("palette", TILDA, "--stack", tmp_path / wrong)
    assert run.returncode == 2
    assert run.stdout == ""
    assert len(run.stderr.splitlines()) == 1
    assert wrong in run.stderr


def test_a_profile_goes_with_a_strip(tool, tmp_path):
    run = tool("palette", TILDA, "--profile", tmp_path / "scanner.toml")
    assert run.returncode == 2
    assert "--stack" in run.stderr


def test_drawdowns_are_held_against_their_paints(tool, tmp_path):
    (tmp_path / "jan.csv").write_text("paint;batch;L;a;b;illuminant\nR-31;7;51,5;45,3;38,0;D50\n")
    (tmp_path / "mar.csv").write_text("paint;batch;L;a;b;illuminant\nR-31;8;55,5;45,3;38,0;D50\n")
    run = tool("palette", TILDA, "-d", tmp_path / "jan.csv", "-d", tmp_path / "mar.csv")
    assert run.returncode == 1
    assert "Coat (R-31), batch 8, is " in run.stdout
    assert "ΔE00 from the batch before it (allowed 1.2)" in run.stdout
    assert "1 of 2 drawdowns are within tolerance." in run.stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Give color models, or the --episode"),
        (("--from",), "Give the pictures"),
        (("--diff", "a.toml"), "Give two models"),
        (("--from", "--diff", "a", "b"), "--from or --diff, not both"),
        (("--from", "a.png", "--out", "x"), "go with models that are validated"),
        (("gone.toml",), "gone.toml: there is no such color model. "),
        (("--episode", "gone"), "gone: there is no such folder. "),
        (("x.toml", "--levels", "wide"), "'wide' is not one of"),
        (("x.toml", "--lamps", "D50", "candle"), "'candle' is not one of"),
    ],
)
def test_slips_are_one_line(tool, tmp_path, arguments, words):
    run = tool("palette", *arguments, cwd=tmp_path)
    assert run.returncode == 2
    assert run.stdout == ""
    assert words in run.stderr
    assert run.stderr.count("\n") == 1


def test_all_broken_files_are_told_at_once(tool, tmp_path):
    for name in ("a", "b"):
        (tmp_path / f"{name}.toml").write_text("schema = 1\n[model\n")
    (tmp_path / "paints.txt").write_text("BEGIN_DATA\n1 2\n")
    run = tool("palette", tmp_path / "a.toml", tmp_path / "b.toml")
    assert run.returncode == 2
    assert run.stderr.count("this is not TOML") == 2
    run = tool("palette", TILDA, "-d", tmp_path / "paints.txt", "-d", tmp_path / "gone.txt")
    assert run.returncode == 2
    lines = run.stderr.splitlines()
    assert ["BEGIN_DATA is never closed" in lines[0], "there is no such file" in lines[1]] == [True, True]


def test_a_model_is_started_from_a_cel(tool, tmp_path):
    run = tool("palette", "--from", ROOT / "samples/rook-model.png")
    assert (run.returncode, run.stderr) == (0, "")
    told = {color["srgb"]: color["use"] for color in tomllib.loads(run.stdout)["color"]}
    model = {
        color["srgb"]: color["use"] for color in tomllib.loads(ROOK.read_text(encoding="utf-8"))["color"]
    }
    assert told == model
    (tmp_path / "new.toml").write_text(run.stdout, encoding="utf-8")
    assert tool("palette", tmp_path / "new.toml", "-q").returncode == 0


def test_one_bad_picture_does_not_stop_the_others(tool, tmp_path):
    (tmp_path / "bad.png").write_bytes(b"no picture")
    run = tool(
        "palette", "--from", tmp_path / "bad.png", ROOT / "samples/lamp-model.png", tmp_path / "gone.png"
    )
    assert run.returncode == 2
    assert len(tomllib.loads(run.stdout)["color"]) == 10
    assert [line.split(":")[0] for line in run.stderr.splitlines()] == [
        str(tmp_path / "bad.png"),
        str(tmp_path / "gone.png"),
    ]


def test_found_colors_as_json(tool):
    told = json.loads(tool("palette", "--from", ROOT / "samples/lamp-model.png", "--json").stdout)
    assert len(told["colors"]) == 10
    assert all(color["area_px"] >= color["largest_px"] > 0 for color in told["colors"])


def test_diff_names_changes_and_stale_scenes(tool, tmp_path):
    old = tmp_path / "tilda.toml"
    old.write_text(TILDA.read_text(encoding="utf-8").replace("#C8553D", "#CC5A42"), encoding="utf-8")
    run = tool("palette", "--diff", old, TILDA, "--episode", ROOT / "samples")
    assert run.returncode == 0
    assert run.stdout.splitlines() == [
        "Coat: #CC5A42 → #C8553D, 1.64 ΔE00",
        "Stale: scene sc012, levels A, B and C: Coat",
        "Stale: scene sc014, levels A and B: Coat",
        "2 scenes must be checked again.",
    ]
    told = json.loads(tool("palette", "--diff", old, TILDA, "-e", ROOT / "samples", "--json").stdout)
    assert told["stale"] == [
        {"scene": "sc012", "condition": None, "levels": ["A", "B", "C"], "colors": ["Coat"]},
        {"scene": "sc014", "condition": None, "levels": ["A", "B"], "colors": ["Coat"]},
    ]
    assert tool("palette", "--diff", TILDA, TILDA).stdout == "Nothing changed.\n"


def test_two_models_of_one_name_are_refused(tool, tmp_path):
    shutil.copy(TILDA, tmp_path / "tilda.toml")
    run = tool("palette", TILDA, tmp_path / "tilda.toml")
    assert run.returncode == 2
    assert "another model is called" in run.stderr


@pytest.mark.skipif(os.name == "nt", reason="names of Windows are Unicode")
def test_hostile_names_are_shown_not_obeyed(tool, tmp_path):
    odd = tmp_path / "a\n\x1b[31m.toml"
    text = TILDA.read_text(encoding="utf-8").replace("Tilda Brake", "Tilda \\u001b[31m\\nBrake")
    odd.write_text(text, encoding="utf-8")
    run = tool("palette", odd)
    assert "\x1b" not in run.stdout + run.stderr
