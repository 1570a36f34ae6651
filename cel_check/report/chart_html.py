"""The charts of color models as one page that prints on A4 sheets: no script, no network, one file."""

import base64
import io
from collections.abc import Sequence

from PIL import Image

from cel_check.report.chart import HEIGHT, WIDTH, Sheet
from cel_check.report.html import page_environment, policy_of

_PICTURE_SIDE = 900
"""Pixels of the reference cel's longer side: 300 dots an inch at its size on the sheet."""


def charts_html(title: str, sheets: Sequence[tuple[Sheet, Image.Image | None]]) -> bytes:
    """Return the page as UTF-8.

    Args:
        title: of the page.
        sheets: each with the reference cel that stands on it (RGBA), or None.
    """
    environment = page_environment()
    policy = policy_of(environment, "chart.css").replace("img-src 'self' file:", "img-src data:")
    shown = [(sheet, _address(reference)) for sheet, reference in sheets]
    text = environment.get_template("chart.html").render(
        title=title, sheets=shown, width=WIDTH, height=HEIGHT, policy=policy
    )
    return text.encode("utf-8")


def _address(reference: Image.Image | None) -> str:
    """Return a picture as an address that holds it whole."""
    if reference is None:
        return ""
    small = reference.copy()
    small.thumbnail((_PICTURE_SIDE, _PICTURE_SIDE), Image.Resampling.LANCZOS)
    buffer = io.BytesIO()
    small.save(buffer, "PNG", optimize=True)
    return "data:image/png;base64," + base64.b64encode(buffer.getvalue()).decode("ascii")
