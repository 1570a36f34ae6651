"""`cel-check calibrate`: makes a scanner's profile from the scan of a 24-patch chart."""

import json
import re
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click
import numpy as np
from numpy.typing import NDArray

from cel_check.cli.common import require_writable, say
from cel_check.cli.status import ExitStatus
from cel_check.errors import BadInput, BadPicture, Problem, Refused
from cel_check.picture.picture import Picture
from cel_check.picture.reader import read_picture
from cel_check.report.calibration import calibration_png
from cel_check.report.store import write_whole
from cel_check.scan.calibrate import Calibration, calibrate
from cel_check.scan.chart import Chart, Edition, chart_of_file, published
from cel_check.scan.profile import Profile, profile_toml
from cel_check.scan.refuse import Reason
from cel_check.version import NAME, VERSION

_EPILOG = """\b
Examples:
  cel-check calibrate chart.tif
  cel-check calibrate chart.tif --blank sheet.tif --edition before-2014 --out scanners/left.toml
  cel-check calibrate chart.tif --corners 410,380 2110,395 2098,1410 402,1398
\b
Exit status: 0 the profile is written, 2 the scan or a file is refused; one line says why.
"""

_PATHS = click.Path(path_type=Path)
_PLACE = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*,\s*(-?\d+(?:\.\d+)?)\s*", re.ASCII)


@dataclass(frozen=True)
class _Choices:
    """What the user chose; the names are those of the options."""

    chart: Path
    edition: str
    reference: Path | None
    blank: Path | None
    corners: tuple[str, ...]
    out: Path
    as_json: bool
    quiet: bool


@click.command(epilog=_EPILOG)
@click.argument("chart", metavar="CHART", type=_PATHS)
@click.option(
    "--edition",
    type=click.Choice([one.value for one in Edition]),
    default=Edition.AFTER.value,
    show_default=True,
    help="The chart's edition: made from November 2014 on, or before.",
)
@click.option(
    "--reference", "-r", type=_PATHS, metavar="FILE", help="The chart's own measurements, CGATS text or CSV."
)
@click.option(
    "--blank", "-b", type=_PATHS, metavar="FILE", help="Scan of a blank sheet, to even the light by."
)
@click.option(
    "--corners",
    nargs=4,
    metavar="X,Y X,Y X,Y X,Y",
    help="Middles of dark skin, bluish green, black and white in pixels, where the chart is not found.",
)
@click.option(
    "--out",
    "-o",
    type=_PATHS,
    metavar="FILE",
    default=Path("scanner.toml"),
    show_default=True,
    help="The profile; a picture of the same name goes beside it.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the residuals as JSON, and nothing else.")
@click.option("--quiet", "-q", is_flag=True, help="Print what to look at only: nothing where all is well.")
def command(**choices: Any) -> ExitStatus:
    """Make a scanner's profile from the scan of a 24-patch chart.

    Scan the CHART as cels are scanned, with every automatic correction off, and --blank for the light. Cels
    are then corrected by the profile that scene.toml names in its [scan] table.
    """
    chosen = _Choices(**choices | {"corners": choices["corners"] or ()})
    corners = _corners(chosen.corners)
    reference = chart_of_file(chosen.reference) if chosen.reference else published(Edition(chosen.edition))
    require_writable(chosen.out.parent)
    scan = _read(chosen.chart)
    blank = _read(chosen.blank) if chosen.blank else None
    found = calibrate(scan, reference, blank, corners)
    if isinstance(found, Reason):
        raise BadInput(Problem(str(chosen.chart), "", found.wrong, f"{found.mend}."))
    _write(chosen, found, scan)
    _tell(chosen, found, reference)
    return ExitStatus.PASS


def _corners(given: tuple[str, ...]) -> NDArray[np.float64] | None:
    if not given:
        return None
    places = [_PLACE.fullmatch(text) for text in given]
    if not all(places):
        raise click.UsageError("Write each corner as X,Y in pixels, as in: --corners 410,380 2110,395 ...")
    corners = np.array([[float(place[1]), float(place[2])] for place in places if place])
    edges = np.roll(corners, -1, axis=0) - corners
    after = np.roll(edges, -1, axis=0)
    if ((edges[:, 0] * after[:, 1] - edges[:, 1] * after[:, 0]) <= 0).any():
        raise click.UsageError("The corners go clockwise: dark skin, bluish green, black, white.")
    return corners


def _read(path: Path) -> Picture:
    try:
        return read_picture(path)
    except BadPicture as error:
        raise BadInput(Problem(str(path), "", f"it {error.reason}", error.mend)) from None
    except Refused as error:
        wrong = str(error).removeprefix("is not checked: ")
        raise BadInput(Problem(str(path), "", wrong, "Scan the chart at 300 dpi.")) from None


def _write(chosen: _Choices, found: Calibration, scan: Picture) -> None:
    profile = Profile(
        correction=found.fit.correction,
        light=found.light,
        residual=found.residual,
        chart=found.chart.edition,
        scan=chosen.chart.name,
        scan_sha256=scan.sha256,
        date=datetime.now(UTC).isoformat(timespec="seconds"),
        software=f"{NAME} {VERSION}",
    )
    write_whole(chosen.out, profile_toml(profile).encode(), lasting=False)
    write_whole(_picture(chosen.out), calibration_png(found), lasting=False)


def _picture(out: Path) -> Path:
    return out.with_suffix(".png")


def _tell(chosen: _Choices, found: Calibration, reference: Chart) -> None:
    residual = found.residual
    if chosen.as_json:
        kinds = dict(found.kinds)
        data = {"schema": 1, "chart": reference.edition, "kind": found.fit.correction.kind.value}
        data |= {"residual": asdict(residual), "kinds": kinds, "notes": list(found.notes)}
        click.echo(json.dumps(data, indent=2))
        return
    if chosen.quiet:
        say(found.notes)
        return
    kinds_told = ", ".join(f"{kind} {mean:.2f}" for kind, mean in found.kinds)
    even = f" Light evened: the darkest place has {found.light.unevenness:.0%}." if found.light else ""
    say(
        (
            f"{chosen.chart}: 24 patches, reference {reference.edition}, D50.{even}",
            f"Patches left out, mean ΔE00: {kinds_told} (plain 3x3: {residual.plain_mean:.2f}).",
            f"Mean {residual.mean:.2f}, 95th percentile {residual.p95:.2f}, worst {residual.worst:.2f} "
            f"({residual.worst_patch}): no color of a scan is judged closer than {residual.p95:.2f} ΔE00.",
            *found.notes,
            f"Profile: {chosen.out}. Picture: {_picture(chosen.out)}",
        )
    )
