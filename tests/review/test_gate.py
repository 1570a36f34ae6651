"""Nothing from another host, origin or hand gets in: it is refused and logged, and nothing changes.

The list of attacks is common practice (OWASP cheat sheets on cross-site request forgery, path traversal and
HTTP headers); DNS rebinding is the foreign Host header.
"""

import http.client
import logging
import socket
import sqlite3
import threading
import time

import desks
import pytest
import uvicorn


def decisions(folder):
    with sqlite3.connect(folder / "check" / "ledger.sqlite") as db:
        return db.execute("SELECT count(*) FROM decision").fetchone()[0]


@pytest.fixture
def body(desk):
    fault = desk.faults()[0]
    return {
        "who": "Mara Quill",
        "fault": fault["identity"],
        "deed": "not-a-fault",
        "seen": 0,
        "sha256": fault["sha256"],
    }


HOSTS = [
    "evil.example",
    "127.0.0.1.evil.example:8123",
    "127.0.0.1",
    "127.0.0.1:80",
    "localhost:8124",
    "",
    "[::1]:1",
]


@pytest.mark.parametrize("host", HOSTS)
def test_a_foreign_host_is_refused(desk, caplog, host):
    with caplog.at_level(logging.WARNING, "cel_check.review"):
        answer = desk.client.get("/api/episode", headers={"host": host})
    assert answer.status_code == 421
    assert "refused (421)" in caplog.text


@pytest.mark.parametrize("host", ["127.0.0.1:8123", "localhost:8123", "LOCALHOST:8123", "[::1]:8123"])
def test_loopbacks_own_names_are_known(desk, host):
    assert desk.gate.knows_host(host)


def test_a_desk_on_every_address_knows_numbers_and_no_names(episode):
    gate = desks.Desk(episode, password="night watch", host="0.0.0.0").gate
    assert gate.knows_host("192.168.1.20:8123")
    assert not gate.knows_host("rebound.example:8123")


STRANGE = [
    {"origin": "http://evil.example"},
    {"origin": "null"},
    {"origin": "https://127.0.0.1:8123"},
    {"origin": "http://127.0.0.1:8124"},
    {"origin": ""},
    {"sec-fetch-site": "cross-site"},
    {"sec-fetch-site": "same-site"},
    {"x-desk-token": ""},
    {"x-desk-token": "guess"},
    {"content-type": "text/plain"},
    {"content-type": "application/x-www-form-urlencoded"},
    {"cookie": "cel-check-desk-8123=guess"},
]


@pytest.mark.parametrize("strange", STRANGE, ids=str)
def test_a_decision_from_elsewhere_is_refused_logged_and_not_kept(desk, episode, body, caplog, strange):
    with caplog.at_level(logging.WARNING, "cel_check.review"):
        answer = desk.post("/api/scene/0/decide", desk.headers(**strange), **body)
    assert answer.status_code in {403, 415}
    assert "refused" in caplog.text
    assert decisions(episode) == 0


def test_without_the_headers_of_a_page_nothing_is_kept(desk, episode, body):
    assert desk.post("/api/scene/0/decide", {}, **body).status_code == 403
    assert decisions(episode) == 0


def test_a_get_never_decides(desk, episode):
    for path in ("decide", "teach", "pass", "pass-cel", "add", "undo"):
        assert desk.client.get(f"/api/scene/0/{path}").status_code == 405
    assert desk.client.get("/api/unlearn").status_code == 405
    for method in ("PUT", "DELETE", "PATCH", "TRACE"):
        assert desk.client.request(method, "/api/scene/0/undo", headers=desk.headers()).status_code == 405
    assert decisions(episode) == 0


def test_without_the_link_the_door_is_shut(episode):
    stranger = desks.Desk(episode)
    for path in ("/api/episode", "/api/scene/0", "/picture/0/frame/0/3/2", "/static/desk.js"):
        assert stranger.client.get(path).status_code == 403, path
    for path in ("/", "/?token=", "/?token=guess"):
        answer = stranger.client.get(path)
        assert answer.status_code == 403
        assert stranger.gate.token not in answer.text


def test_the_link_lets_in_and_leaves_the_address(desk):
    answer = desk.client.get(f"/?token={desk.gate.link}", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert desk.gate.link not in desk.client.get("/").text


PATHS = [
    "/static/../gate.py", "/static/..%2fgate.py", "/static/..%2f..%2f..%2fetc%2fpasswd",
    "/static/%2e%2e/gate.py", "/static/desk.css%00.js", "/static//etc/passwd", "/static/..%5cgate.py",
    "/picture/../../etc/passwd",
    "/picture/0/frame/..%2f..%2f/3/2", "/picture/-1/frame/0/3/2", "/picture/9/frame/0/3/2",
    "/picture/0/frame/999/3/2", "/picture/0/frame/0/3/5", "/picture/0/cel/0/99/2",
    "/picture/0/cel/7/0/2",
    "/api/scene/9", "/api/scene/0x0", "/api/scene/%2e%2e", "/favicon.ico", "/check/ledger.sqlite",
    "/sc001/A/A-0001.png", "/picture/99999999999999999999999/frame/0/3/2",
]  # fmt: skip


@pytest.mark.parametrize("path", PATHS)
def test_numbers_lead_to_pictures_and_nothing_leads_to_files(desk, path):
    answer = desk.client.get(path)
    assert answer.status_code == 404
    assert b"import" not in answer.content
    assert b"root:" not in answer.content


def test_a_link_out_of_the_scene_is_not_shown(tmp_path):
    folder = desks.make_episode(tmp_path / "ep", off=())
    secret = desks.paint_cel(tmp_path / "secret.png", "#00FF00")
    (folder / "sc001" / "A" / "A-0004.png").unlink()
    (folder / "sc001" / "A" / "A-0004.png").symlink_to(secret)
    desks.check(folder)
    desk = desks.Desk(folder).enter()
    assert desk.client.get("/picture/0/cel/0/3/2").status_code == 404
    assert desk.client.get("/api/scene/0/under/3/3/80/40").json() == {"cels": []}


def test_every_answer_bears_the_headers(desk):
    for path in ("/", "/static/desk.js", "/api/episode", "/picture/0/frame/0/3/2", "/nothing"):
        headers = desk.client.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["cross-origin-resource-policy"] == "same-origin"
        assert "access-control-allow-origin" not in headers


def test_a_long_body_is_refused_whether_it_says_so_or_not(desk, episode):
    long = desk.headers(**{"content-type": "application/json"})
    assert desk.client.post("/api/scene/0/decide", content=b"x" * 70_000, headers=long).status_code == 413
    chunks = (b"x" * 10_000 for _ in range(20))
    assert desk.client.post("/api/scene/0/decide", content=chunks, headers=long).status_code == 413
    for length in ("-1", "1e3", "9" * 30):
        told = desk.client.post(
            "/api/scene/0/decide", content=b"{}", headers=long | {"content-length": length}
        )
        assert told.status_code == 413
    assert decisions(episode) == 0


@pytest.fixture
def running(desk):
    """The desk on a real socket."""
    server = uvicorn.Server(uvicorn.Config(desk.app, log_config=None, lifespan="off", ws="none", http="h11"))
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [taken]})
        thread.start()
        while not server.started:
            time.sleep(0.01)
        yield taken.getsockname()[1]
        server.should_exit = True
        thread.join()


def test_two_gigabytes_are_refused_before_they_are_read(desk, running):
    connection = http.client.HTTPConnection("127.0.0.1", running, timeout=20)
    connection.putrequest("POST", "/api/scene/0/decide", skip_host=True)
    cookie = f"{desk.gate.cookie}={desk.gate.session}"
    for name, value in (desk.headers() | {"host": desks.HOST, "cookie": cookie}).items():
        connection.putheader(name, value)
    connection.putheader("content-type", "application/json")
    connection.putheader("content-length", str(2 * 1024**3))
    connection.endheaders()
    answer = connection.getresponse()  # not one byte of the body was sent
    assert (answer.status, answer.getheader("connection")) == (413, "close")
    connection.close()


def test_a_password_is_asked_for_and_a_wrong_one_is_logged(episode, monkeypatch, caplog):
    monkeypatch.setattr("cel_check.review.app.WRONG_PASSWORD_SECONDS", 0.0)
    desk = desks.Desk(episode, password="night watch")
    assert "Password of this desk" in desk.client.get("/").text
    origin = {"origin": f"http://{desks.HOST}"}
    with caplog.at_level(logging.WARNING, "cel_check.review"):
        for word in ("", "day watch", "night watch "):
            answer = desk.client.post("/enter", data={"password": word}, headers=origin)
            assert answer.status_code == 401
    assert "wrong password" in caplog.text
    assert desk.client.get("/api/episode").status_code == 403
    assert desk.client.post("/enter", data={"password": "night watch"}).status_code == 403, "no origin"
    assert desk.client.post("/enter", data={"password": "night watch"}, headers=origin).status_code == 200
    assert desk.client.get("/api/episode").status_code == 200


def test_a_desk_without_a_password_has_no_way_in_by_one(episode, monkeypatch):
    monkeypatch.setattr("cel_check.review.app.WRONG_PASSWORD_SECONDS", 0.0)
    desk = desks.Desk(episode)
    origin = {"origin": f"http://{desks.HOST}"}
    assert desk.client.post("/enter", data={"password": ""}, headers=origin).status_code == 401
    assert desk.client.get("/api/episode").status_code == 403


def test_a_scene_named_like_markup_is_a_name(tmp_path):
    name = "<img src=x onerror=alert(1)>"
    folder = desks.make_episode(tmp_path / "ep", scene=name)
    desks.check(folder)
    desk = desks.Desk(folder).enter()
    answer = desk.client.get("/api/scene/0")
    assert answer.headers["content-type"] == "application/json"
    assert answer.json()["folder"] == name
    assert "<img" not in desk.client.get("/").text
    assert desk.decide(desk.faults()[0], "retake").status_code == 200
    assert desk.faults()[0]["decided"]["deed"] == "retake"
