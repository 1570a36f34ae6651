"""A night's run checks what is new, remembers the rest, and touches only what a change touches."""

import os
import shutil
from urllib.parse import unquote_to_bytes

import pytest
from episodes import (
    COAT,
    MODEL,
    OFF,
    PAINTED_WRONG,
    Night,
    ledger_of,
    make_episode,
    make_scene,
    paint_cel,
    write_model,
)

from cel_check.episode.files import look_at
from cel_check.errors import BadPicture
from cel_check.settings import DEFAULTS, Settings


@pytest.fixture
def episode(tmp_path):
    return make_episode(tmp_path / "ep01", scenes=2, drawings=3)


def test_every_cel_is_checked_once_and_then_remembered(episode):
    first, second = Night(episode), Night(episode)
    assert len(first.checked) == 6
    assert first.states == {"sc001": "passed", "sc002": "passed"}
    assert (second.checked, len(second.remembered)) == ([], 6)
    assert second.states == first.states
    assert second.summary.finished
    assert [run.number for run in second.summary.runs] == [1, 2]


def test_a_repainted_cel_is_checked_and_no_other(episode):
    Night(episode)
    paint_cel(episode / "sc001/A/A-0002.png", PAINTED_WRONG, 2)
    night = Night(episode)
    assert night.checked == ["sc001/A/A-0002.png"]
    assert night.states == {"sc001": "in-retake", "sc002": "passed"}
    assert [(line.kind.value, line.drawing) for line in night.faults] == [("off-model", "2")]


def test_one_changed_paint_checks_only_its_own_characters_cels(episode):
    write_model(episode / "rook.toml", character="Rook")
    make_scene(episode / "sc003", model="rook", first=90)
    Night(episode)
    write_model(episode / "rook.toml", coat="#C8563E", character="Rook")
    night = Night(episode)
    assert {name.split("/")[0] for name in night.checked} == {"sc003"}
    assert len(night.checked) == 3


def test_a_changed_tolerance_is_judged_without_opening_a_picture(episode, monkeypatch):
    Night(episode)
    write_model(episode / "tilda.toml", tolerance=1.0)
    monkeypatch.setattr("cel_check.scene.cel.read_picture", None)  # whoever opens a picture fails
    night = Night(episode)
    assert (night.checked, len(night.remembered)) == ([], 6)
    assert night.states == {"sc001": "passed", "sc002": "passed"}


def test_a_report_that_would_say_the_same_is_left_as_it_is(episode):
    paint_cel(episode / "sc001/A/A-0002.png", PAINTED_WRONG, 2)
    before = Night(episode)
    times = {path: path.stat().st_mtime_ns for path in before.out.glob("*/report.*")}
    write_model(episode / "tilda.toml", tolerance=2.1)
    night = Night(episode)
    changed = {path.parent.name for path, time in times.items() if path.stat().st_mtime_ns != time}
    assert changed == {"sc001"}, "its fault names the tolerance"
    versions = {use.version for scene in night.summary.scenes for use in scene.models}
    assert len(versions) == 1, "both scenes know the model as it is now"


def test_a_summary_that_cannot_be_read_back_is_made_again(episode):
    Night(episode)
    with ledger_of(episode / "check") as db:
        db.execute("UPDATE scene SET summary = 'x'")
    night = Night(episode)
    assert night.checked == []
    assert night.states == {"sc001": "passed", "sc002": "passed"}


def test_a_tolerance_that_changes_an_answer_checks_the_cels_that_it_touches(episode):
    paint_cel(episode / "sc001/A/A-0001.png", OFF, 1)
    write_model(episode / "tilda.toml", tolerance=6.0)
    assert Night(episode).states["sc001"] == "passed"
    write_model(episode / "tilda.toml", tolerance=1.0)
    night = Night(episode)
    assert night.checked == ["sc001/A/A-0001.png"]
    assert night.states == {"sc001": "in-retake", "sc002": "passed"}


def test_a_paints_new_number_is_said_anew_where_a_fault_names_it_and_nowhere_else(episode):
    paint_cel(episode / "sc001/A/A-0001.png", PAINTED_WRONG, 1)
    Night(episode)
    write_model(episode / "tilda.toml", paint="R-99")
    night = Night(episode)
    assert night.checked == ["sc001/A/A-0001.png"]
    assert "R-99" in night.faults[0].text


def test_a_larger_limit_checks_only_what_was_over_it(episode):
    small = Settings(max_megapixels=0.01)
    paint_cel(episode / "sc001/A/A-0001.png", number=1, size=(100, 90))
    assert Night(episode, settings=small).states == {"sc001": "not-checked", "sc002": "not-checked"}
    night = Night(episode, settings=DEFAULTS)
    assert len(night.checked) == 5
    assert night.states["sc002"] == "passed"
    # Under the small limit again, what is remembered does not count either.
    assert Night(episode, settings=small).states["sc002"] == "not-checked"


def test_pictures_of_one_content_are_checked_once(episode):
    for number in range(4, 9):
        shutil.copy(episode / "sc001/A/A-0003.png", episode / f"sc002/A/A-{number:04}.png")
    night = Night(episode)
    assert len(night.checked) == 6
    assert len(night.remembered) == 5
    assert sum(night.summary.scenes[1].cels) == 8


def test_a_moved_or_touched_file_is_hashed_and_not_checked(episode):
    Night(episode)
    (episode / "sc001/A/A-0003.png").rename(episode / "sc001/A/A-0007.png")
    (episode / "sc002/A/A-0001.png").touch()
    night = Night(episode)
    assert night.checked == []
    assert "sc001/A/A-0007.png" in night.remembered


def test_a_stopped_run_is_taken_up_again_as_the_same_run(episode):
    stopped = Night(episode, stop_after=4)
    assert not stopped.summary.finished
    assert stopped.states == {"sc001": "passed", "sc002": "not-checked"}
    assert stopped.summary.scenes[1].cels[3] == 3
    again = Night(episode)
    assert len(again.checked) == 2
    assert [run.number for run in again.summary.runs] == [1]
    assert again.states == {"sc001": "passed", "sc002": "passed"}


def test_what_changed_and_was_not_looked_at_again_is_stale(episode):
    Night(episode)
    paint_cel(episode / "sc001/A/A-0001.png", PAINTED_WRONG, 1)
    paint_cel(episode / "sc002/A/A-0001.png", PAINTED_WRONG, 5)
    stopped = Night(episode, stop_after=1)
    assert stopped.states["sc002"] == "stale"
    assert stopped.report()["counts"]["scenes"]["stale"] >= 1
    assert Night(episode).states == {"sc001": "in-retake", "sc002": "in-retake"}


def test_faults_are_new_then_still_there_then_mended(episode):
    paint_cel(episode / "sc001/A/A-0002.png", PAINTED_WRONG, 2)
    first = Night(episode).report()
    paint_cel(episode / "sc002/A/A-0001.png", PAINTED_WRONG, 4)
    second = Night(episode).report()
    paint_cel(episode / "sc001/A/A-0002.png", number=2)
    third = Night(episode).report()
    fourth = Night(episode).report()
    changes = [
        {key: report["changes"][key] for key in ("new", "still-there", "mended")}
        for report in (first, second, third, fourth)
    ]
    assert changes == [
        {"new": 1, "still-there": 0, "mended": 0},
        {"new": 1, "still-there": 1, "mended": 0},
        {"new": 0, "still-there": 1, "mended": 1},
        {"new": 0, "still-there": 1, "mended": 0},
    ]
    identities = [{line["identity"] for s in r["scenes"] for line in s["faults"]} for r in (first, second)]
    assert identities[0] < identities[1]


def test_what_is_mended_drops_off_the_slips(episode):
    paint_cel(episode / "sc001/A/A-0002.png", PAINTED_WRONG, 2)
    night = Night(episode)
    page = (night.out / "slips-paint.html").read_text(encoding="utf-8")
    assert "Coat (R-31)" in page
    crop = page.split('<img src="')[1].split('"')[0]
    assert (night.out / crop).is_file()
    rows = (night.out / "slips.csv").read_text(encoding="utf-8-sig").splitlines()
    assert len(rows) == 2
    paint_cel(episode / "sc001/A/A-0002.png", number=2)
    Night(episode)
    assert not (night.out / "slips-paint.html").exists()
    assert len((night.out / "slips.csv").read_text(encoding="utf-8-sig").splitlines()) == 1


def test_a_damaged_row_is_dropped_and_its_cel_checked_again(episode):
    Night(episode)
    with ledger_of(episode / "check") as db:
        db.execute("UPDATE result SET payload = zeroblob(length(payload)) WHERE id = 2")
        db.execute("DELETE FROM scene")
    night = Night(episode)
    assert night.checked == ["sc001/A/A-0002.png"]
    assert night.states == {"sc001": "passed", "sc002": "passed"}


def test_damage_is_known_again_by_its_bytes_under_whatever_name(episode):
    path = episode / "sc001/A/A-0001.png"
    whole = path.read_bytes()
    path.write_bytes(whole[:300])
    assert Night(episode).states["sc001"] == "in-retake"
    shutil.copy(path, episode / "sc002/A/A-0002.png")
    night = Night(episode)
    assert night.checked == []
    assert [line.text.split(" is ")[0] for line in night.faults] == ["A/A-0001.png", "A/A-0002.png"]
    path.write_bytes(whole)
    assert Night(episode).states["sc001"] == "passed"


def test_a_damaged_file_is_read_again_every_time_however_it_looks(episode, monkeypatch):
    path = episode / "sc001/A/A-0001.png"
    whole = path.read_bytes()
    path.write_bytes(whole[:300] + bytes(len(whole) - 300))
    assert Night(episode).states["sc001"] == "in-retake"
    look = look_at(path)
    path.write_bytes(whole)

    def as_before(other):
        return look if other == path else look_at(other)

    # As when a drive gave other bytes than lie on it, and the file was never written to.
    monkeypatch.setattr("cel_check.episode.files.look_at", as_before)
    monkeypatch.setattr("cel_check.episode.batch.look_at", as_before)
    assert Night(episode).states["sc001"] == "passed"


def test_a_cel_that_no_drive_gives_is_tried_again_every_time(episode, monkeypatch):
    tried = []

    def broken(path, settings):
        tried.append(path.name)
        raise BadPicture("cannot be read from its drive (Input/output error)", "Connect it.")

    shutil.rmtree(episode / "sc002")
    with monkeypatch.context() as patch:
        patch.setattr("cel_check.scene.cel.read_picture", broken)
        assert Night(episode).states["sc001"] == "in-retake"
        assert Night(episode).checked == [f"sc001/A/A-000{number}.png" for number in (1, 2, 3)]
    assert len(tried) == 6
    assert Night(episode).states["sc001"] == "passed"


def test_a_file_that_vanishes_during_the_run_costs_one_cel(episode, monkeypatch):
    from cel_check.episode import batch  # noqa: PLC0415 - only its look at files is changed here

    def vanish(path):
        found = look_at(path)
        if path.name == "A-0002.png":
            path.unlink(missing_ok=True)
        return found

    look_at = batch.look_at
    monkeypatch.setattr(batch, "look_at", vanish)
    shutil.rmtree(episode / "sc002")
    night = Night(episode)
    assert [line.kind.value for line in night.faults] == ["unreadable"]
    assert night.summary.scenes[0].cels == (2, 0, 1, 0)


def test_a_removed_drawing_and_a_changed_sheet_only_conclude_the_scene_anew(episode):
    Night(episode)
    (episode / "sc001/A/A-0003.png").unlink()
    night = Night(episode)
    assert night.checked == []
    assert [line.kind.value for line in night.faults] == ["missing-cel"]
    (episode / "sc001/sheet.csv").write_text("frame,A\n1,1\n2,2\n", encoding="utf-8")
    assert Night(episode).states["sc001"] == "passed"


def test_a_changed_reference_cel_concludes_its_scenes_anew(episode):
    reference = name_a_reference(episode)
    Night(episode)
    reference.write_bytes(reference.read_bytes()[:90])
    night = Night(episode)
    assert night.checked == []
    report = (night.out / "sc001/report.json").read_text(encoding="utf-8")
    assert "The reference cel tilda-model.png cannot be read" in report


@pytest.mark.parametrize(
    ("place", "sentence"),
    [
        ("scene.reference_cels.read_picture", "The reference cel tilda-model.png cannot be read"),
        ("scene.background.read_source", "The background ../harbor.png could not be shown"),
        ("report.pictures.read_picture", "The file cannot be read any more"),
        ("scene.before_camera.flashes", "The frames could not be looked at"),
        ("scene.compared.with_wrong_parts", "the comparison with the level"),
    ],
)
def test_what_fails_while_a_scene_is_concluded_is_tried_again(episode, monkeypatch, place, sentence):
    """A drive that drops out for a moment costs one night, and needs no repair."""
    name_a_reference(episode)
    paint_cel(episode / "harbor.png", number=31)
    toml = episode / "sc001/scene.toml"
    toml.write_text(toml.read_text(encoding="utf-8") + 'background = "../harbor.png"\n', encoding="utf-8")
    paint_cel(episode / "sc001/A/A-0002.png", PAINTED_WRONG, 2)

    def broken(*_):
        raise BadPicture("cannot be read from its drive (Input/output error)", "Connect it.")

    with monkeypatch.context() as patch:
        patch.setattr(f"cel_check.{place}", broken)
        assert sentence in page_of(Night(episode))
        assert sentence in page_of(Night(episode))
    night = Night(episode)
    assert (night.checked, sentence in page_of(night)) == ([], False)
    written = (night.out / "sc001/report.html").stat().st_mtime_ns
    assert (Night(episode).out / "sc001/report.html").stat().st_mtime_ns == written


def page_of(night):
    return (night.out / "sc001/report.html").read_text(encoding="utf-8")


def name_a_reference(episode):
    named = MODEL.replace("[model]\n", '[model]\nreference = ["tilda-model.png"]\n')
    filled = named.format(character="Tilda Brake", tolerance=2.0, coat=COAT, paint="R-31")
    (episode / "tilda.toml").write_text(filled, encoding="utf-8")
    return paint_cel(episode / "tilda-model.png", number=30)


def test_a_report_that_was_thrown_away_is_written_again_without_checking(episode):
    shutil.rmtree(Night(episode).out / "sc001")
    night = Night(episode)
    assert night.checked == []
    assert (night.out / "sc001/report.html").is_file()


@pytest.mark.skipif(os.name != "posix", reason="such names are POSIX's")
def test_a_scene_of_any_name_is_checked_remembered_and_linked(tmp_path):
    folder = make_episode(tmp_path / "ep \udcff", scenes=0)
    names = ("sc 1 #%?", "sc<img src=x>", "sc\udcff", "城", "-sc", "=1+1", "sc\n2", "'\"&")
    for number, name in enumerate(names):
        make_scene(folder / name, drawings=1, first=10 * number)
        paint_cel(folder / name / "A" / "A-\udcfe7.png", PAINTED_WRONG, 10 * number)
    first, second = Night(folder), Night(folder)
    assert len(first.checked) == 2 * len(names)
    assert second.checked == []
    scenes = second.report()["scenes"]
    assert {scene["state"] for scene in scenes} == {"in-retake"}
    pages = {os.fsencode(first.out / unquote_to_bytes(scene["report"]).decode("utf-8", "surrogateescape"))
             for scene in scenes}  # fmt: skip
    assert len(pages) == len(names)
    assert all(os.path.isfile(page) for page in pages)  # noqa: PTH113 - of bytes


def test_broken_and_unpainted_scenes_stop_nothing(episode):
    (episode / "sc001/scene.toml").write_text('schema = 1\n[scene]\nfoo = "x"\n', encoding="utf-8")
    (episode / "sc003").mkdir()
    (episode / "sc003/scene.toml").write_text("schema = 1\n", encoding="utf-8")
    night = Night(episode)
    assert night.states == {"sc001": "not-checked", "sc002": "passed", "sc003": "not-painted"}
    assert "key scene.foo: this key is not known" in night.summary.scenes[0].problems[0]
    assert night.report()["counts"]["cels"] == {
        "all": 6,
        "pass": 3,
        "query": 0,
        "retake": 0,
        "not-checked": 3,
    }
