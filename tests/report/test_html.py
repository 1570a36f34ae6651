"""The page says what the results say, never makes an unchecked cel look right, and lets no name act."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest
import report_scenes as scenes

from cel_check.faults import CATALOGUE, Verdict
from cel_check.report.page import REEL
from cel_check.report.pictures import FAULTS_ON_PAGE, Pictures
from cel_check.report.scene_page import render_html
from cel_check.report.words import KIND_TITLES
from cel_check.scene.results import CelResult, FrameResult


class Text(HTMLParser):
    """Gathers what a reader sees, and every tag and attribute."""

    def __init__(self):
        super().__init__()
        self.seen, self.tags, self.attributes, self.hidden = [], [], [], False

    def handle_starttag(self, tag, attrs):
        self.hidden = tag in {"style", "script"}
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_endtag(self, tag):
        self.hidden = False

    def handle_data(self, data):
        if not self.hidden:
            self.seen.append(data)


def read(result):
    parser = Text()
    parser.feed(render_html(result, Pictures()).decode("utf-8"))
    return re.sub(r"\s+", " ", "".join(parser.seen)), parser


def luminance(hex_color):
    """Relative luminance as WCAG 2.2 defines it."""
    values = [int(hex_color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in values]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_a_fault_is_told_with_all_a_painter_needs(full):
    seen, _ = read(full[0])
    for word in (
        "Coat is painted 6.1 ΔE00 off the model (allowed 1.5): repaint it with R-31.",
        "Level A, drawing 7", "frames 13–14", "#D96A3A", "#C8553D", "paint R-31", "ΔE00 6.10, allowed 1.50",
        "same part on drawings 6 and 8", "all but certain (0.97)", "230 × 268 px", "Paint",
    ):  # fmt: skip
        assert word in seen, word


def test_sections_follow_the_results(full):
    seen, _ = read(full[0])
    order = [
        "The scene as shot",
        "Cels not checked",
        "Sheet and scene",
        "Cels to send back",
        "For a person to decide",
    ]
    places = [seen.rindex(f" {title} ") for title in order]
    assert places == sorted(places)
    assert "calls drawing 4 of level B" in seen
    assert "The file ends in the middle of its pixels." in seen
    assert "B 4 not there" in seen


def test_what_was_not_looked_for_is_listed(full):
    seen, _ = read(full[0])
    after = seen[seen.index("Looked for:") :]
    looked_for, _, not_looked_for = after.partition("Not looked for in this version")
    for kind, info in CATALOGUE.items():
        assert KIND_TITLES[kind].lower() in (looked_for if info.checked else not_looked_for)


def test_a_scene_that_passes_says_how_much_was_checked(tmp_path):
    seen, _ = read(scenes.passing_scene(tmp_path))
    assert "All 3 cels were checked and pass." in seen
    assert "Cels not checked" not in seen
    assert "screen is no color standard" in seen


@pytest.mark.parametrize("claimed", [Verdict.PASS, Verdict.QUERY, Verdict.NOT_CHECKED])
def test_a_scene_with_anything_unchecked_never_looks_passed(tmp_path, claimed):
    seen, _ = read(replace(scenes.unchecked_scene(tmp_path), verdict=claimed))
    assert "Scene 012: not checked" in seen
    assert "2 cels were not fully checked." in seen
    assert "were checked and pass" not in seen
    assert "The check ran out of time (60 s)" in seen


def test_an_empty_scene_says_that_nothing_was_checked():
    seen, _ = read(scenes.scene_of((), levels=()))
    assert "Nothing was checked: no cel was found." in seen
    assert "Passes" not in seen


def test_the_strip_groups_holds(full):
    seen, _ = read(full[0])
    assert "13–14 2 fr." in seen
    assert "3 camera: truck in" in seen


HOSTILE = (
    "<img src=x onerror=alert(1)>", "\"><script>alert(1)</script>", "' onload='alert(1)", "a\u202egnp.exe",
    "line\nbreak", "caf\udce9", "{{ 7*7 }}", "javascript:alert(1)", "</style><script>alert(1)</script>",
    "&lt;b&gt;",
)  # fmt: skip


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_shown_and_nothing_else(name):
    result = hostile_scene(name)
    calm_tags = read(hostile_scene("calm"))[1]
    seen, parser = read(result)
    assert parser.tags == calm_tags.tags
    assert parser.attributes == calm_tags.attributes
    assert "49" not in seen or "49" in name
    assert "\u202e" not in seen


def hostile_scene(name):
    """A scene whose every text is `name`."""
    match = replace(
        scenes.coat_match(6.1, name), color=name, name=name, paint=name, model=name, srgb="#C8553D"
    )
    fault = scenes.off_model(name, name, text=name, id=name, nearest=match, expected=match)
    cel = CelResult(name, name, name, Verdict.RETAKE, (fault,), frames=(1,), notes=(name,))
    bad = CelResult(name, f"{name}2", name, Verdict.NOT_CHECKED, frames=(1,), error=name)
    loose = replace(scenes.missing(name, name), text=name)
    frame = FrameResult(1, ((name, name),), Verdict.RETAKE, (name,), ((name, name),))
    return scenes.scene_of(
        (cel, bad), (frame,), number=name, folder=name, levels=(name,), models=((name, name),),
        condition=name,
        background=name, faults=(fault, loose), notes=(name,),
    )  # fmt: skip


def test_a_large_scene_is_folded_and_counted():
    cels = tuple(
        CelResult(
            "A",
            str(n),
            f"A/{n}.png",
            Verdict.QUERY,
            (scenes.stray("A", str(n), 1, (1, 1, 2, 2)),),
            frames=(n,),
        )
        for n in range(1, 1301)
    )
    frames = tuple(FrameResult(n, (("A", str(n)),), Verdict.QUERY) for n in range(1, 1301))
    page = render_html(scenes.scene_of(cels, frames), Pictures()).decode()
    assert page.count("<details") == -(-1300 // REEL)
    assert page.count("<article") == FAULTS_ON_PAGE
    assert "And 300 more cels." in page
    assert "250 to decide" in page, "what is folded away is counted"


def test_text_has_enough_contrast_in_every_scheme():
    style = re.search(
        "<style>(.*?)</style>", render_html(scenes.scene_of(()), Pictures()).decode(), re.DOTALL
    )[1]
    schemes = [
        dict(re.findall(r"--(\w+): (#\w{6})", block))
        for block in re.findall(r":root \{(.*?)\}", style, re.DOTALL)
    ]
    assert len(schemes) == 3
    for colors in schemes:
        for front in ("ink", "soft", "retake", "query", "pass", "unchecked"):
            for back in ("desk", "paper", "faint"):
                high, low = sorted((luminance(colors[front]), luminance(colors[back])), reverse=True)
                assert (high + 0.05) / (low + 0.05) >= 4.5, (front, back)  # WCAG 2.2, 1.4.3 (AA)


def test_the_page_names_its_language_landmarks_and_one_first_heading(full):
    _, parser = read(full[0])
    assert parser.tags.count("h1") == parser.tags.count("main") == parser.tags.count("nav") == 1
    assert "script" not in parser.tags
    assert not any(name.startswith("on") or name == "style" for name in parser.attributes)
