"""An episode's page, data and slips say what its summary says, and let no name act."""

import csv
import io
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import jsonschema
import pytest

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.report.episode import write_episode
from cel_check.report.episode_json import episode_dict, episode_json
from cel_check.report.episode_page import STATE_SIGNS, head_sentences, pace_sentences
from cel_check.report.plots import COLUMN_HEIGHT, sparks_of, strip_of
from cel_check.report.slips import SLIPS_A_FILE, slip_files, slips_csv, slips_of
from cel_check.scene.summary import (
    Break,
    Change,
    EpisodeSummary,
    FaultLine,
    ModelUse,
    Pace,
    PictureLink,
    RunLine,
    SceneState,
    SceneSummary,
    Tally,
)

ROOT = Path(__file__).resolve().parents[2]
SCHEMA = json.loads((ROOT / "cel_check/report/episode_schema.json").read_text(encoding="utf-8"))
HOSTILE = "<img src=x onerror=alert(1)>\"'&\u202e=1+1"
NO_PACE = Pace(None, None, 1, None, None)


def fault(drawing="7", kind=FaultKind.OFF_MODEL, verdict=Verdict.RETAKE, **more):
    known = {
        "identity": "0123456789abcdef", "id": f"sc012/A/{drawing}/1", "send_to": SendTo.PAINT, "level": "A",
        "file": f"A/A-{drawing}.png", "sha256": "0" * 64, "frames": (13, 14),
        "text": "Repaint with Coat (R-31).",
        "model": "tilda", "color": "coat", "paint": "Coat (R-31)", "srgb": "#C8553D", "box": (4, 5, 6, 7),
        "visibility": 0.5, "confidence": 0.9, "anchor": "cel-7-1",
        "crop": PictureLink("pictures/fault-0123456789abcdef.png", 90, 60),
    }  # fmt: skip
    return FaultLine(kind=kind, verdict=verdict, drawing=drawing, **(known | more))


def scene(name="sc012", state=SceneState.RETAKE, faults=(), cels=(8, 0, 2, 0), **more):
    known = {"verdict": Verdict.RETAKE, "frames": 20, "page": f"{name}/report.html"}
    return SceneSummary(name, name[2:], state, cels=cels, faults=faults, **(known | more))


def tally(off_model=0):
    kinds = tuple((kind, off_model if kind is FaultKind.OFF_MODEL else 0) for kind in FaultKind)
    return Tally(kinds, tuple((s, 0) for s in SceneState), tuple((v, 0) for v in Verdict))


def episode(*scenes, **more):
    runs = tuple(
        RunLine(n + 1, "2027-01-01T20:00:00+00:00", f"2027-01-0{n + 2}T06:00:00+00:00", tally(4 - n))
        for n in range(3)
    )
    known = {
        "title": None, "runs": runs, "finished": True, "run": 3, "started": "2027-01-03T20:00:00+00:00",
        "ended": "2027-01-04T06:00:00+00:00", "pace": NO_PACE,
    }  # fmt: skip
    return EpisodeSummary("ep04", "04", scenes=scenes, **(known | more))


def full():
    query = fault("8", FaultKind.STRAY, Verdict.QUERY, identity="1" * 16, crop=None, box=(1, 1, 2, 2))
    ink = fault("9", FaultKind.INK_COLOR, send_to=SendTo.INK, identity="2" * 16, change=Change.STILL)
    missing = fault(
        "10", FaultKind.MISSING_CEL, send_to=SendTo.SHEET, identity="3" * 16, box=None, crop=None, file=None,
        sha256=None, model="", color="", paint="", srgb="", visibility=1.0,
    )  # fmt: skip
    models = (ModelUse("Tilda Brake", "../tilda.toml", "f" * 64),)
    return episode(
        scene(faults=(fault(), query, ink, missing), mended=2, models=models, condition="night"),
        scene("sc013", SceneState.PASSED, cels=(9, 0, 0, 0), verdict=Verdict.PASS),
        scene(
            "sc014", SceneState.NOT_CHECKED, cels=(0, 0, 0, 5), verdict=None, page="", problems=("x: no.",)
        ),
        scene("sc015", SceneState.STALE, faults=(fault("3", identity="4" * 16),)),
        SceneSummary("sc016", "sc016", SceneState.NOT_PAINTED),
        breaks=(Break("harbor", "sc012", "sc013", "Night meets day."),),
        notes=("A ledger was set aside.",),
    )


class Text(HTMLParser):
    """Gathers what a reader sees, and every tag and address."""

    def __init__(self):
        super().__init__()
        self.seen, self.tags, self.addresses, self.hidden = [], [], [], False

    def handle_starttag(self, tag, attrs):
        self.hidden = tag in {"style", "script"}
        self.tags.append(tag)
        self.addresses += [value for name, value in attrs if name in {"href", "src"}]

    def handle_endtag(self, tag):
        self.hidden = False

    def handle_data(self, data):
        if not self.hidden:
            self.seen.append(data)


def read(path):
    parser = Text()
    parser.feed(path.read_text(encoding="utf-8"))
    return re.sub(r"\s+", " ", "".join(parser.seen)), parser


def test_the_data_has_the_published_shape_and_adds_up():
    found = episode_dict(full())
    jsonschema.validate(found, SCHEMA, jsonschema.Draft202012Validator)
    cels = found["counts"]["cels"]
    assert cels["all"] == sum(count for name, count in cels.items() if name != "all") == 34
    assert sum(found["counts"]["scenes"].values()) == 2 * found["counts"]["scenes"]["all"] == 10
    assert found["counts"]["faults"]["all"] == sum(found["counts"]["send_to"].values()) == 5
    assert found["changes"] == {"new": 4, "still-there": 1, "mended": 2, "unsure": 0}
    assert found["worst"][0] == "3" * 16
    assert episode_json(full()) == episode_json(full())


def test_the_page_says_all_that_stands_between_the_episode_and_camera(tmp_path):
    seen, parser = read(write_episode(full(), tmp_path))
    for words in (
        "1 of 5 scenes pass", "1 scene is in retake.", "1 scene is stale: changed since the last check.",
        "1 scene is not painted.", "4 new, 1 still there, 2 mended", "x: no.", "Night meets day.",
        "A ledger was set aside.", "Repaint with Coat (R-31).", "No camera date is given",
    ):  # fmt: skip
        assert words in seen, words
    assert "script" not in parser.tags
    assert {"sc012/report.html", "sc013/report.html", "slips-paint.html", "slips.csv"} <= set(
        parser.addresses
    )
    assert "sc012/report.html#cel-7-1" in parser.addresses
    assert "sc012/pictures/fault-0123456789abcdef.png" in parser.addresses


def test_the_tables_last_row_adds_up(tmp_path):
    write_episode(full(), tmp_path)
    page = (tmp_path / "episode.html").read_text(encoding="utf-8")
    last = page.partition("<tfoot>")[2].partition("</tfoot>")[0]
    numbers = [int(number) for number in re.findall(r'<td class="number[^"]*">(\d+)</td>', last)]
    # Cels, retakes, queries; ink, paint, sheet, scan, animation; new, still there, mended.
    assert numbers == [25, 4, 1, 1, 3, 1, 0, 0, 4, 1, 2]


def test_no_state_but_passed_has_the_sign_of_a_pass():
    assert [state for state, sign in STATE_SIGNS.items() if sign is Verdict.PASS] == [SceneState.PASSED]


def test_a_stopped_run_says_so_first():
    assert "stopped before every cel" in head_sentences(replace(full(), finished=False))[0]
    clean = episode(scene("sc013", SceneState.PASSED, cels=(9, 0, 0, 0)))
    assert head_sentences(clean) == (
        "Nothing stands between this episode and camera that the check looks for.",
    )


@pytest.mark.parametrize(
    ("pace", "words"),
    [
        (Pace("2027-03-01", 4, 12, 3.0, 1.5), "At that pace the date is missed."),
        (Pace("2027-03-01", 4, 12, 3.0, 3.0), "That is enough."),
        (Pace("2027-03-01", 400, 1, 0.0025, None), "fewer than 0.1 scenes a day must pass."),
        (Pace("2027-03-01", 4, 12, 3.0, None), "3.0 scenes a day must pass."),
        (Pace("2027-03-01", 0, 12, None, 2.0), "Camera was on 2027-03-01, and 12 scenes do not pass yet."),
        (Pace("2027-03-01", 4, 0, 0.0, 2.0), "Every scene passes; camera is on 2027-03-01."),
    ],
)
def test_the_pace_is_told_in_words(pace, words):
    assert words in " ".join(pace_sentences(pace))


def test_slips_are_one_a_department_scene_and_drawing_and_hold_retakes_only(tmp_path):
    slips = slips_of(full())
    assert {place.value: [(s.scene.name, s.drawing) for s in own] for place, own in slips.items()} == {
        "ink": [("sc012", "9")],
        "paint": [("sc012", "7"), ("sc015", "3")],
        "sheet": [("sc012", "10")],
    }
    write_episode(full(), tmp_path)
    seen, parser = read(tmp_path / "slips-paint.html")
    for words in ("Scene 012 · A 7", "Coat (R-31)", "Repaint with Coat (R-31).", "6 × 7 px", "frames 13–14"):
        assert words in seen, words
    assert "sc012/pictures/fault-0123456789abcdef.png" in parser.addresses
    assert "Already on the last slip." in read(tmp_path / "slips-ink.html")[0]


def test_slips_that_nobody_needs_any_more_are_removed_and_nothing_else(tmp_path):
    write_episode(full(), tmp_path)
    (tmp_path / "slips-of-my-own.html").write_text("mine", encoding="utf-8")
    write_episode(episode(scene("sc013", SceneState.PASSED)), tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "episode.html", "episode.json", "slips-of-my-own.html", "slips.csv",
    ]  # fmt: skip


def test_many_slips_are_parted_into_several_files():
    many = episode(scene(faults=tuple(fault(str(n)) for n in range(SLIPS_A_FILE + 1))))
    files = slip_files(slips_of(many))
    assert [(file.name, len(file.slips)) for file in files] == [
        ("slips-paint-1.html", SLIPS_A_FILE),
        ("slips-paint-2.html", 1),
    ]


def test_no_spreadsheet_computes_a_name():
    line = fault(text="=1+1", paint="+R", level="-A", file="@x.png")
    rows = slips_csv(episode(scene(faults=(line,))), slips_of(episode(scene(faults=(line,)))))
    (row,) = csv.DictReader(io.StringIO(rows.decode("utf-8-sig")))
    assert (row["what"], row["paint"], row["level"], row["file"]) == ("'=1+1", "'+R", "'-A", "'@x.png")
    assert row["x"] == "4"


def hostile():
    line = fault(
        drawing=HOSTILE,
        level=HOSTILE,
        file=HOSTILE,
        text=HOSTILE,
        paint=HOSTILE,
        model=HOSTILE,
        color=HOSTILE,
    )
    named = scene(
        faults=(line,), condition=HOSTILE, problems=(HOSTILE,), models=(ModelUse(HOSTILE, HOSTILE, ""),)
    )
    return replace(
        episode(replace(named, name=HOSTILE, number=HOSTILE)),
        name=HOSTILE, number=HOSTILE, title=HOSTILE, notes=(HOSTILE,),
        breaks=(Break(HOSTILE, "", "", HOSTILE),),
    )  # fmt: skip


def test_no_name_acts_on_any_page(tmp_path):
    write_episode(hostile(), tmp_path)
    for name in ("episode.html", "slips-paint.html"):
        text = (tmp_path / name).read_text(encoding="utf-8")
        assert "<img src=x" not in text
        assert "\u202e" not in text
        assert "Content-Security-Policy" in text
    found = json.loads((tmp_path / "episode.json").read_text(encoding="utf-8"))
    jsonschema.validate(found, SCHEMA, jsonschema.Draft202012Validator)


def test_a_column_is_filled_by_its_cels_and_every_scene_has_one():
    strip = strip_of([scene(cels=(1, 1, 1, 1)), scene(cels=(0, 0, 0, 0))], {s: s.value for s in SceneState})
    first, second = strip.columns
    assert [piece.verdict.value for piece in first.pieces] == ["retake", "not-checked", "query", "pass"]
    assert sum(piece.height for piece in first.pieces) == COLUMN_HEIGHT
    assert first.pieces[0].y + first.pieces[0].height == COLUMN_HEIGHT
    assert second.pieces == ()
    many = strip_of([scene(f"sc{n}") for n in range(300)], {s: s.value for s in SceneState})
    assert len(many.columns) == 300
    assert 2 < sum(bool(column.label) for column in many.columns) < 60


def test_a_spark_steps_through_the_runs():
    (spark,) = sparks_of(episode().runs)
    assert (spark.kind, spark.first, spark.last, spark.most) == (FaultKind.OFF_MODEL, 4, 2, 4)
    assert len(spark.points.split()) == 6
    assert sparks_of(()) == ()
