"""A small checked episode, and a desk on it in this process."""

from contextlib import closing, nullcontext
from pathlib import Path

from PIL import Image, ImageDraw
from starlette.testclient import TestClient

from cel_check.cli.episode import _verdicts
from cel_check.cli.status import status_of
from cel_check.episode.folder import find_episode, load_episode
from cel_check.episode.jobs import job_plan
from cel_check.episode.ledger import open_ledger
from cel_check.episode.night import NightPlan, run_night
from cel_check.episode.pool import Stop, run_here
from cel_check.report.episode import write_episode
from cel_check.report.write import write_scene
from cel_check.review.app import desk_app
from cel_check.review.gate import Gate
from cel_check.review.serve import rooms_of
from cel_check.settings import DEFAULTS

PORT = 8123
HOST = f"127.0.0.1:{PORT}"
MODEL = """schema = 1
[model]
character = "Tilda Brake"
tolerance = 2.0
[[color]]
id = "coat"
name = "Coat"
use = "paint"
srgb = "#C8553D"
paint = "R-31"
[[color]]
id = "outline"
name = "Outline"
use = "ink"
srgb = "#202020"
"""
COAT, OFF = "#C8553D", "#DC7A64"


def paint_cel(path: Path, coat: str = COAT, number: int = 0) -> Path:
    """Paint a cel: one coat with its ink line, at a place of its own."""
    path.parent.mkdir(parents=True, exist_ok=True)
    image = Image.new("RGBA", (160, 90), (0, 0, 0, 0))
    x, y = 30 + number % 40, 10 + number // 40 % 12
    ImageDraw.Draw(image).ellipse((x, y, x + 70, y + 64), fill=coat, outline="#202020", width=4)
    image.save(path, "PNG")
    return path


def make_episode(
    folder: Path, off: tuple[int, ...] = (2, 3), drawings: int = 4, scene: str = "sc001"
) -> Path:
    """Make an episode of one scene; the drawings of `off` carry a wrong coat."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "tilda.toml").write_text(MODEL, encoding="utf-8")
    for number in range(1, drawings + 1):
        color = OFF if number in off else COAT
        paint_cel(folder / scene / "A" / f"A-{number:04}.png", color, number)
    rows = "".join(f"{number},{number}\n" for number in range(1, drawings + 1))
    (folder / scene / "sheet.csv").write_text("frame,A\n" + rows, encoding="utf-8")
    text = 'schema = 1\n[scene]\nmodels = ["../tilda.toml"]\n'
    (folder / scene / "scene.toml").write_text(text, encoding="utf-8")
    return folder


def check(folder: Path):
    """Check an episode in this process, and write its report."""
    out = folder / "check"
    out.mkdir(exist_ok=True)
    stop = Stop()
    crew = nullcontext((lambda *_: None, lambda jobs: run_here(jobs, job_plan(1, stop))))
    plan = NightPlan(DEFAULTS, out, write_scene, stop, lambda _: crew)
    return run_night(find_episode(folder), plan, lambda summary: write_episode(summary, out))


def status(summary) -> int:
    """Return the exit status that `cel-check episode` ends with."""
    return int(status_of(_verdicts(summary), strict=False, exit_zero=False))


class Desk:
    """A desk on an episode, and one person at it."""

    def __init__(self, folder: Path, who: str = "Mara Quill", password: str = "", host: str = "127.0.0.1"):
        self.folder, self.who = folder, who
        ledger = folder / "check" / "ledger.sqlite"
        with closing(open_ledger(ledger)):
            pass
        self.gate = Gate(PORT, host, password)
        self.app = desk_app(rooms_of(load_episode(folder), ledger, self.gate, who))
        self.client = TestClient(self.app, base_url=f"http://{HOST}", raise_server_exceptions=False)

    def enter(self):
        assert self.client.get(f"/?token={self.gate.link}").status_code == 200
        return self

    def headers(self, **more):
        return {"origin": f"http://{HOST}", "x-desk-token": self.gate.token} | more

    def post(self, path, headers=None, /, **body):
        sent = {"who": self.who} | body
        return self.client.post(path, json=sent, headers=self.headers() if headers is None else headers)

    def scene(self):
        return self.client.get("/api/scene/0").json()

    def faults(self):
        return self.scene()["faults"]

    def decide(self, fault, deed, /, **more):
        seen = fault["decided"]["id"] if fault["decided"] else 0
        body = {"fault": fault["identity"], "deed": deed, "seen": seen, "sha256": fault["sha256"]} | more
        return self.post("/api/scene/0/decide", **body)
