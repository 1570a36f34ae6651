"""The command line starts light, explains itself, and answers a slip in one line."""

import subprocess
import sys
import tomllib
from importlib import import_module
from pathlib import Path

import click
import pytest

from cel_check.cli.main import COMMANDS, main
from cel_check.cli.scene import command as scene_command
from cel_check.version import VERSION

HEAVY = ("numpy", "cv2", "pydantic", "PIL", "rich", "jinja2", "multiprocessing")


def test_help_imports_nothing_heavy(environment):
    code = (
        "import sys\nfrom cel_check.cli.main import main\nsys.argv = ['cel-check', '--help']\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules], file=sys.stderr)"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        env=environment(),
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert "Usage: cel-check" in run.stdout
    assert run.stderr.strip() == "[]"


def test_the_console_script_is_this_main():
    pyproject = tomllib.loads((Path(__file__).parents[2] / "pyproject.toml").read_text(encoding="utf-8"))
    assert pyproject["project"]["scripts"] == {"cel-check": "cel_check.cli.main:main"}
    assert callable(main)


def test_help_names_every_command_and_how_to_complete_them(tool):
    run = tool("--help")
    assert run.returncode == 0
    assert all(f"\n  {name} " in run.stdout for name in COMMANDS)
    assert "_CEL_CHECK_COMPLETE=bash_source" in run.stdout
    assert "Exit status:" in run.stdout


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_a_help_with_an_example(name):
    command = import_module(f"cel_check.cli.{name}").command
    text = command.get_help(click.Context(command, info_name=f"cel-check {name}"))
    assert "Example" in text
    assert f"cel-check {name}" in text.partition("Example")[2]
    assert {"--json", "--quiet"} <= {option for param in command.params for option in param.opts}


def test_the_checking_commands_have_the_options_of_the_contract():
    options = {option for param in scene_command.params for option in param.opts}
    assert {"--model", "--out", "--jobs", "--strict", "--exit-zero", "--max-megapixels"} <= options


def test_version_names_the_libraries(tool):
    run = tool("--version")
    assert run.returncode == 0
    assert run.stdout.splitlines()[0] == f"cel-check {VERSION}"
    names = [line.split()[0] for line in run.stdout.splitlines()]
    assert names[:3] == ["cel-check", "Python", "numpy"]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["paint"], "No such command 'paint'"),
        (["scene"], "Missing argument 'SCENE...'"),
        (["scene", "x", "--jobs", "0"], "--jobs"),
        (["scene", "x", "--colour"], "--colour"),
        (["cel", "x.png"], "Give the color model"),
        (["faults", "paint"], "'paint' is not one of"),
    ],
)
def test_a_slip_is_one_line(tool, arguments, words):
    run = tool(*arguments)
    assert run.returncode == 2
    assert run.stdout == ""
    assert words in run.stderr
    assert run.stderr.count("\n") == 1


def test_completion_knows_the_commands(tool):
    run = tool(_CEL_CHECK_COMPLETE="bash_complete", COMP_WORDS="cel-check sc", COMP_CWORD="1")
    assert "scene" in run.stdout
