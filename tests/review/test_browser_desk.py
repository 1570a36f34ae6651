"""In a real browser a person goes through a sample scene by keyboard alone, and finds every decision kept."""

import shutil
from pathlib import Path

import desks
import pytest
from axe_playwright_python.sync_playwright import Axe
from chromium import NEEDS_CHROMIUM, chromium
from serving import served

ROOT = Path(__file__).resolve().parents[2]
pytestmark = NEEDS_CHROMIUM


@pytest.fixture(scope="module")
def browser():
    with chromium() as opened:
        yield opened


@pytest.fixture(scope="module")
def sample(tmp_path_factory):
    """Scene sc013 with its planted faults, checked."""
    top = tmp_path_factory.mktemp("sample")
    left_out = shutil.ignore_patterns("check", "__pycache__")
    shutil.copytree(ROOT / "palettes", top / "palettes", ignore=left_out)
    shutil.copytree(ROOT / "samples" / "sc013", top / "ep04" / "sc013", ignore=left_out)
    desks.check(top / "ep04")
    return top / "ep04"


@pytest.fixture(scope="module")
def link(sample):
    """The address of a desk on the sample, open as long as the module's tests run."""
    with served(sample, sample / "check" / "ledger.sqlite", "Mara Quill") as address:
        yield address


@pytest.fixture
def visit(browser, link):
    """Opens the desk; whatever goes wrong there ends up in the list."""
    pages = []

    def go(**options):
        page, events = browser.new_page(**options), []
        pages.append(page)
        page.on("console", lambda message: events.append(f"console {message.text}"))
        page.on("pageerror", lambda error: events.append(f"error {error}"))
        page.on("request", lambda r: None if r.url.startswith(link[:17]) else events.append(r.url))
        page.goto(link)
        ready(page)
        return page, events

    yield go
    for page in pages:
        page.close()


def ready(page):
    page.wait_for_selector("html[data-ready]")
    page.wait_for_selector("#stage[data-shown]")


def at_first_fault(page):
    page.keyboard.press("Home")
    page.wait_for_selector("#stage[data-shown='0']")
    page.locator("#faults button").first.click()
    page.wait_for_selector("#stage[data-shown='6']")


def said(page, text):
    page.wait_for_function("text => document.getElementById('say').textContent.includes(text)", arg=text)


def tally(page):
    return page.locator("#tally").inner_text()


def test_a_scene_is_decided_by_keyboard_and_the_decisions_are_kept(visit, sample):
    page, events = visit()
    names = page.locator("#faults .soft").all_inner_texts()
    cels = [name.partition(", frame")[0] for name in names[:3]]
    count = len(names)
    assert tally(page) == f"{count}, {count} to decide"
    assert page.locator("#card-title").inner_text().endswith(cels[0])
    page.keyboard.press("r")
    said(page, f"Kept: retake, {cels[0]}")
    page.keyboard.press("x")
    said(page, f"Kept: not a fault, {cels[1]}")
    assert tally(page) == f"{count}, {count - 2} to decide"
    page.keyboard.press("u")
    said(page, "Taken back.")
    page.keyboard.press("p")
    page.keyboard.type("it is meant so")
    page.keyboard.press("Enter")
    said(page, f"Kept: passed, {cels[1]}")
    page.keyboard.press("Shift+R")
    page.keyboard.type("Ink")
    page.keyboard.press("Enter")
    said(page, f"Kept: retake, {cels[2]}")
    page.keyboard.press("s")
    said(page, "decide on them first")
    for _ in ("reload", "run again and reload"):
        page.reload()
        ready(page)
        assert tally(page) == f"{count}, {count - 3} to decide"
        rows = page.locator("#faults li").all_inner_texts()
        assert [text.split("\n")[-1].strip() for text in rows[:3]] == ["retake", "passed", "retake"]
        waved = desks.check(sample).scenes[0].waved
        assert [(f"{line.level} {line.drawing}", line.decided.reason) for line in waved] == [
            (cels[1], "it is meant so")
        ]
    assert [event for event in events if "409" not in event] == [], "a refused pass is a 409"


def test_a_fault_is_drawn_and_named_by_keyboard(visit):
    page, _ = visit()
    before = tally(page).split(",")[0]
    page.keyboard.press("End")
    page.keyboard.press("a")
    for key in ("ArrowLeft", "Shift+ArrowRight", "Shift+ArrowDown", "Enter"):
        page.keyboard.press(key)
    page.wait_for_selector("#ask-fault[open]")
    page.locator("#fault-text").focus()
    page.keyboard.type("A hair lies on the cel.")
    page.keyboard.press("Enter")
    said(page, "Added")
    assert page.locator("#card-text").inner_text() == "A hair lies on the cel."
    page.keyboard.press("u")
    said(page, "Taken back.")
    assert tally(page).split(",")[0] == before


def test_the_pipette_tells_the_pixels_own_color_and_its_distances(visit):
    page, _ = visit()
    at_first_fault(page)
    page.keyboard.press("i")
    page.wait_for_selector("#under-cels table")
    before = page.locator("#under-at").inner_text()
    page.keyboard.press("ArrowLeft")
    page.wait_for_function("old => document.getElementById('under-at').textContent !== old", arg=before)
    assert "L*" in page.locator("#under-cels p").first.inner_text()
    page.keyboard.press("Escape")
    assert not page.locator("#under").is_visible()


def test_it_steps_flips_overlays_zooms_and_plays(visit):
    page, events = visit()
    at_first_fault(page)  # its level, A, is at hand
    page.keyboard.press("Home")
    page.wait_for_selector("#stage[data-shown='0']")
    page.keyboard.press("h")
    page.keyboard.press("Shift+ArrowRight")
    page.wait_for_selector("#stage[data-shown='6']")
    page.keyboard.press("f")
    page.wait_for_selector("#stage[data-shown='0']")
    for key in ("f", "o", "+", "+", "-", "0", "1", "1", "b", "b", "v"):
        page.keyboard.press(key)
    page.locator("#stage").focus()  # Space on a button presses the button
    page.keyboard.press(" ")
    page.wait_for_function("() => Number(document.getElementById('stage').dataset.shown) > 8")
    page.keyboard.press("Escape")
    assert page.locator("#play").get_attribute("aria-pressed") == "false"
    assert events == []


def test_it_shows_the_field_and_its_safe_areas(visit):
    """Shares of 93 and 90 in 100: SMPTE ST 2046-1:2009, clause 5, as quoted by others."""
    page, events = visit()
    at_first_fault(page)
    page.keyboard.press("t")
    page.wait_for_selector("#marks .field")
    assert page.locator("#safe").get_attribute("aria-pressed") == "true"
    wide = [float(one.get_attribute("width")) for one in page.locator("#marks .field .mark-over").all()]
    assert [width / wide[0] for width in wide] == pytest.approx([1.0, 0.93, 0.90])
    page.keyboard.press("t")
    page.wait_for_selector("#marks .field", state="detached")
    assert events == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_accessibility_checker_finds_nothing_serious(visit, scheme):
    """Oracle: axe-core, as packaged by axe-playwright-python."""
    page, events = visit(color_scheme=scheme, viewport={"width": 1280, "height": 720})
    at_first_fault(page)
    page.keyboard.press("i")
    page.wait_for_selector("#under-cels table")
    assert serious(page) == []
    for key, dialog in (("?", "keys"), ("l", "lessons"), ("p", "ask-reason"), ("Shift+R", "ask-department")):
        page.keyboard.press(key)
        page.wait_for_selector(f"#{dialog}[open]")
        assert serious(page) == [], dialog
        page.keyboard.press("Escape")
    assert events == []


def serious(page):
    found = Axe().run(page).response["violations"]
    return [
        (one["id"], [node["html"] for node in one["nodes"]])
        for one in found
        if one["impact"] in {"serious", "critical"}
    ]


@pytest.mark.parametrize("size", [(1280, 720), (2560, 1440)])
def test_nothing_runs_off_the_window(visit, size):
    page, _ = visit(viewport={"width": size[0], "height": size[1]})
    root = "document.documentElement"
    assert page.evaluate(f"[{root}.scrollWidth, {root}.scrollHeight]") == list(size)
    box = page.locator("#stage").bounding_box()
    assert box["width"] * box["height"] > 0.3 * size[0] * size[1], "the picture has the most room"


def test_whoever_asks_for_less_motion_is_asked_before_frames_play(visit):
    page, _ = visit(reduced_motion="reduce")
    page.keyboard.press(" ")
    page.wait_for_selector("#ask-play[open]")
    page.keyboard.press("Escape")
    assert page.locator("#play").get_attribute("aria-pressed") == "false"


def test_single_keys_can_be_turned_off(visit):
    page, _ = visit()
    before = tally(page)
    page.keyboard.press("?")
    page.locator("#single-keys").uncheck()
    page.keyboard.press("Escape")
    page.keyboard.press("x")
    page.keyboard.press("ArrowRight")
    page.wait_for_selector("#stage:not([data-shown=''])")
    assert tally(page) == before
