"""A scene that nothing has touched is not loaded again, and whatever it is made from is seen to change."""

import os
import shutil
import site
import sys
import sysconfig
import time
from pathlib import Path

import pytest
from episodes import (
    OFF,
    PAINTED_WRONG,
    ROOT,
    Night,
    ledger_of,
    make_episode,
    paint_cel,
    write_model,
)

from cel_check.episode import folder as folder_module
from cel_check.episode import untouched
from cel_check.settings import Settings

HOUR_NS = 3600 * 10**9
MODEL_CEL = "tilda-model.png"


@pytest.fixture
def later(monkeypatch):
    """Let every file be an hour old: one that was written just now is not trusted to stay as it looks."""
    monkeypatch.setattr(untouched, "now_ns", lambda: time.time_ns() + HOUR_NS)


@pytest.fixture
def loaded(monkeypatch):
    """The names of the scenes that are loaded from now on."""
    names = []
    load = folder_module.load_scene

    def noted(path, *rest):
        names.append(path.name)
        return load(path, *rest)

    monkeypatch.setattr(folder_module, "load_scene", noted)
    return names


@pytest.fixture
def episode(tmp_path, later):
    """Two scenes, both with a reference cel, one with a background of its own and keys of its own."""
    folder = make_episode(tmp_path / "ep01", scenes=2, drawings=2)
    paint_cel(folder / MODEL_CEL, number=30)
    write_model(folder / "tilda.toml")
    with_reference(folder / "tilda.toml")
    (folder / "bg").mkdir()
    paint_cel(folder / "bg" / "harbor.png", number=31)
    text = 'schema = 1\n[scene]\nmodels = ["../tilda.toml"]\nbackground = "../bg/harbor.png"\n'
    (folder / "sc001/scene.toml").write_text(text, encoding="utf-8")
    (folder / "episode.toml").write_text('[episode]\ntitle = "The lamp goes out"\n', encoding="utf-8")
    return folder


def with_reference(model):
    text = model.read_text(encoding="utf-8")
    named = text.replace("[model]\n", f'[model]\nreference = ["{MODEL_CEL}"]\n')
    model.write_text(named, encoding="utf-8")


def test_an_episode_that_nothing_touched_is_not_loaded(episode, loaded):
    paint_cel(episode / "sc002/A/A-0002.png", PAINTED_WRONG, 7)
    first = Night(episode)
    assert loaded == ["sc001", "sc002"]
    second = Night(episode)
    assert loaded == ["sc001", "sc002"]
    assert (second.checked, len(second.remembered)) == ([], 4)
    assert second.states == first.states == {"sc001": "passed", "sc002": "in-retake"}
    assert second.summary.scenes[0] == first.summary.scenes[0]
    assert [line.change.value for line in first.faults + second.faults] == ["new", "still-there"]
    assert second.report()["counts"] == first.report()["counts"]


def test_nothing_is_checked_and_still_it_is_known(episode, loaded):
    Night(episode)
    loaded.clear()
    stopped = Night(episode, stop_after=0)
    assert (loaded, stopped.states) == ([], {"sc001": "passed", "sc002": "passed"})


def append(path, text="\n"):
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")


def repaint_and_set_back(path):
    """Paint over a file and give it its old time: only the time of the change itself tells."""
    found = path.stat()
    paint_cel(path, OFF, 1)
    os.utime(path, ns=(found.st_atime_ns, found.st_mtime_ns))


def other_model(folder):
    shutil.copy(folder / "tilda.toml", folder / "other.toml")
    text = (folder / "sc001/scene.toml").read_text(encoding="utf-8")
    (folder / "sc001/scene.toml").write_text(text.replace("tilda", "other"), encoding="utf-8")


ONE, BOTH = ["sc001"], ["sc001", "sc002"]
TOUCHES = {
    "a cel is repainted": (lambda ep: paint_cel(ep / "sc001/A/A-0001.png", OFF, 1), ONE),
    "a cel is repainted and set back": (lambda ep: repaint_and_set_back(ep / "sc001/A/A-0001.png"), ONE),
    "a cel comes": (lambda ep: paint_cel(ep / "sc001/A/A-0003.png", number=9), ONE),
    "a cel goes": (lambda ep: (ep / "sc001/A/A-0002.png").unlink(), ONE),
    "a cel gets another name": (
        lambda ep: (ep / "sc001/A/A-0002.png").rename(ep / "sc001/A/A-0005.png"),
        ONE,
    ),
    "a cel is cut short": (lambda ep: (ep / "sc001/A/A-0002.png").write_bytes(b"\x89PNG"), ONE),
    "two cels change places": (
        lambda ep: [
            (ep / "sc001/A" / one).rename(ep / "sc001/A" / other)
            for one, other in (("A-0001.png", "x"), ("A-0002.png", "A-0001.png"), ("x", "A-0002.png"))
        ],
        ONE,
    ),
    "a level comes": (lambda ep: paint_cel(ep / "sc001/B/B-0001.png", number=12), ONE),
    "a level goes": (lambda ep: shutil.rmtree(ep / "sc001/A"), ONE),
    "the sheet changes": (lambda ep: append(ep / "sc001/sheet.csv", "3,2\n"), ONE),
    "the sheet goes": (lambda ep: (ep / "sc001/sheet.csv").unlink(), ONE),
    "the scene's keys change": (lambda ep: append(ep / "sc001/scene.toml", "fps = 25\n"), ONE),
    "the background changes": (lambda ep: paint_cel(ep / "bg/harbor.png", number=33), ONE),
    "the background goes": (lambda ep: (ep / "bg/harbor.png").unlink(), ONE),
    "a paint is mixed anew": (lambda ep: append(ep / "tilda.toml", "tolerance = 1.5\n"), BOTH),
    "another model is named": (other_model, ONE),
    "the reference cel is repainted": (lambda ep: paint_cel(ep / MODEL_CEL, OFF, 30), BOTH),
    "the reference cel goes": (lambda ep: (ep / MODEL_CEL).unlink(), BOTH),
    "the episode's keys change": (lambda ep: append(ep / "episode.toml", "[scene]\nfps = 25\n"), BOTH),
    "the scene's page goes": (lambda ep: (ep / "check/sc001/report.html").unlink(), ONE),
    "a cel becomes a link": (
        lambda ep: [
            (ep / "sc001/A/A-0002.png").rename(ep / "sc001/x.png"),
            (ep / "sc001/A/A-0002.png").symlink_to("../x.png"),
        ],
        ONE,
    ),
}


@pytest.mark.parametrize("touch", TOUCHES)
def test_whatever_a_scene_is_made_from_is_seen_to_change(episode, loaded, touch):
    act, expected = TOUCHES[touch]
    Night(episode)
    loaded.clear()
    act(episode)
    night = Night(episode)
    assert loaded == expected
    fresh = Night(episode, out=episode.parent / "fresh")
    assert night.states == fresh.states
    for name in BOTH:
        one, other = night.out / name / "report.json", fresh.out / name / "report.json"
        if night.states[name] != "not-painted":
            assert one.read_bytes() == other.read_bytes()


def test_a_background_that_was_missing_is_seen_to_come(episode, loaded):
    away = (episode / "bg/harbor.png").rename(episode.parent / "harbor.png")
    Night(episode)
    loaded.clear()
    away.rename(episode / "bg/harbor.png")
    assert "is not there" not in str(Night(episode).report())
    assert loaded == ["sc001"]


def test_other_thresholds_other_models_and_another_program_load_all(episode, loaded, monkeypatch):
    write_model(episode / "other.toml")
    Night(episode)
    for change in ({"settings": Settings(max_side=9000)}, {"models": (episode / "other.toml",)}):
        loaded.clear()
        Night(episode, **change)
        assert loaded == BOTH
    monkeypatch.setattr(untouched, "concluding_program", lambda: "another")
    loaded.clear()
    Night(episode)
    assert loaded == BOTH


def test_a_model_that_an_option_names_is_seen_to_change(episode, loaded, monkeypatch):
    monkeypatch.chdir(episode.parent)
    write_model(Path("given.toml"))
    for expected in (BOTH, []):
        loaded.clear()
        Night(episode, models=(Path("given.toml"),))
        assert loaded == expected
    write_model(Path("given.toml"), tolerance=1.5)
    Night(episode, models=(Path("given.toml"),))
    assert loaded == BOTH


def test_what_was_written_just_now_is_not_trusted(episode, loaded, monkeypatch):
    monkeypatch.setattr(untouched, "now_ns", time.time_ns)
    Night(episode)
    loaded.clear()
    Night(episode)
    assert loaded == BOTH, "each file might have changed since and look the same"
    monkeypatch.setattr(untouched, "now_ns", lambda: time.time_ns() + HOUR_NS)
    for expected in (BOTH, []):
        loaded.clear()
        Night(episode)
        assert loaded == expected, "once it was gone through an hour later, it is known"


def test_a_scene_with_a_damaged_or_an_unchecked_cel_is_gone_through_each_time(episode, loaded):
    (episode / "sc001/A/A-0001.png").write_bytes(b"\x89PNG")
    paint_cel(episode / "sc002/A/A-0001.png", number=4, size=(400, 300))
    small = Settings(max_side=300)
    assert Night(episode, settings=small).states == {"sc001": "in-retake", "sc002": "not-checked"}
    loaded.clear()
    assert Night(episode, settings=small).states == {"sc001": "in-retake", "sc002": "not-checked"}
    assert loaded == BOTH


def test_a_summary_that_cannot_be_read_back_loads_its_scene(episode, loaded):
    Night(episode)
    with ledger_of(episode / "check") as db:
        db.execute("UPDATE scene SET summary = 'x' WHERE name = ?", (b"sc002",))
    loaded.clear()
    assert Night(episode).states == {"sc001": "passed", "sc002": "passed"}
    assert loaded == ["sc002"]


def test_a_scene_that_changes_while_it_is_gone_through_is_loaded_the_next_time(episode, loaded, monkeypatch):
    from cel_check.episode import batch  # noqa: PLC0415 - only its look at files is changed here

    def repaint(path):
        if path.name == "A-0002.png" and path.parts[-3] == "sc001":
            paint_cel(path, OFF, 2)
        return look_at(path)

    look_at = batch.look_at
    with monkeypatch.context() as patch:
        patch.setattr(batch, "look_at", repaint)
        Night(episode)
    loaded.clear()
    Night(episode)
    assert loaded == ONE


def test_an_earlier_ledger_learns_how_its_scenes_look(episode, loaded):
    Night(episode)
    with ledger_of(episode / "check") as db:
        db.execute("ALTER TABLE scene DROP COLUMN outlook")
        db.execute("ALTER TABLE scene DROP COLUMN sources")
        db.execute("PRAGMA user_version = 2")
    for expected in (BOTH, []):
        loaded.clear()
        night = Night(episode)
        assert (loaded, night.checked, len(night.remembered)) == (expected, [], 4)


# Everything that is opened while a scene is loaded and concluded must have been looked at.

OPENED = set()
LISTENING = []


def note_opened(event, arguments):
    if LISTENING and event == "open" and isinstance(arguments[0], str | bytes | os.PathLike):
        OPENED.add(os.fsdecode(arguments[0]))


sys.addaudithook(note_opened)  # it cannot be taken off again, so it mostly does nothing


def sample_episode(folder):
    """A few cels of two sample scenes, a digital one and a scanned one, with all that they name."""
    shutil.copytree(ROOT / "palettes", folder / "palettes")
    samples = folder / "samples"
    for scene, files in (("sc012", ("[A-D]/*1.png",)), ("sc016", ("A/*1.*",))):
        for file in ("scene.toml", "sheet.csv", "bg/*", *files):
            for path in (ROOT / "samples" / scene).glob(file):
                target = samples / path.relative_to(ROOT / "samples")
                target.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(path, target)
    shutil.copytree(ROOT / "samples/scanner", samples / "scanner")
    for path in (*(ROOT / "samples").glob("*.png"), ROOT / "samples/episode.toml"):
        shutil.copy(path, samples)
    return samples


def opened_of_mine(act, *elsewhere):
    """Do something, and return the files that it opened, those of Python, libraries and system left out."""
    LISTENING.append(True)
    try:
        act()
    finally:
        LISTENING.clear()
    others = (*elsewhere, ROOT / "cel_check", sysconfig.get_path("stdlib"), *site.getsitepackages())
    others += (sys.base_prefix, "/proc", "/sys", "/etc", os.devnull)
    files = {Path(file).resolve() for file in OPENED}
    return {file for file in files if not any(file.is_relative_to(other) for other in others)}


def test_no_file_is_opened_that_was_not_looked_at(tmp_path, later, loaded):
    folder, out = sample_episode(tmp_path), tmp_path / "out"
    opened = opened_of_mine(lambda: Night(folder, out=out), out)
    with ledger_of(out) as db:
        seen = untouched.outlooks(db)
    assert set(seen) == {"sc012", "sc016"}
    sources = {(folder / name / source).resolve() for name, look in seen.items() for source in look.sources}
    names = {path.name for path in sources & opened}
    assert names >= {"tilda.toml", "tilda-model.png", "scanner.toml", "harbor.jpg"}
    inside = {path for path in opened if path.is_relative_to(folder / "sc012")}
    inside |= {path for path in opened if path.is_relative_to(folder / "sc016")}
    assert {path.name for path in inside} >= {"scene.toml", "sheet.csv", "A-0001.png", "A-0001.jpg"}
    assert opened - sources - inside == {folder / "episode.toml"}, "which is read every time"
    loaded.clear()
    Night(folder, out=out)
    assert loaded == []
