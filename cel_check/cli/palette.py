"""`cel-check palette`: validates color models, starts one from painted cels, or tells two versions apart."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from cel_check.cli import palette_screen
from cel_check.cli.common import require_writable, say
from cel_check.cli.palette_runs import PaletteRun, compare, start_model, validated
from cel_check.cli.status import ExitStatus
from cel_check.model.finding import Severity
from cel_check.model.shown import Levels
from cel_check.model.spectra import ILLUMINANTS
from cel_check.report.palette import PAGE, write_palette
from cel_check.report.palette_json import changes_json, found_json, palette_json
from cel_check.scene.found_colors import as_toml

_EPILOG = """\b
Examples:
  cel-check palette palettes/*.toml
  cel-check palette palettes/*.toml --episode ep04 --out palettes/check
  cel-check palette palettes/tilda.toml --drawdowns january.txt --drawdowns march.csv
  cel-check palette palettes/tilda.toml --stack gray-chip.tif --profile scanner.toml
  cel-check palette --from tilda-model.png > palettes/new.toml
  cel-check palette --diff old/tilda.toml palettes/tilda.toml --episode ep04
\b
Exit status: 0 no error (warnings allowed, unless --strict), 1 an error, 2 a file cannot be read.
"""

_PATHS = click.Path(path_type=Path)


@dataclass(frozen=True)
class _Choices:
    """What the user chose; the names are those of the options."""

    files: tuple[Path, ...]
    from_pictures: bool
    diff: bool
    episode: Path | None
    drawdowns: tuple[Path, ...]
    levels: str
    stack: tuple[Path, ...]
    profile: Path | None
    lamps: tuple[str, str]
    out: Path | None
    strict: bool
    as_json: bool
    quiet: bool


@click.command(epilog=_EPILOG)
@click.argument("files", nargs=-1, metavar="MODEL...", type=_PATHS)
@click.option("--from", "from_pictures", is_flag=True, help="Start a model from painted cels: PICTURE...")
@click.option("--diff", is_flag=True, help="Tell what changed between two versions of a model: give OLD NEW.")
@click.option("--episode", "-e", type=_PATHS, metavar="DIR", help="Look at how its scenes use the models.")
@click.option(
    "--drawdowns",
    "-d",
    multiple=True,
    type=_PATHS,
    metavar="FILE",
    help="Measured drawdowns, CGATS text or CSV. Repeat it for newer batches, the oldest first.",
)
@click.option(
    "--stack",
    "-s",
    multiple=True,
    type=_PATHS,
    metavar="STRIP",
    help="A gray chip under 0 to 4 cels: a table (CGATS text or CSV), or a picture cropped to it. Repeat it "
    "for a lighter and a darker chip.",
)
@click.option(
    "--profile", type=_PATHS, metavar="FILE", help="The scanner's profile, for a --stack that is a picture."
)
@click.option(
    "--lamps",
    nargs=2,
    default=("D50", "A"),
    show_default=True,
    type=click.Choice(ILLUMINANTS),
    metavar="LAMP LAMP",
    help="Illuminants between which metamerism is looked at.",
)
@click.option(
    "--levels",
    type=click.Choice([one.value for one in Levels]),
    default=Levels.SCALED.value,
    show_default=True,
    help="How a broadcast master takes the codes: 0 to 255 scaled to 16 to 235, or straight as they are.",
)
@click.option("--out", "-o", type=_PATHS, metavar="DIR", help="Write page, data and charts to DIR.")
@click.option("--strict", is_flag=True, help="A warning counts as an error for the exit status.")
@click.option("--json", "as_json", is_flag=True, help="Print palette.json to stdout, and nothing else.")
@click.option("--quiet", "-q", is_flag=True, help="Print errors and warnings only.")
def command(**choices: Any) -> ExitStatus:
    """Validate color models before anyone paints with them.

    Tells whether the colors of a MODEL can be told apart, shown, broadcast and checked in every condition,
    whether the conditions hang together, and whether measured paints match. With --out it draws the charts.
    """
    chosen = _Choices(**choices)
    _refuse_what_does_not_go_together(chosen)
    if chosen.from_pictures:
        return _from(chosen)
    if chosen.diff:
        return _diff(chosen)
    return _validate(chosen)


def _refuse_what_does_not_go_together(chosen: _Choices) -> None:
    if chosen.from_pictures and chosen.diff:
        raise click.UsageError("Give --from or --diff, not both.")
    if chosen.from_pictures and not chosen.files:
        raise click.UsageError("Give the pictures, as in: --from tilda-model.png")
    if chosen.diff and len(chosen.files) != 2:
        raise click.UsageError("Give two models, as in: --diff old/tilda.toml palettes/tilda.toml")
    if (chosen.from_pictures or chosen.diff) and (chosen.out or chosen.drawdowns or chosen.stack):
        raise click.UsageError("--out, --drawdowns and --stack go with models that are validated.")
    if chosen.profile and not chosen.stack:
        raise click.UsageError("--profile goes with a --stack that is a picture.")
    if not chosen.files and chosen.episode is None:
        raise click.UsageError("Give color models, or the --episode whose models to validate.")


def _validate(chosen: _Choices) -> ExitStatus:
    if chosen.out is not None:
        require_writable(chosen.out)
    run = PaletteRun(
        files=chosen.files,
        episode=chosen.episode,
        drawdowns=chosen.drawdowns,
        stack=chosen.stack,
        profile=chosen.profile,
        levels=Levels(chosen.levels),
        lamps=chosen.lamps,
    )
    result, together = validated(run)
    page = ""
    if chosen.out is not None:
        page = str(write_palette(result, together, chosen.out)[0].parent / PAGE)
    if chosen.as_json:
        click.echo(palette_json(result), nl=False)
    elif chosen.quiet:
        say(palette_screen.findings(result, notes=False, most=None))
    else:
        lines = (palette_screen.heading(result), *palette_screen.findings(result))
        say((*lines, palette_screen.last_line(result, page)))
    wrong = result.count(Severity.ERROR) + (result.count(Severity.WARNING) if chosen.strict else 0)
    return ExitStatus.RETAKE if wrong else ExitStatus.PASS


def _from(chosen: _Choices) -> ExitStatus:
    found, problems = start_model(chosen.files)
    for problem in problems:
        click.echo(problem, err=True)
    if found.colors and chosen.as_json:
        click.echo(found_json(found), nl=False)
    elif found.colors:
        click.echo(as_toml(found, [path.name for path in chosen.files]), nl=False)
    elif not problems:
        click.echo("There is no flat color in these pictures.", err=True)
    return ExitStatus.NOT_DONE if problems or not found.colors else ExitStatus.PASS


def _diff(chosen: _Choices) -> ExitStatus:
    result = compare(chosen.files[0], chosen.files[1], chosen.episode)
    if chosen.as_json:
        click.echo(changes_json(result.old, result.new, result.changes, result.stale), nl=False)
    else:
        say(palette_screen.changes(result.changes, result.stale, chosen.episode is not None))
    return ExitStatus.PASS
