"""In a real browser an episode's pages open from disk quietly, in light and dark, and fit their window."""

import pytest
from test_browser_report import browser, pytestmark, visit  # noqa: F401
from test_episode_report import full, hostile

from cel_check.report.episode import write_episode

PAGES = ("episode.html", "slips-paint.html")


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """Both summaries written, with the picture that their faults point at."""
    folders = {}
    for name, summary in (("full", full()), ("hostile", hostile())):
        out = tmp_path_factory.mktemp(name)
        write_episode(summary, out)
        for scene in ("sc012", "sc015"):
            (out / scene / "pictures").mkdir(parents=True)
            (out / scene / "pictures" / "fault-0123456789abcdef.png").write_bytes(PIXEL)
        folders[name] = out
    return folders


# One gray pixel: PNG, Third Edition.
PIXEL = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010800000000" "3a7e9b55"
    "0000000a49444154789c6360000000020001" "48afa471" "0000000049454e44ae426082"
)  # fmt: skip


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("name", ["full", "hostile"])
def test_it_opens_quietly(pages, visit, name, page, scheme):  # noqa: F811
    shown, events = visit(pages[name] / page, color_scheme=scheme)
    assert events == []
    paper = shown.locator(".sheet, .slip").first.evaluate("e => getComputedStyle(e).backgroundColor")
    assert ("30, 30, 30" in paper) is (scheme == "dark"), "its style is let in"


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("width", [360, 1400])
def test_nothing_runs_off_the_side(pages, visit, page, width):  # noqa: F811
    shown, _ = visit(pages["hostile"] / page, viewport={"width": width, "height": 900})
    assert shown.evaluate("document.documentElement.scrollWidth") <= width


def test_each_slip_prints_on_a_page_of_its_own(pages, visit):  # noqa: F811
    shown, _ = visit(pages["full"] / "slips-paint.html")
    shown.emulate_media(media="print")
    breaks = shown.locator(".slip").evaluate_all("all => all.map(e => getComputedStyle(e).breakAfter)")
    assert breaks == ["page", "auto"]
