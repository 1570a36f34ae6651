"""What a person decides at the desk is kept, and the next run of `episode` goes by it."""

import json
import sqlite3

import desks
import pytest


def slips(episode):
    return sorted(path.name for path in (episode / "check").glob("slips-*.html"))


def test_the_scene_shows_its_faults_open(desk):
    faults = desk.faults()
    assert [(fault["kind"], fault["where"], fault["decided"]) for fault in faults] == [
        ("off-model", "A 2", None),
        ("off-model", "A 3", None),
    ]


def test_not_a_fault_takes_it_off_verdict_slips_and_exit_status(episode, desk):
    first, second = desk.faults()
    assert desks.status(desks.check(episode)) == 1
    assert desk.decide(first, "not-a-fault").status_code == 200
    assert desk.decide(second, "pass", reason="seen by the director").status_code == 200
    summary = desks.check(episode)
    assert (desks.status(summary), summary.scenes[0].state.value, slips(episode)) == (0, "passed", [])
    report = json.loads((episode / "check" / "episode.json").read_text(encoding="utf-8"))
    waved = report["scenes"][0]["waved"]
    assert [(line["decided"]["deed"], line["decided"]["who"]) for line in waved] == [
        ("not-a-fault", "Mara Quill"),
        ("pass", "Mara Quill"),
    ]
    assert report["scenes"][0]["cels"]["pass"] == 4


def test_retake_to_another_department_goes_on_its_slips(episode, desk):
    first, _ = desk.faults()
    assert desk.decide(first, "retake", send_to="ink").status_code == 200
    desks.check(episode)
    assert slips(episode) == ["slips-ink.html", "slips-paint.html"]
    assert "Sent back by <bdi>Mara Quill" in (episode / "check" / "slips-ink.html").read_text(
        encoding="utf-8"
    )
    page = (episode / "check" / "episode.html").read_text(encoding="utf-8")
    assert "Decided at the desk" in page


def test_a_repainted_cel_asks_again_and_an_untouched_one_does_not(episode, desk):
    for fault in desk.faults():
        desk.decide(fault, "pass", reason="night light")
    desks.paint_cel(episode / "sc001" / "A" / "A-0002.png", "#DD7B66", 2)
    desks.check(episode)
    decided = {fault["where"]: bool(fault["decided"]) for fault in desk.faults()}
    assert decided == {"A 2": False, "A 3": True}


def test_a_picture_changed_since_the_check_takes_no_decision(episode, desk):
    first, _ = desk.faults()
    desks.paint_cel(episode / "sc001" / "A" / "A-0002.png", "#DD7B66", 2)
    answer = desk.decide(first, "not-a-fault")
    assert answer.status_code == 409
    assert "not the one that was checked" in answer.json()["error"]
    assert desk.faults()[0]["decided"] is None


def test_undo_is_a_row_of_its_own(episode, desk):
    first, _ = desk.faults()
    desk.decide(first, "not-a-fault")
    assert desk.post("/api/scene/0/undo").status_code == 200
    assert desk.faults()[0]["decided"] is None
    with sqlite3.connect(episode / "check" / "ledger.sqlite") as db:
        assert [row[0] for row in db.execute("SELECT deed FROM decision ORDER BY id")] == [
            "not-a-fault",
            "revoke",
        ]
    assert desk.post("/api/scene/0/undo").status_code == 409


def test_a_lesson_covers_the_same_cause_now_and_on_the_next_run(episode, desk):
    first, second = desk.faults()
    told = desk.decide(first, "not-a-fault").json()
    assert told["alike"] == [second["identity"]]
    answer = desk.post("/api/scene/0/teach", fault=first["identity"], others=told["alike"])
    assert answer.status_code == 200
    desks.paint_cel(episode / "sc001" / "A" / "A-0004.png", desks.OFF, 4)
    summary = desks.check(episode)
    assert (desks.status(summary), len(summary.scenes[0].waved)) == (0, 3), "a new drawing of that cause, too"
    lesson = answer.json()["lesson"]
    assert desk.post("/api/unlearn", lesson=lesson).status_code == 200
    assert desk.post("/api/unlearn", lesson=lesson).status_code == 404
    decided = {fault["where"]: bool(fault["decided"]) for fault in desk.faults()}
    assert decided == {"A 2": True, "A 3": False, "A 4": False}, "the first was decided on its own before"
    assert desks.status(desks.check(episode)) == 1
    lessons = desk.client.get("/api/lessons").json()
    assert [one["revoked"] for one in lessons["lessons"]] == [True]


def test_a_fault_of_another_cause_is_not_taught_along(desk):
    first, second = desk.faults()
    assert desk.post("/api/scene/0/teach", fault=first["identity"], others=["0" * 16]).status_code == 409
    assert desk.decide(second, "retake").status_code == 200
    assert (
        desk.post("/api/scene/0/teach", fault=first["identity"], others=[second["identity"]]).status_code
        == 409
    )
    assert desk.client.get("/api/lessons").json()["lessons"] == []


def test_cel_and_scene_are_passed_with_who_and_when_once_nothing_is_open(episode, desk):
    scene = desk.scene()
    cels = scene["levels"][0]["drawings"]
    fine, faulty = {"level": 0, "drawing": 0}, {"level": 0, "drawing": 1}
    assert desk.post("/api/scene/0/pass-cel", **fine, sha256=cels[0]["sha256"]).status_code == 200
    assert desk.post("/api/scene/0/pass-cel", **faulty, sha256=cels[1]["sha256"]).status_code == 409
    assert desk.post("/api/scene/0/pass", content=scene["content"]).status_code == 409
    for fault in desk.faults():
        desk.decide(fault, "pass", reason="night light")
    assert desk.post("/api/scene/0/pass", content=scene["content"]).status_code == 200
    assert desk.scene()["passed"]["who"] == "Mara Quill"
    desks.check(episode)
    told = json.loads((episode / "check" / "episode.json").read_text(encoding="utf-8"))["scenes"][0]
    assert told["passed"]["deed"] == "pass"
    assert [cel["drawing"] for cel in told["passed_cels"]] == ["1"]
    desks.paint_cel(episode / "sc001" / "A" / "A-0001.png", desks.COAT, 9)
    desks.check(episode)
    scene = desk.scene()
    assert (scene["passed"], scene["levels"][0]["drawings"][0]["passed"]) == (None, None)


def test_an_unreadable_cel_cannot_be_passed(tmp_path):
    folder = desks.make_episode(tmp_path / "ep", off=())
    path = folder / "sc001" / "A" / "A-0003.png"
    path.write_bytes(path.read_bytes()[:-300])
    desks.check(folder)
    desk = desks.Desk(folder).enter()
    (fault,) = desk.faults()
    assert (fault["kind"], fault["can_wave"]) == ("unreadable", False)
    for deed in ("pass", "not-a-fault"):
        assert desk.decide(fault, deed, reason="it will do").status_code == 409
    assert desks.status(desks.check(folder)) == 1


def test_a_fault_drawn_by_hand_goes_on_the_slips_until_a_person_says_it_is_mended(episode, desk):
    cel = desk.scene()["levels"][0]["drawings"][0]
    body = {"level": 0, "drawing": 0, "sha256": cel["sha256"], "kind": "stray", "send_to": "ink"}
    answer = desk.post("/api/scene/0/add", **body, box=[5, 6, 7, 8], text="A hair lies on the cel.")
    assert answer.status_code == 200
    summary = desks.check(episode)
    assert "slips-ink.html" in slips(episode)
    assert "A hair lies on the cel." in (episode / "check" / "slips-ink.html").read_text(encoding="utf-8")
    assert summary.scenes[0].cels == (1, 0, 3, 0)
    desks.paint_cel(episode / "sc001" / "A" / "A-0001.png", desks.COAT, 9)
    desks.check(episode)
    (fault,) = [one for one in desk.faults() if one["added_by"]]
    assert (fault["verdict"], "repainted" in fault["text"]) == ("query", True)
    assert desk.decide(fault, "not-a-fault").status_code == 200
    assert "slips-ink.html" not in (desks.check(episode), slips(episode))[1]


def test_undo_withdraws_a_fault_drawn_by_hand(desk):
    cel = desk.scene()["levels"][0]["drawings"][0]
    body = {"level": 0, "drawing": 0, "sha256": cel["sha256"], "kind": "stray", "send_to": "ink"}
    desk.post("/api/scene/0/add", **body, box=[5, 6, 7, 8], text="")
    assert len(desk.faults()) == 3
    desk.post("/api/scene/0/undo")
    assert len(desk.faults()) == 2


def test_agreement_counts_by_kind(desk):
    first, second = desk.faults()
    desk.decide(first, "retake")
    desk.decide(second, "not-a-fault")
    (row,) = desk.client.get("/api/lessons").json()["agreement"]
    assert row == {
        "kind": "off-model", "title": "Color off the model", "shown": 2, "agreed": 1, "passed": 0,
        "not-a-fault": 1, "open": 0, "by-hand": 0, "agreement": 0.5,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("more", "status"),
    [
        ({"deed": "pass"}, 409),  # without a reason
        ({"deed": "revoke"}, 409),
        ({"deed": "burn"}, 422),
        ({"who": "  "}, 422),
        ({"fault": "../../etc"}, 422),
        ({"fault": "0" * 16}, 404),
        ({"path": "/etc/passwd"}, 422),
        ({"reason": "x" * 501}, 422),
    ],
)
def test_what_makes_no_sense_is_refused_and_changes_nothing(desk, more, status):
    first, _ = desk.faults()
    body = {"deed": "retake"} | more
    assert desk.decide(first, body.pop("deed"), **body).status_code == status
    assert desk.faults()[0]["decided"] is None
