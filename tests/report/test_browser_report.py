"""In a real browser the page opens from disk quietly: no dialog, no error, nothing asked of any network."""

import re
from dataclasses import replace

import pytest
import report_scenes as scenes
from chromium import NEEDS_CHROMIUM, chromium
from test_html import HOSTILE, hostile_scene

from cel_check.faults import Verdict
from cel_check.report.write import write_report
from cel_check.scene.results import CelResult

pytestmark = NEEDS_CHROMIUM


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


@pytest.fixture
def visit(browser):
    """Opens a report; whatever it does beside showing itself ends up in the list."""
    pages = []

    def go(path, **options):
        page, events = browser.new_page(**options), []
        pages.append(page)
        page.on("dialog", lambda dialog: (events.append(f"dialog {dialog.message}"), dialog.dismiss()))
        page.on("console", lambda message: events.append(f"console {message.text}"))
        page.on("pageerror", lambda error: events.append(f"error {error}"))
        page.on("requestfailed", lambda request: events.append(f"failed {request.url}"))
        page.on("request", lambda r: None if r.url.startswith("file:") else events.append(f"request {r.url}"))
        page.goto(path.as_uri())
        show_all(page)
        return page, events

    yield go
    for page in pages:
        page.close()


def show_all(page):
    """Scroll to every picture, so that those that load late do load."""
    for image in page.locator("img").all():
        image.scroll_into_view_if_needed()
        image.evaluate("image => image.complete || new Promise(done => image.onload = image.onerror = done)")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_a_report_opens_quietly_and_shows_every_picture(full, tmp_path, visit, scheme):
    result, folder = full
    page, events = visit(write_report(result, folder, tmp_path / "out")[0], color_scheme=scheme)
    sizes = page.locator("img").evaluate_all("all => all.map(image => image.naturalWidth)")
    assert events == []
    assert len(sizes) == 14, "7 tiles, 3 whole cels, 4 crops"
    assert all(sizes)
    paper = page.locator(".sheet").first.evaluate("e => getComputedStyle(e).backgroundColor")
    assert (int(re.findall(r"\d+", paper)[0]) < 60) is (scheme == "dark"), "its style is let in"


def test_a_report_of_hostile_names_stays_quiet(tmp_path, visit):
    folder = tmp_path / "sc"
    for number, name in enumerate(HOSTILE):
        result = with_picture(hostile_scene(name), folder, name)
        page, events = visit(write_report(result, folder, tmp_path / f"out {number} #%")[0])
        assert events == [], name
        assert page.locator("img").count() >= 1


def with_picture(result, folder, name):
    """Give the scene's first cel a real file under a hostile name where a disk can hold it."""
    safe = name.replace("/", "_")
    cel = scenes.save_cel(folder, "A", "7", scenes.draw_figure(7), file=f"A/{safe}.png")
    odd = replace(
        result.cels[0], file=cel.file, sha256=cel.sha256, thumbnail=cel.thumbnail, width=960, height=540
    )
    return replace(result, cels=(odd, *result.cels[1:]))


def test_a_moved_folder_still_works(full, tmp_path, visit):
    result, folder = full
    write_report(result, folder, tmp_path / "out")
    moved = (tmp_path / "out").rename(tmp_path / "sent à l'atelier #2")
    page, events = visit(moved / "report.html")
    assert events == []
    assert all(page.locator("img").evaluate_all("all => all.map(image => image.naturalWidth)"))


@pytest.mark.parametrize("width", [360, 1400])
def test_nothing_runs_off_the_side(full, tmp_path, visit, width):
    result, folder = full
    long = CelResult("A", "9", "A/" + "x" * 240 + ".png", Verdict.NOT_CHECKED, error="e" * 300)
    page, _ = visit(
        write_report(replace(result, cels=(*result.cels, long)), folder, tmp_path / "out")[0],
        viewport={"width": width, "height": 900},
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_the_keyboard_reaches_the_report_and_a_tile_leads_to_its_fault(full, tmp_path, visit):
    result, folder = full
    page, _ = visit(write_report(result, folder, tmp_path / "out")[0])
    page.evaluate("scrollTo(0, 0)")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.locator(".tile.v-retake a.look").first.focus()
    page.keyboard.press("Enter")
    assert page.locator(":target h3").first.inner_text().strip() == "Level A, drawing 7"
