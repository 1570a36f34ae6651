"""Writes what a palette's validation found: page, data and charts, each whole or not at all."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from cel_check.errors import BadPicture, Refused
from cel_check.model.colormodel import ColorModel
from cel_check.model.finding import Finding, Severity
from cel_check.model.looks import Looks
from cel_check.model.together import Together
from cel_check.picture.reader import read_picture
from cel_check.report.chart import CAUTION, Sheet, chart_of
from cel_check.report.chart_html import charts_html
from cel_check.report.chart_png import sheet_png
from cel_check.report.html import page_environment, policy_of
from cel_check.report.level_mixes import level_mixes_toml
from cel_check.report.palette_json import PaletteResult, palette_json
from cel_check.report.store import Store
from cel_check.report.words import plural
from cel_check.version import NAME, VERSION

PAGE, DATA, CHARTS = "palette.html", "palette.json", "charts.html"

_VERDICTS = {
    "error": "Not ready to be painted with",
    "warning": "Ready, with warnings",
    "pass": "Ready to be painted with",
}
_SECTIONS = (
    (
        Severity.ERROR,
        "To be mended",
        "Before anyone paints: checker, camera or broadcaster cannot work with these.",
    ),
    (Severity.WARNING, "To be decided", "The paint lead decides: mend it, or leave it as it is meant."),
    (Severity.NOTE, "To be known", "Nothing has to be done about these."),
)
_MOST_ROWS = 300
"""Findings of one severity that the page tells; palette.json holds them all."""

_MOST_SWATCHES = 2


@dataclass(frozen=True)
class _Row:
    """One finding as the page shows it."""

    severity: str
    whose: str
    text: str
    mend: str
    swatches: tuple[str, ...]
    swatch_words: str


def write_palette(result: PaletteResult, together: Together, out: Path) -> tuple[Path, ...]:
    """Write `palette.html`, `palette.json`, `charts.html` and a PNG for each sheet into a folder.

    Where a strip was measured, `level-mixes-KEY.toml` is written for each model too.

    Args:
        result: what was found.
        together: which inks border which paints, for the charts' closest pairs.
        out: the folder; made where it does not exist.

    Returns:
        The files, the page first.

    Raises:
        BadInput: where `out` cannot be written.
    """
    sheets: list[tuple[Sheet, Image.Image | None]] = []
    pictures: dict[str, bytes] = {}
    links = [(CHARTS, "all, to print")]
    for model in result.looks.models:
        reference = _reference(model)
        own = chart_of(model, together)
        for number, sheet in enumerate(own, start=1):
            name = f"chart-{model.key}{f'-{number}' if len(own) > 1 else ''}.png"
            pictures[name] = sheet_png(sheet, reference)
            sheets.append((sheet, reference))
            links.append((name, sheet.title))
    files = {
        PAGE: palette_html(result, links),
        DATA: palette_json(result),
        CHARTS: charts_html(f"Charts: {', '.join(m.character for m in result.looks.models)}", sheets),
        **pictures,
        **_mixes(result),
    }
    return Store(out).put_reports(files)


def _mixes(result: PaletteResult) -> dict[str, bytes]:
    if result.graded is None:
        return {}
    return {
        f"level-mixes-{model.key}.toml": level_mixes_toml(result.graded, model.key).encode("utf-8")
        for model in result.looks.models
    }


def palette_html(result: PaletteResult, charts: Sequence[tuple[str, str]]) -> bytes:
    """Return the page as UTF-8.

    Args:
        result: what was found.
        charts: address and name of each chart.
    """
    environment = page_environment()
    names = {result.looks.key(n): color.name for n, color in enumerate(result.looks.colors)}
    text = environment.get_template("palette.html").render(
        result=result,
        verdict=_VERDICTS[result.verdict],
        sentences=_sentences(result),
        counts=[(severity.value, result.count(severity)) for severity in Severity],
        sections=tuple(_sections(result)),
        drawdowns=[(one, names.get((one.model, one.color), one.color)) for one in result.drawdowns],
        levels=[
            (one, names.get((one.model, one.color), one.color))
            for one in sorted(
                result.graded.levels if result.graded else (), key=lambda one: (-one.cels, one.model)
            )
        ],
        charts=charts,
        caution=CAUTION,
        program=f"{NAME} {VERSION}",
        policy=policy_of(environment, "palette.css"),
    )
    return text.encode("utf-8")


def _sentences(result: PaletteResult) -> tuple[str, ...]:
    errors, warnings = result.count(Severity.ERROR), result.count(Severity.WARNING)
    sentences = []
    if errors:
        sentences.append(f"{plural(errors, 'error')} to be mended before anyone paints.")
    if warnings:
        sentences.append(f"{plural(warnings, 'warning')} for the paint lead to decide.")
    if not sentences:
        sentences.append("Nothing stands against these colors.")
    return tuple(sentences)


def _sections(result: PaletteResult) -> Iterator[tuple[str, str, str, tuple[_Row, ...]]]:
    places = {result.looks.key(number): number for number in range(len(result.looks.colors))}
    for severity, title, intro in _SECTIONS:
        own = [finding for finding in result.findings if finding.severity is severity]
        rows = tuple(_row(result.looks, places, finding) for finding in own[:_MOST_ROWS])
        more = f" {len(own) - _MOST_ROWS:,} more stand in {DATA}." if len(own) > _MOST_ROWS else ""
        if rows:
            yield title, severity.value, intro + more, rows


def _row(looks: Looks, places: dict[tuple[str, str], int], finding: Finding) -> _Row:
    look = looks.names.index(finding.condition) if finding.condition in looks.names else 0
    shown = [places[key] for key in finding.colors if key in places]
    if len(shown) > _MOST_SWATCHES:
        shown = []
    hexes = tuple(looks.hex(look, color) for color in shown)
    words = " beside ".join(f"{looks.colors[c].name} {h}" for c, h in zip(shown, hexes, strict=True))
    characters = {model.key: model.character for model in looks.models}
    whose = characters.get(finding.model, "") if len({model for model, _ in finding.colors}) < 2 else ""
    return _Row(finding.severity.value, whose, finding.text, finding.mend, hexes, words)


def _reference(model: ColorModel) -> Image.Image | None:
    """Return the first reference cel that can be read, cut to its art."""
    for path in model.references:
        try:
            rgba = read_picture(path).rgba
        except (BadPicture, Refused, OSError, ValueError):
            continue
        image = Image.fromarray(np.ascontiguousarray(rgba))
        return image.crop(image.getchannel("A").getbbox())
    return None
