"""In a real browser page and charts open quietly, and a character's chart prints on one sheet of A4."""

import re
from pathlib import Path

import pytest
from chromium import NEEDS_CHROMIUM, chromium

from cel_check.model.load import load_model
from cel_check.model.looks import looks_of
from cel_check.model.shown import Levels
from cel_check.model.together import UNKNOWN
from cel_check.model.validate import validate
from cel_check.report.palette import write_palette
from cel_check.report.palette_json import PaletteResult

ROOT = Path(__file__).resolve().parents[2]
pytestmark = NEEDS_CHROMIUM


@pytest.fixture(scope="module")
def out(tmp_path_factory):
    models = [load_model(ROOT / f"palettes/{name}.toml") for name in ("tilda", "rook", "lamp")]
    looks = looks_of(models)
    folder = tmp_path_factory.mktemp("palette #1")
    write_palette(PaletteResult(looks, validate(looks, UNKNOWN, Levels.SCALED)), UNKNOWN, folder)
    return folder


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


def visit(browser, path, **options):
    page, events = browser.new_page(**options), []
    page.on("console", lambda message: events.append(f"console {message.text}"))
    page.on("pageerror", lambda error: events.append(f"error {error}"))
    page.on("requestfailed", lambda request: events.append(f"failed {request.url}"))
    allowed = ("file:", "data:")
    page.on("request", lambda r: None if r.url.startswith(allowed) else events.append(f"request {r.url}"))
    page.goto(path.as_uri())
    return page, events


@pytest.mark.parametrize("name", ["palette.html", "charts.html"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_pages_open_quietly_in_light_and_dark(browser, out, name, scheme):
    page, events = visit(browser, out / name, color_scheme=scheme)
    assert events == []
    desk = page.locator("body").evaluate("e => getComputedStyle(e).backgroundColor")
    assert (int(re.findall(r"\d+", desk)[0]) < 60) is (scheme == "dark"), "its style is let in"


@pytest.mark.parametrize("width", [360, 1400])
@pytest.mark.parametrize("name", ["palette.html", "charts.html"])
def test_nothing_runs_off_the_side(browser, out, name, width):
    page, _ = visit(browser, out / name, viewport={"width": width, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_a_character_prints_on_one_sheet_of_a4(browser, out, tmp_path):
    page, _ = visit(browser, out / "charts.html")
    page.pdf(path=tmp_path / "charts.pdf", prefer_css_page_size=True, print_background=False)
    data = (tmp_path / "charts.pdf").read_bytes()
    assert len(re.findall(rb"/Type\s*/Page\b", data)) == 3
    boxes = set(re.findall(rb"/MediaBox\s*\[([^\]]*)\]", data))
    assert len(boxes) == 1
    # A4 in points (ISO 216): 595.28 x 841.89
    assert [float(v) for v in boxes.pop().split()] == pytest.approx([0, 0, 595.28, 841.89], abs=1.0)


def test_the_reference_cel_is_shown(browser, out):
    page, _ = visit(browser, out / "charts.html")
    assert page.locator("image").count() == 3
    sizes = page.locator("image").evaluate_all("all => all.map(i => i.getBBox().width)")
    assert all(size > 0 for size in sizes)
