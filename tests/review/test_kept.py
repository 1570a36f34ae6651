"""No decision is lost: not by two people at once, and not where the server is killed."""

import http.client
import json
import os
import random
import signal
import sqlite3
import subprocess
import sys
import threading
import urllib.error
import urllib.request
from pathlib import Path

import desks

ROOT = Path(__file__).resolve().parents[2]


def test_two_people_see_each_other_and_the_second_on_one_fault_is_told(episode):
    mara, joss = desks.Desk(episode).enter(), desks.Desk(episode, "Joss Field").enter()
    first, second = mara.faults()
    seen_by_joss = joss.faults()
    assert mara.decide(first, "retake").status_code == 200
    answer = joss.decide(seen_by_joss[0], "not-a-fault")
    assert answer.status_code == 409
    assert "Mara Quill decided on it meanwhile: retake" in answer.json()["error"]
    assert joss.decide(second, "not-a-fault").status_code == 200
    for desk in (mara, joss):
        assert [fault["decided"]["who"] for fault in desk.faults()] == ["Mara Quill", "Joss Field"]
    assert joss.decide(joss.faults()[0], "not-a-fault").status_code == 200, (
        "having seen it, he may overrule it"
    )
    assert [fault["decided"]["deed"] for fault in mara.faults()] == ["not-a-fault", "not-a-fault"]


def test_many_decisions_of_two_people_at_once_are_all_there(episode):
    acknowledged = []

    def work(who):
        desk = desks.Desk(episode, who).enter()
        for turn in range(15):
            fault = desk.faults()[turn % 2]
            answer = desk.decide(fault, "pass", reason=f"{who} {turn}")
            assert answer.status_code in {200, 409}
            if answer.status_code == 200:
                acknowledged.append((answer.json()["decision"], f"{who} {turn}"))

    threads = [threading.Thread(target=work, args=(who,)) for who in ("Mara", "Joss")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert kept(episode) == dict(acknowledged)
    assert len(acknowledged) >= 15


def kept(episode):
    with sqlite3.connect(episode / "check" / "ledger.sqlite") as db:
        assert db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        return dict(db.execute("SELECT id, reason FROM decision WHERE deed = 'pass'"))


class Started:
    """The command in a process of its own, and one person at its page."""

    def __init__(self, episode):
        command = [sys.executable, "-m", "cel_check", "review", str(episode), "--json", "--no-browser"]
        env = {**os.environ, "PYTHONPATH": str(ROOT)}
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, encoding="utf-8", env=env)
        told = json.loads(self.process.stdout.readline())
        self.base = told["address"].partition("/?")[0]
        self.opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        page = self.opener.open(told["address"], timeout=30).read().decode()
        self.token = page.partition('name="desk-token" content="')[2].partition('"')[0]

    def get(self, path):
        return json.load(self.opener.open(self.base + path, timeout=30))

    def decide(self, fault, reason):
        seen = fault["decided"]["id"] if fault["decided"] else 0
        body = {
            "who": "Mara Quill", "fault": fault["identity"], "deed": "pass", "reason": reason, "seen": seen,
            "sha256": fault["sha256"],
        }  # fmt: skip
        headers = {"content-type": "application/json", "origin": self.base, "x-desk-token": self.token}
        sent = urllib.request.Request(
            self.base + "/api/scene/0/decide", json.dumps(body).encode(), headers, method="POST"
        )
        return json.load(self.opener.open(sent, timeout=30))

    def end(self, number):
        self.process.send_signal(number)
        status = self.process.wait(timeout=30)
        self.process.stdout.close()
        return status


def test_a_server_killed_at_random_among_200_decisions_keeps_every_acknowledged_one(episode):
    chance = random.Random(7)
    acknowledged = {}
    sent = 0
    while sent < 200:
        desk = Started(episode)
        fault = desk.get("/api/scene/0")["faults"][0]
        last = sent + chance.randint(15, 45)
        killer = threading.Timer(chance.uniform(0.0, 0.02), desk.process.kill)
        try:
            while True:
                sent += 1
                if sent == last:
                    killer.start()
                told = desk.decide(fault, f"turn {sent}")
                acknowledged[told["decision"]] = f"turn {sent}"
                fault = told["scene"]["faults"][0]
        except (http.client.HTTPException, urllib.error.URLError, OSError, ValueError):
            pass  # it was killed before it could answer: whether it kept that one is open
        desk.end(signal.SIGKILL)
        killer.join()
    assert len(acknowledged) > 150
    assert acknowledged.items() <= kept(episode).items()


def test_a_desk_that_is_closed_ends_well(episode):
    assert [Started(episode).end(number) for number in (signal.SIGINT, signal.SIGTERM)] == [0, 0]
