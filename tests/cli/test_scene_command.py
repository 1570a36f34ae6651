"""`cel-check scene` checks scenes, writes their reports, and answers with the exit status of the contract."""

import hashlib
import json
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

POSIX = pytest.mark.skipif(os.name != "posix", reason="signals and names are POSIX's")
ODD = Path(__file__).with_name("odd_cels.py")


def report(folder):
    return json.loads((folder / "report.json").read_text(encoding="utf-8"))


def verdicts(folder):
    return {cel["drawing"]: cel["verdict"] for cel in report(folder)["cels"]}


def test_a_scene_that_passes(tool, scene):
    run = tool("scene", scene)
    assert (run.returncode, run.stderr) == (0, "")
    assert run.stdout.splitlines() == [
        "Scene 012 (sc012): 3 cels, 3 frames: 3 pass",
        f"Verdict: pass. Report: {scene / 'check' / 'report.html'}",
    ]
    assert {file.name for file in (scene / "check").iterdir()} >= {"report.html", "report.csv", "report.json"}


def test_a_scene_with_a_retake(tool, scene, paint):
    paint(scene / "A" / "A-0002.png", coat="#4055C0")
    run = tool("scene", scene)
    assert run.returncode == 1
    lines = run.stdout.splitlines()
    assert lines[1].split() == ["verdict", "frames", "cel", "fault", "what", "is", "wrong"]
    assert lines[2].split()[:5] == ["retake", "2", "A", "2", "off-model"]
    assert lines[-1].startswith("Verdict: retake. Report: ")
    assert report(scene / "check")["verdict"] == "retake"
    assert tool("scene", scene, "--exit-zero").returncode == 0


def test_a_query_is_a_retake_only_where_that_is_asked_for(tool, scene, paint):
    paint(scene / "A" / "A-0007.png")
    assert tool("scene", scene).returncode == 0
    assert tool("scene", scene, "--strict").returncode == 1
    assert tool("scene", scene, "--strict", "--exit-zero").returncode == 0


def test_a_cel_that_is_not_checked(tool, scene):
    run = tool("scene", scene, "--max-megapixels", "0.01")
    assert run.returncode == 3
    assert run.stdout.splitlines()[-1].startswith("Verdict: not-checked.")
    assert "limit is 0.01 megapixels" in run.stdout
    assert report(scene / "check")["counts"] == {
        "cels": 3,
        "pass": 0,
        "query": 0,
        "retake": 0,
        "not-checked": 3,
    }
    assert tool("scene", scene, "--max-megapixels", "0.01", "--exit-zero").returncode == 3


def test_quiet_prints_nothing_where_all_pass_and_findings_where_not(tool, scene, paint):
    run = tool("scene", scene, "--quiet")
    assert (run.returncode, run.stdout, run.stderr) == (0, "", "")
    paint(scene / "A" / "A-0002.png", coat="#4055C0")
    run = tool("scene", scene, "--quiet")
    assert run.returncode == 1
    assert [line.split()[0] for line in run.stdout.splitlines()] == ["verdict", "retake"]


def test_json_is_the_report_and_nothing_else(tool, scene):
    run = tool("scene", scene, "--json")
    assert run.returncode == 0
    assert run.stderr == ""
    assert run.stdout == (scene / "check" / "report.json").read_text(encoding="utf-8")


def test_several_scenes(tool, scene, make_scene, tmp_path, paint):
    other = make_scene(tmp_path / "sc013")
    paint(other / "A" / "A-0002.png", coat="#4055C0")
    run = tool("scene", scene, other, "--json", "--out", tmp_path / "reports")
    assert run.returncode == 1
    assert [json.loads(line)["verdict"] for line in run.stdout.splitlines()] == ["pass", "retake"]
    assert report(tmp_path / "reports" / "sc012")["verdict"] == "pass"
    assert report(tmp_path / "reports" / "sc013")["verdict"] == "retake"
    assert not (scene / "check").exists()


def test_scenes_of_one_name_do_not_overwrite_each_other(tool, scene, make_scene, tmp_path):
    other = make_scene(tmp_path / "b" / "sc012")
    run = tool("scene", scene, other, "--out", tmp_path / "reports")
    assert run.returncode == 2
    assert "two scenes are named sc012" in run.stderr


def test_the_number_of_workers_changes_nothing(tool, scene, paint):
    paint(scene / "A" / "A-0002.png", coat="#4055C0")
    paint(scene / "A" / "A-0004.png", size=(200, 180))
    answers = {tool("scene", scene, "--json", "--jobs", jobs).stdout for jobs in ("1", "2", "5")}
    assert len(answers) == 1


def test_the_scene_itself_is_never_written_to(tool, scene, tmp_path):
    def state():
        return {
            str(path): (path.stat().st_mtime_ns, hashlib.sha256(path.read_bytes()).hexdigest())
            for path in sorted(scene.rglob("*"))
            if path.is_file()
        }

    before = state()
    assert tool("scene", scene, "--out", tmp_path / "out").returncode == 0
    assert state() == before


def test_a_report_folder_inside_the_scene_is_no_level_the_next_time(tool, scene, paint):
    paint(scene / "A" / "A-0002.png", coat="#4055C0")
    assert tool("scene", scene, "--out", scene / "checked").returncode == 1
    run = tool("scene", scene, "--json", "--out", scene / "checked")
    assert json.loads(run.stdout)["scene"]["levels"] == ["A"]


# The rest of the list of bad input that needs the whole tool; each is exit status 2 and one line on stderr.
BAD = {
    "bad hex": ("tilda.toml", '"#C8553D"', '"#C8553G"', "tilda.toml, line 8"),
    "two ids alike": ("tilda.toml", 'id = "outline"', 'id = "coat"', "tilda.toml, line 10"),
    "tolerance of -1": ("tilda.toml", "[[color]]", "tolerance = -1\n[[color]]", "-1"),
    "text cell": (
        "sc012/sheet.csv",
        "2,2",
        "2,two",
        "sheet.csv, row 3, column `A`: `two` is no drawing number",
    ),
    "frames out of order": (
        "sc012/sheet.csv",
        "2,2",
        "5,2",
        "sheet.csv, row 4, column `frame`: frame 3 comes after",
    ),
    "frame twice": ("sc012/sheet.csv", "2,2", "1,2", "frame 1 is there twice"),
    "no frame column": ("sc012/sheet.csv", "frame", "cadre", "there is no column `frame`"),
    "no TOML": ("sc012/scene.toml", "[scene]", "[scene", "scene.toml, line 2"),
    "unknown key": ("sc012/scene.toml", "number", "numbr", "key scene.numbr: this key is not known"),
    "level not there": (
        "sc012/scene.toml",
        "[scene]",
        "[level.B]\n[scene]",
        "there is no folder B with drawings",
    ),
    "model not there": ("sc012/scene.toml", "tilda", "tlda", "there is no such color model"),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_is_one_line_and_no_report(tool, scene, case):
    file, good, bad, words = BAD[case]
    path = scene.parent / file
    path.write_text(path.read_text(encoding="utf-8").replace(good, bad, 1), encoding="utf-8")
    run = tool("scene", "sc012", cwd=scene.parent)
    assert (run.returncode, run.stdout) == (2, "")
    assert words in run.stderr
    assert run.stderr.count("\n") == 1
    assert "Traceback" not in run.stderr
    assert not (scene / "check").exists()


def test_an_empty_folder_is_one_line(tool, tmp_path):
    run = tool("scene", tmp_path)
    assert run.returncode == 2
    assert "there are no drawings in it" in run.stderr
    assert run.stderr.count("\n") == 1


@pytest.mark.parametrize("data", ["\ufeffframe;A\r\n1;1\r\n2;2\r\n3;3\r\n", 'frame\tA\n1\t"1"\n2\t2\n3\t3\n'])
def test_spellings_of_a_sheet_that_are_no_fault(tool, scene, data):
    (scene / "sheet.csv").write_bytes(data.encode("utf-8"))
    assert tool("scene", scene).returncode == 0


def test_a_missing_level_column_still_checks_the_level(tool, scene, paint):
    paint(scene / "B" / "B-0001.png", coat="#4055C0")
    run = tool("scene", scene, "--json")
    assert run.returncode == 1
    kinds = {(fault["level"], fault["kind"]) for fault in json.loads(run.stdout)["faults"]}
    assert kinds == {("B", "off-model"), ("B", "uncalled-cel")}


def test_a_scene_without_a_sheet_is_checked_in_number_order(tool, scene):
    (scene / "sheet.csv").unlink()
    run = tool("scene", scene, "--json")
    assert run.returncode == 0
    assert [frame["cels"] for frame in json.loads(run.stdout)["frames"]] == [
        {"A": "1"},
        {"A": "2"},
        {"A": "3"},
    ]


def test_a_picture_with_the_wrong_ending_is_checked(tool, scene):
    (scene / "A" / "A-0002.png").rename(scene / "A" / "A-0002.tga")
    assert tool("scene", scene).returncode == 0


@POSIX
def test_odd_names_are_checked_and_shown_harmless(tool, make_scene, tmp_path):
    scene = make_scene(tmp_path / 'sc "012" <b>ä')
    good = scene / "A" / "A-0001.png"
    for name in (
        "Ä 4 x.png",
        "a'5\".png",
        "<img src=x onerror=alert(10)>.png",
        "-6.png",
        "\x1b[31m7.png",
        "a\n8.png",
    ):
        shutil.copy(good, scene / "A" / name)
    shutil.copy(good, os.fsdecode(os.fsencode(scene / "A") + b"/\xff9.png"))
    run = tool("scene", scene)
    assert run.returncode == 0
    assert "\x1b" not in run.stdout
    assert "9.png" not in run.stderr
    found = report(scene / "check")
    assert found["counts"]["cels"] == 10
    assert [cel["drawing"] for cel in found["cels"]] == [str(number) for number in range(1, 11)]


@pytest.mark.parametrize("out", [".", "A", "../sc012"])
def test_the_report_never_lies_among_the_scene_s_own_files(tool, scene, out):
    run = tool("scene", scene, "--out", scene / out)
    assert run.returncode == 2
    assert "the report would lie among the scene's own files" in run.stderr


def test_an_output_that_cannot_be_written_is_told_before_the_first_cel(tool, scene, tmp_path):
    (tmp_path / "file").write_bytes(b"")
    run = tool("scene", scene, "--out", tmp_path / "file" / "out")
    assert run.returncode == 2
    assert "the report cannot be written there" in run.stderr
    assert run.stderr.count("\n") == 1


def odd(arguments, environment, notes, **more):
    notes.mkdir(exist_ok=True)
    return subprocess.Popen(
        [sys.executable, str(ODD), *map(str, arguments)],
        env=environment(ODD_NOTES=str(notes), TMPDIR=str(notes), **more),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


@POSIX
def test_a_worker_that_dies_costs_one_cel(scene, make_scene, environment, tmp_path):
    make_scene(scene, drawings=12)
    (scene / "A" / "A-0008.png").unlink()  # the one that hangs
    run = odd(["scene", scene, "--jobs", "2"], environment, tmp_path / "notes")
    out, err = run.communicate(timeout=300)
    found = report(scene / "check")
    errors = {cel["drawing"]: cel["error"] for cel in found["cels"] if cel["verdict"] == "not-checked"}
    assert "SIGKILL" in errors.pop("9")
    assert "exit status 7" in errors.pop("7")
    assert "memory" in errors.pop("6")
    assert errors == {}
    assert found["counts"] == {"cels": 11, "pass": 8, "query": 0, "retake": 0, "not-checked": 3}
    # Drawing 8 is missing: a retake outranks what was not checked.
    assert run.returncode == 1
    assert err == ""
    # Each bad cel was tried twice, no more.
    assert len(list((tmp_path / "notes").glob("9.*"))) == 2
    assert "Verdict: retake" in out


def alive(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0] != "Z"
    except (FileNotFoundError, ProcessLookupError):
        return False


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads /proc")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_an_interrupt_keeps_what_is_finished_and_leaves_nobody_behind(
    scene, make_scene, environment, tmp_path, number
):
    make_scene(scene, drawings=20)
    notes = tmp_path / "notes"
    run = odd(["scene", scene, "--jobs", "1"], environment, notes)
    deadline = time.monotonic() + 120
    while not list(notes.glob("8.*")) and time.monotonic() < deadline:
        time.sleep(0.02)
    # As a terminal does it: the whole process group gets Ctrl-C.
    if number == signal.SIGINT:
        os.killpg(run.pid, number)
    else:
        run.send_signal(number)
    _, err = run.communicate(timeout=60)
    assert run.returncode == 130
    assert err == "Interrupted: the finished cels are kept. Run the command again for the rest.\n"
    found = verdicts(scene / "check")
    assert [drawing for drawing, verdict in found.items() if verdict == "pass"] == ["1", "2", "3", "4", "5"]
    assert set(found.values()) == {"pass", "not-checked"}
    assert len(found) == 20
    assert not any(alive(note.suffix[1:]) for note in notes.iterdir())


@POSIX
def test_a_defect_names_a_log_and_shows_no_traceback(scene, environment, tmp_path):
    run = odd(["scene", scene], environment, tmp_path / "notes", ODD_DEFECT="1")
    out, err = run.communicate(timeout=120)
    assert (run.returncode, out) == (70, "")
    assert err.count("\n") == 1
    assert "defect of cel-check" in err
    log = Path(err.rpartition("report: ")[2].strip())
    text = log.read_text(encoding="utf-8")
    assert "Traceback" in text
    assert "broken_conduct" in text


@POSIX
def test_a_reader_that_leaves_early_is_no_defect(scene, environment):
    command = f'"{sys.executable}" -m cel_check faults | head -c 1 >/dev/null; echo "${{PIPESTATUS[0]}}"'
    run = subprocess.run(
        ["bash", "-c", command], env=environment(), capture_output=True, text=True, timeout=60, check=True
    )
    assert run.stderr == ""
    assert run.stdout.strip() == "0"
