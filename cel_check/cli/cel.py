"""`cel-check cel`: checks loose pictures against a color model."""

from pathlib import Path
from typing import Any

import click

from cel_check.cli.options import CheckOptions, check_options
from cel_check.cli.running import Job, check_all
from cel_check.cli.status import ExitStatus
from cel_check.scene.loose import loose_scene

_EPILOG = """\b
Examples:
  cel-check cel A-0007.png --model palettes/tilda.toml
  cel-check cel retakes/*.png --model palettes/tilda.toml --out retakes/check
\b
A report is written only with --out.
"""


@click.command(epilog=_EPILOG)
@click.argument("pictures", nargs=-1, required=True, metavar="PICTURE...", type=click.Path(path_type=Path))
@check_options
def command(pictures: tuple[Path, ...], **choices: Any) -> ExitStatus:
    """Check loose pictures against a color model, without a scene and a sheet."""
    options = CheckOptions(**choices)
    if not options.model:
        raise click.UsageError("Give the color model, as in: --model palettes/tilda.toml")
    scene = loose_scene(pictures, options.model)
    return check_all([Job(scene, options.out)], options)
