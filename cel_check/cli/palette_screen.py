"""What `cel-check palette` prints: a line for each finding, worst first, and one with the verdict."""

import shutil
import sys
import textwrap
from collections.abc import Iterator, Sequence

import click

from cel_check.model.changes import Change
from cel_check.model.finding import Finding, Severity
from cel_check.report.palette_json import PaletteResult
from cel_check.report.words import plural
from cel_check.scene.model_uses import Stale
from cel_check.scene.names import listed, shown

MOST_ROWS = 40
"""Findings that a screen takes; the page and the data hold them all."""

_COLORS = {Severity.ERROR: "red", Severity.WARNING: "yellow", Severity.NOTE: "cyan"}
_VERDICT_COLORS = {"error": "red", "warning": "yellow", "pass": "green"}
_LEAST_ROOM = 40
_WIDTH = max(len(severity.value) for severity in Severity)


def heading(result: PaletteResult) -> str:
    """Return the line above the findings."""
    models = result.looks.models
    colors = plural(len(result.looks.colors), "color")
    looks = plural(len(result.looks.names) - 1, "condition or mix", "conditions and mixes")
    scenes = f", {plural(len(result.scenes), 'scene')}" if result.scenes else ""
    names = listed(tuple(shown(model.character) for model in models))
    return f"{names}: {colors}, {looks}{scenes}"


def findings(result: PaletteResult, notes: bool = True, most: int | None = MOST_ROWS) -> Iterator[str]:
    """Yield one line for each finding: severity, whose it is, what, and the mend."""
    chosen = [one for one in result.findings if notes or one.severity is not Severity.NOTE]
    characters = {model.key: model.character for model in result.looks.models}
    for one in chosen[:most]:
        yield _line(one, characters)
    if most is not None and len(chosen) > most:
        more = plural(len(chosen) - most, "more finding")
        yield f"... and {more}: see them all with --out DIR, --json or --quiet"


def _line(one: Finding, characters: dict[str, str]) -> str:
    word = click.style(one.severity.value.ljust(_WIDTH), fg=_COLORS[one.severity])
    models = {model for model, _ in one.colors}
    whose = characters.get(one.model, "")
    # Where two models are concerned the text itself says whose each color is.
    head = f"{whose}: " if whose and len(models) == 1 else ""
    return f"{word}  {_wrapped(shown(f'{head}{one.text} {one.mend}'))}"


def _wrapped(text: str) -> str:
    """Return a text with its further lines below its first on a terminal, and on one line in a pipe."""
    if not sys.stdout.isatty():
        return text
    room = max(_LEAST_ROOM, shutil.get_terminal_size().columns - _WIDTH - 2)
    lines = textwrap.wrap(text, room, break_long_words=False, break_on_hyphens=False)
    return ("\n" + " " * (_WIDTH + 2)).join(lines)


def last_line(result: PaletteResult, page: str) -> str:
    """Return the line below the findings: the counts, and where the page is."""
    counts = [
        plural(result.count(severity), severity.value) for severity in Severity if result.count(severity)
    ]
    verdict = click.style(result.verdict, fg=_VERDICT_COLORS[result.verdict], bold=True)
    where = f" Page: {shown(page)}" if page else ""
    return f"Verdict: {verdict} ({', '.join(counts) or 'nothing found'}).{where}"


def changes(found: Sequence[Change], stale: Sequence[Stale], looked: bool) -> Iterator[str]:
    """Yield one line for each change and each stale scene.

    Args:
        found: what changed.
        stale: scenes whose cels are judged otherwise by that.
        looked: whether an episode's scenes were looked at.
    """
    if not found:
        yield "Nothing changed."
    for one in found:
        yield shown(one.line())
    for scene in stale:
        condition = f" ({scene.condition})" if scene.condition else ""
        levels = f"level{'s' if len(scene.levels) > 1 else ''} {listed(scene.levels)}"
        yield shown(f"Stale: scene {scene.scene}{condition}, {levels}: {listed(scene.colors)}")
    if looked:
        yield f"{plural(len(stale), 'scene')} must be checked again."
