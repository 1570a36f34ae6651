"""What README promises is so: its first line ends in a report, its commands, options and tables exist."""

import json
import os
import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import click
import jsonschema
import pytest
from readme_table import fault_table, table_in

from cel_check.cli.main import COMMANDS, group
from cel_check.cli.status import ExitStatus
from cel_check.episode.toml import read_episode_toml
from cel_check.faults import FaultKind
from cel_check.model.load import load_model
from cel_check.scene.sheet import read_sheet
from cel_check.scene.toml import PunchTable, read_scene_toml
from cel_check.version import NAME, VERSION

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(language: str) -> tuple[str, ...]:
    return tuple(re.findall(rf"^```{language}\n(.*?)^```$", README, re.DOTALL | re.MULTILINE))


def examples() -> Iterator[str]:
    """Every call of the program in a block of commands."""
    for block in blocks("sh"):
        for line in block.splitlines():
            yield from (part.strip() for part in line.split("&&") if "bin/cel-check " in part)
            if line.startswith("cel-check "):
                yield line


def commands() -> dict[str, click.Command]:
    return {name: import_module(f"cel_check.cli.{name}").command for name in COMMANDS}


def options_of(command: click.Command) -> set[str]:
    return {option for param in command.params for option in param.opts if option.startswith("-")}


def test_it_opens_with_the_job_and_then_the_two_lines() -> None:
    title, job, _, first, _, second = README.split("\n\n")[:6]
    assert title == "# cel-check"
    assert "CIEDE2000" in job
    assert "\n\n" not in job
    for block in (first, second):
        assert block.startswith("```sh\npython3 -m venv .venv && ")
        assert block.count("\n") == 2  # one line between its marks
    assert ".venv/bin/cel-check scene samples/" in first
    assert second.endswith("-m pytest\n```")


def test_the_first_line_ends_with_the_report_of_the_planted_scene(tmp_path: Path) -> None:
    call = next(examples())
    for name in ("samples", "palettes"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("check", "__pycache__"))
    run = subprocess.run(
        [sys.executable, "-m", "cel_check", *shlex.split(call)[1:]],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )
    assert run.returncode == 0, run.stderr
    promised = re.search(r"`(samples/\S+/report\.html)`", README)
    assert promised
    assert f"Verdict: retake. Report: {Path(promised.group(1))}" in run.stdout
    assert (tmp_path / promised.group(1)).stat().st_size > 10_000
    report = json.loads((tmp_path / promised.group(1)).with_suffix(".json").read_text(encoding="utf-8"))
    planted = json.loads((tmp_path / "samples/sc013/planted.json").read_text(encoding="utf-8"))
    assert {entry["kind"] for entry in planted} <= {fault["kind"] for fault in report["faults"]}


@pytest.mark.parametrize("example", list(examples()))
def test_every_example_is_understood(example: str) -> None:
    _, name, *arguments = shlex.split(example)
    context = commands()[name].make_context(name, arguments)
    assert context.params


def test_the_table_of_commands_is_complete() -> None:
    told = re.findall(r"^\| `cel-check (\w+)", README, re.MULTILINE)
    assert told == list(COMMANDS)


def test_the_table_of_options_is_complete_and_right() -> None:
    told: dict[str, set[str]] = {name: set() for name in (*COMMANDS, "cel-check")}
    for names, places in re.findall(r"^\| ((?:`-[^|]*)) \| ([^|]*) \|", README, re.MULTILINE):
        options = set(re.findall(r"`(--?[a-z-]+)", names))
        for place in told if places == "all" else re.findall(r"`([a-z-]+)`", places):
            told[place] |= options
    helps = {"--help", "-h"}
    assert told.pop("cel-check") == options_of(group) | helps
    assert told == {name: options_of(command) | helps for name, command in commands().items()}


def test_every_option_named_in_passing_exists() -> None:
    known = set().union(*map(options_of, (group, *commands().values())), {"--help"})
    spans = re.findall(r"`((?:--[a-z]|cel-check )[^`\n]*)`", README)
    spans += re.findall(r"`(cel-check [^`\n]*)`", GUIDE)
    named = {option for span in spans for option in re.findall(r"(?:^|(?<=\s))--[a-z-]+", span)}
    assert {"--model", "--strict"} <= named <= known


def test_the_table_of_faults_is_the_catalogue() -> None:
    assert table_in(README) == fault_table(), "run: python tests/readme_table.py"
    for kind in FaultKind:
        assert f"| `{kind.value}` |" in README


def test_the_exit_statuses_are_the_programs() -> None:
    told = {int(status) for status in re.findall(r"^\| (\d+) \| ", README, re.MULTILINE)}
    assert told == {int(status) for status in ExitStatus}


def test_the_formats_shown_are_read(tmp_path: Path) -> None:
    (tmp_path / "palettes").mkdir()
    scan, model, scene, episode = blocks("toml")
    (tmp_path / "scene.toml").write_text("schema = 1\n" + scan, encoding="utf-8")
    keys = read_scene_toml(tmp_path / "scene.toml").scan
    assert keys is not None
    assert (keys.dpi, keys.pegs, keys.punch) == (300, "bottom", PunchTable())
    path = tmp_path / "palettes" / "tilda.toml"
    path.write_text(model, encoding="utf-8")
    assert [color.id for color in load_model(path).colors] == ["coat", "outline"]
    (tmp_path / "scene.toml").write_text(scene, encoding="utf-8")
    assert read_scene_toml(tmp_path / "scene.toml").scene.condition == "night"
    (tmp_path / "episode.toml").write_text(episode, encoding="utf-8")
    assert read_episode_toml(tmp_path).episode.title == "The lamp goes out"
    (tmp_path / "sheet.csv").write_text(blocks("csv")[0], encoding="utf-8")
    sheet = read_sheet(tmp_path / "sheet.csv", ("A", "B"))
    assert [row.cels for row in sheet.rows] == [("1", "1"), ("1", "1"), ("2", None)]


def test_the_report_shown_has_the_published_shape() -> None:
    shown = json.loads(re.sub(r'(?<="sha256": ")[^"]+', "0" * 64, blocks("json")[0]))
    schema = json.loads((ROOT / "cel_check/report/schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(shown, schema, jsonschema.Draft202012Validator)
    assert shown["tool"] == {"name": NAME, "version": VERSION}


def test_what_it_says_of_python_is_what_the_build_says() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["requires-python"] == ">=3.11,<3.14"
    assert "Python 3.11 to 3.13" in README
    opencv = next(item for item in project["dependencies"] if item.startswith("opencv"))
    assert f"'{opencv}'" in README
