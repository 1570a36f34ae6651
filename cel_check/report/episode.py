"""Writes an episode's report: page, data and retake slips, each whole or not at all."""

import contextlib
import re
from pathlib import Path

from cel_check.report.episode_json import episode_json
from cel_check.report.episode_page import render_episode
from cel_check.report.html import page_environment
from cel_check.report.slips import render_slips, slip_files, slips_csv, slips_of
from cel_check.report.store import Store
from cel_check.scene.summary import EpisodeSummary

PAGE = "episode.html"
_SLIPS = re.compile(r"slips-(?:ink|paint|sheet|scan|animation)(?:-[0-9]+)?\.html")


def write_episode(summary: EpisodeSummary, out: Path) -> Path:
    """Write `episode.html`, `episode.json` and the slips into `out`, beside the scenes' reports.

    Slips of an earlier run that nobody needs any more are removed.

    Returns:
        The page.

    Raises:
        BadInput: where `out` cannot be written.
    """
    environment = page_environment()
    slips = slips_of(summary)
    files = slip_files(slips)
    counts = {place: len(own) for place, own in slips.items()}
    written = {
        PAGE: render_episode(environment, summary, files, counts),
        "slips.csv": slips_csv(summary, slips),
        **{file.name: render_slips(environment, summary, file) for file in files},
        "episode.json": episode_json(summary),
    }
    Store(out).put_reports(written)
    for path in sorted(out.glob("slips-*.html")):
        if path.name not in written and _SLIPS.fullmatch(path.name):
            with contextlib.suppress(OSError):
                path.unlink()
    return out / PAGE
