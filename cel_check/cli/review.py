"""`cel-check review`: the checker's desk, a local page on which people decide."""

import getpass
import json
import logging
import webbrowser
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import click

from cel_check.cli.common import say
from cel_check.cli.status import ExitStatus
from cel_check.episode.agreement import KindAgreement, agreement
from cel_check.episode.decisions import history, revoked_lessons
from cel_check.episode.folder import Episode, load_episode
from cel_check.episode.ledger import FILE_NAME, Ledger, open_ledger
from cel_check.episode.lessons import Lesson, lessons_of
from cel_check.errors import BadInput, Problem
from cel_check.report.words import KIND_TITLES
from cel_check.review.gate import Gate
from cel_check.review.serve import LOOPBACK, address_of, listening, rooms_of, serve
from cel_check.review.views import agreement_view, lesson_words, lessons_view
from cel_check.scene.names import shown

_OPEN_DESK = """\
This desk is open to the network at {host}, port {port}: whoever reaches it and knows the password sees the
pictures and can decide in any name. The password keeps strangers out and no more: nothing is encrypted, so
pictures, decisions and the password itself can be read by others on that network. Names are not verified.
Use it only on a network that you trust, and stop it (Ctrl-C) when you are done."""

_LOOPBACK = frozenset({LOOPBACK, "localhost", "::1"})
_LEAST = 8

_EPILOG = """\b
Examples:
  cel-check review signal-hill/ep04
  cel-check review signal-hill/ep04 --agreement
  cel-check review signal-hill/ep04 --host 192.168.1.20 --port 8123
\b
Run `cel-check episode` first: the desk shows what it found, and its next run honors what was decided.
"""


@dataclass(frozen=True)
class ReviewOptions:
    """What the options say, one field an option."""

    name: str
    port: int
    host: str
    no_browser: bool
    only_agreement: bool
    as_json: bool
    quiet: bool


@click.command(epilog=_EPILOG)
@click.argument("folder", metavar="EPISODE", type=click.Path(path_type=Path))
@click.option(
    "--out", metavar="DIR", type=click.Path(path_type=Path), help="Where the episode's report and ledger lie."
)
@click.option("--name", metavar="WHO", default="", help="Your name on your decisions; else your login's.")
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="The port; else one that is free.")
@click.option(
    "--host", metavar="ADDRESS", default=LOOPBACK, help="Open the desk to a network; asks a password."
)
@click.option("--no-browser", is_flag=True, help="Print the link, and open no browser.")
@click.option(
    "--agreement", "only_agreement", is_flag=True, help="Print agreement and lessons; open no desk."
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print JSON: the address, or with --agreement the tables."
)
@click.option("-q", "--quiet", is_flag=True, help="Print the link only.")
def command(folder: Path, out: Path | None, **choices: Any) -> ExitStatus:
    """Open the checker's desk: a page on which a person goes through the scenes and decides.

    It shows each scene as camera will see it, with every fault that the last `cel-check episode` found. What
    is decided is kept in the episode's ledger for good.
    """
    options = ReviewOptions(**choices)
    episode = load_episode(folder)
    ledger = _ledger(out or folder / "check")
    with closing(ledger):
        for note in ledger.notes:
            click.echo(shown(note), err=True)
        if options.only_agreement:
            _print_agreement(ledger, options)
        else:
            _open_desk(episode, ledger, options)
    return ExitStatus.PASS


def _open_desk(episode: Episode, ledger: Ledger, options: ReviewOptions) -> None:
    password = "" if options.host in _LOOPBACK else _password()
    logging.basicConfig(format="%(asctime)s %(message)s", level=logging.WARNING)
    host = LOOPBACK if options.host == "localhost" else options.host
    taken = listening(host, options.port)
    gate = Gate(taken.getsockname()[1], host, password)
    serve(
        rooms_of(episode, ledger.path, gate, options.name or _login()), taken, partial(_ready, gate, options)
    )


def _ledger(out: Path) -> Ledger:
    path = out / FILE_NAME
    if not path.is_file():
        mend = "Run `cel-check episode` on it first, and give both the same --out."
        raise BadInput(Problem(str(path), "", "there is no ledger of this episode", mend))
    return open_ledger(path)


def _login() -> str:
    try:
        return shown(getpass.getuser())[:60]
    except (OSError, KeyError):  # KeyError until Python 3.12
        return "checker"


def _password() -> str:
    given = str(click.prompt("Password for this desk", hide_input=True, confirmation_prompt=True, err=True))
    if len(given) < _LEAST:
        raise click.UsageError(f"The password must have at least {_LEAST} characters.")
    return given


def _ready(gate: Gate, options: ReviewOptions) -> None:
    link = address_of(gate)
    if options.as_json:
        click.echo(json.dumps({"address": link, "host": gate.host, "port": gate.port}))
    elif options.quiet:
        click.echo(link)
    else:
        click.echo(f"The desk is open. Stop it with Ctrl-C.\n{link}")
    if gate.password:
        click.echo(_OPEN_DESK.format(host=shown(gate.host), port=gate.port), err=True)
    elif not options.no_browser:
        webbrowser.open(link)


def _print_agreement(ledger: Ledger, options: ReviewOptions) -> None:
    rows, lessons = agreement(ledger.db), lessons_of(ledger.db)
    scenes = {lesson.scene for lesson in lessons}
    revoked = frozenset().union(*(revoked_lessons(history(ledger.db, scene)) for scene in scenes))
    if options.as_json:
        told = {"agreement": agreement_view(rows), "lessons": lessons_view(lessons, revoked)}
        click.echo(json.dumps(told, ensure_ascii=False, indent=1))
        return
    if not options.quiet:
        say(["By kind: shown, agreed, passed with a reason, not a fault, open, drawn by hand, agreement"])
    say([_row(row) for row in rows])
    say([_lesson_line(lesson, lesson.id in revoked) for lesson in lessons])


def _row(row: KindAgreement) -> str:
    share = "none decided" if row.agreement is None else f"{row.agreement:.0%}"
    counts = (row.shown, row.agreed, row.passed, row.no_fault, row.open, row.by_hand)
    return f"{KIND_TITLES[row.kind]:<26}" + "".join(f"{count:>7,}" for count in counts) + f"  {share}"


def _lesson_line(lesson: Lesson, revoked: bool) -> str:
    taken = " (taken back)" if revoked else ""
    return f"Lesson {lesson.id}{taken}, {shown(lesson.scene)}, by {shown(lesson.who)}: {lesson_words(lesson)}"
