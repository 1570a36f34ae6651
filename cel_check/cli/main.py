"""The `cel-check` command. Nothing heavy is imported here: a command's module is, when it is called."""

import sys
from importlib import import_module
from importlib.metadata import PackageNotFoundError, version

import click

from cel_check.cli.guard import guarded
from cel_check.version import NAME, VERSION

COMMANDS = {
    "scene": "Check scenes before they go to camera.",
    "cel": "Check loose pictures against a color model.",
    "watch": "Check each cel of a scene as it is saved.",
    "episode": "Check every scene of an episode overnight.",
    "review": "Open the checker's desk: a page to decide on.",
    "palette": "Validate color models, and draw their charts.",
    "calibrate": "Make a scanner's profile from a scanned chart.",
    "faults": "Explain the fault kinds.",
}
"""Each command with its one line of help, so that `--help` imports none of them."""

_LIBRARIES = (
    "numpy",
    "opencv-python-headless",
    "Pillow",
    "imagecodecs",
    "kornia-rs",
    "tifffile",
    "scikit-image",
    "colormath",
)
_EPILOG = """\b
Example:
  cel-check scene episodes/ep01/sc012
\b
Exit status: 0 all pass, 1 a retake, 2 the run could not be done,
3 a cel was not checked, 70 a defect of cel-check, 130 interrupted.
\b
Shell completion: put the line for your shell into its start file.
  bash  eval "$(_CEL_CHECK_COMPLETE=bash_source cel-check)"
  zsh   eval "$(_CEL_CHECK_COMPLETE=zsh_source cel-check)"
  fish  _CEL_CHECK_COMPLETE=fish_source cel-check | source
"""


class LazyGroup(click.Group):
    """A group whose commands are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order of their table."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import a command's module and return its `command`."""
        if cmd_name not in COMMANDS:
            return None
        command = import_module(f"cel_check.cli.{cmd_name}").command
        return command if isinstance(command, click.Command) else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands' table without importing them."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


def _print_versions(ctx: click.Context, _param: click.Parameter, wanted: bool) -> None:
    if not wanted or ctx.resilient_parsing:
        return
    click.echo(f"{NAME} {VERSION}")
    click.echo(f"Python {sys.version.split()[0]}")
    for library in _LIBRARIES:
        try:
            click.echo(f"{library} {version(library)}")
        except PackageNotFoundError:
            click.echo(f"{library} is not installed")
    ctx.exit()


@click.group(
    cls=LazyGroup,
    epilog=_EPILOG,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_print_versions,
    help="Show the version of cel-check and of its libraries.",
)
def group() -> None:
    """Check hand-painted animation cels before they go to camera.

    Every cel is held against its character's color model and the exposure sheet; the report names what to
    send back, where it is on the cel, and who mends it.
    """


def main() -> None:
    """Run the command line and leave with its exit status."""
    sys.exit(guarded(group, sys.argv[1:]))
