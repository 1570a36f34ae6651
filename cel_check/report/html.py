"""What every page is made with: it opens from disk, with no script, no network, style inside."""

import base64
import hashlib
from functools import cache
from urllib.parse import quote

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from cel_check.faults import Verdict
from cel_check.report.shapes import SHAPES, svg_points
from cel_check.report.words import DEPARTMENTS, KIND_TITLES, VERDICT_WORDS, kind_titles, plural
from cel_check.scene.names import shown


@cache
def page_environment() -> Environment:
    """Return what every page is made with: everything is escaped, and nothing hidden in a name acts.

    One for all pages of a process: to compile the templates takes longer than to fill them.
    """
    environment = Environment(
        loader=PackageLoader("cel_check.report", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_visible,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(
        Verdict=Verdict,
        verdict_words=VERDICT_WORDS,
        kind_names=KIND_TITLES,
        departments=DEPARTMENTS,
        kinds_drawn=tuple(SHAPES),
        svg_points=svg_points,
        kind_titles=kind_titles,
        plural=plural,
        link=_link,
    )
    return environment


def _visible(value: object) -> object:
    """Make every value that a template prints harmless to read: it is escaped after this, as HTML."""
    if isinstance(value, str) and not isinstance(value, Markup):
        return shown(value)
    return value


def _link(path: str) -> str:
    """Return a relative path as an address, percent-encoded byte by byte."""
    return quote(path.encode("utf-8", "surrogateescape"), safe="/")


def policy_of(environment: Environment, style_sheet: str) -> str:
    """Return the content security policy: only the page's own style sheet and pictures from its folder."""
    style = environment.get_template(style_sheet).render()
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode("ascii")
    closed = "default-src 'none'; base-uri 'none'; form-action 'none'"
    return f"{closed}; img-src 'self' file:; style-src 'sha256-{digest}'"
