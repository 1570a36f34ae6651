"""`cel-check faults`: explains the fault kinds from the catalogue."""

import json
import textwrap
from dataclasses import asdict

import click

from cel_check.faults import CATALOGUE, FaultInfo, FaultKind

_WIDTH = 96


@click.command(epilog="\b\nExample:\n  cel-check faults off-model")
@click.argument(
    "kind", required=False, type=click.Choice([kind.value for kind in FaultKind]), metavar="[KIND]"
)
@click.option("--json", "as_json", is_flag=True, help="Print the catalogue as JSON.")
@click.option("--quiet", "-q", is_flag=True, help="Print the kinds' names only.")
def command(kind: str | None, as_json: bool, quiet: bool) -> None:
    """Explain the fault kinds, or one KIND in full."""
    entries = [CATALOGUE[FaultKind(kind)]] if kind else list(CATALOGUE.values())
    if as_json:
        click.echo(json.dumps([asdict(entry) for entry in entries], indent=2))
    elif quiet:
        click.echo("\n".join(entry.kind.value for entry in entries))
    elif kind:
        click.echo(_in_full(entries[0]))
    else:
        click.echo(_table(entries))


def _table(entries: list[FaultInfo]) -> str:
    width = max(len(entry.kind) for entry in entries)
    lines = [
        textwrap.fill(
            entry.meaning + ("" if entry.checked else " (not looked for yet)"),
            _WIDTH,
            initial_indent=entry.kind.ljust(width + 2),
            subsequent_indent=" " * (width + 2),
        )
        for entry in entries
    ]
    return "\n".join([*lines, "", "`cel-check faults KIND` explains one in full."])


def _in_full(entry: FaultInfo) -> str:
    parts = (
        ("What", entry.meaning[:1].upper() + entry.meaning[1:] + "."),
        ("Why it matters", entry.why),
        ("Often mistaken for it", entry.false_alarms),
        ("Who mends it", entry.send_to.value),
        ("Looked for", "yes" if entry.checked else "not by this version"),
    )
    width = max(len(title) for title, _ in parts) + 2
    lines = [
        textwrap.fill(text, _WIDTH, initial_indent=title.ljust(width), subsequent_indent=" " * width)
        for title, text in parts
    ]
    return "\n".join([entry.kind.value, *lines])
