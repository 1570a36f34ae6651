"""Small episodes on disk, gone through in this process, and the command line in processes of its own."""

import contextlib
import json
import os
import re
import subprocess
import sys
from pathlib import Path

from PIL import Image, ImageDraw

from cel_check.episode.folder import find_episode
from cel_check.episode.jobs import job_plan
from cel_check.episode.ledger import open_ledger
from cel_check.episode.night import NightPlan, run_night
from cel_check.episode.pool import Stop, run_here
from cel_check.report.episode import write_episode
from cel_check.report.write import write_scene
from cel_check.settings import DEFAULTS

ROOT = Path(__file__).resolve().parents[2]
COAT, OFF, PAINTED_WRONG = "#C8553D", "#CC6048", "#DC7A64"

MODEL = """schema = 1
[model]
character = "{character}"
tolerance = {tolerance}
[[color]]
id = "coat"
name = "Coat"
use = "paint"
srgb = "{coat}"
paint = "{paint}"
[[color]]
id = "outline"
name = "Outline"
use = "ink"
srgb = "#202020"
"""


def write_model(path, coat=COAT, tolerance=2.0, paint="R-31", character="Tilda Brake"):
    """Write a color model of one paint and one ink."""
    text = MODEL.format(coat=coat, tolerance=tolerance, paint=paint, character=character)
    path.write_text(text, encoding="utf-8")


def paint_cel(path, coat=COAT, number=0, size=(160, 90)):
    """Paint a cel: one coat with its ink line; `number` moves it, so that each is a file of its own."""
    path.parent.mkdir(parents=True, exist_ok=True)
    image = Image.new("RGBA", size, (0, 0, 0, 0))
    x, y = 30 + number % 40, 10 + number // 40 % 12
    ImageDraw.Draw(image).ellipse((x, y, x + 70, y + 64), fill=coat, outline="#202020", width=4)
    image.save(path, "PNG")
    return path


def make_scene(folder, drawings=3, model="tilda", first=0):
    """Make a scene whose cels all pass."""
    for number in range(1, drawings + 1):
        paint_cel(folder / "A" / f"A-{number:04}.png", number=first + number)
    rows = "".join(f"{number},{number}\n" for number in range(1, drawings + 1))
    (folder / "sheet.csv").write_text("frame,A\n" + rows, encoding="utf-8")
    (folder / "scene.toml").write_text(
        f'schema = 1\n[scene]\nmodels = ["../{model}.toml"]\n', encoding="utf-8"
    )
    return folder


def make_episode(folder, scenes=2, drawings=3):
    """Make an episode whose cels all pass and differ from one another."""
    folder.mkdir(parents=True, exist_ok=True)
    write_model(folder / "tilda.toml")
    for number in range(scenes):
        make_scene(folder / f"sc{number + 1:03}", drawings, first=number * drawings)
    return folder


class Night:
    """One run in this process, with what it checked and what it remembered."""

    def __init__(self, folder, stop_after=None, out=None, settings=DEFAULTS, models=()):
        self.checked, self.remembered = [], []
        self.out = out or folder / "check"
        self.out.mkdir(exist_ok=True)
        self.stop = Stop()
        self._stop_after = stop_after

        def engine(jobs):
            return run_here(jobs, job_plan(1, self.stop))

        crew = contextlib.nullcontext((self._watch, engine))
        plan = NightPlan(settings, self.out, write_scene, self.stop, lambda _: crew, models=models)
        self.summary = run_night(find_episode(folder), plan, lambda summary: write_episode(summary, self.out))

    def _watch(self, scene, file, remembered):
        (self.remembered if remembered else self.checked).append(f"{scene}/{file}")
        if self._stop_after is not None and len(self.checked) >= self._stop_after:
            self.stop.request()

    @property
    def states(self):
        return {scene.name: scene.state.value for scene in self.summary.scenes}

    @property
    def faults(self):
        return [line for scene in self.summary.scenes for line in scene.faults]

    @staticmethod
    def read(report):
        """Return the identities of a report's faults."""
        found = json.loads(report.read_text(encoding="utf-8"))
        return [line["identity"] for scene in found["scenes"] for line in scene["faults"]]

    def report(self):
        return json.loads((self.out / "episode.json").read_text(encoding="utf-8"))


@contextlib.contextmanager
def ledger_of(out):
    """Open the ledger of a report's folder."""
    ledger = open_ledger(Path(out) / "ledger.sqlite")
    try:
        yield ledger.db
    finally:
        ledger.close()


LEFT = ("ledger", ".cel-check-")
_CLOCK = re.compile(rb"\d{4}-\d\d-\d\d[T ]\d\d:\d\d:\d\d(?:\+00:00| UTC)?")


def everything_in(out):
    """Return every file of a report but the ledger, by name, with times taken out."""
    # A killed run may leave a part of a file behind; the next runs remove it once it is an hour old.
    files = sorted(path for path in out.rglob("*") if path.is_file() and not path.name.startswith(LEFT))
    return {path.relative_to(out).as_posix(): _CLOCK.sub(b"TIME", path.read_bytes()) for path in files}


def environment():
    return {**os.environ, "PYTHONPATH": os.pathsep.join([str(ROOT), str(Path(__file__).parent)])}


def start(*arguments, **more):
    """Start the command line in a process of its own."""
    command = [sys.executable, "-m", "cel_check", *map(os.fspath, arguments)]
    options = {
        "stdout": subprocess.PIPE,
        "stderr": subprocess.PIPE,
        "encoding": "utf-8",
        "env": environment(),
    }
    return subprocess.Popen(command, **(options | more))


def run(*arguments, **more):
    """Run the command line to its end."""
    with start(*arguments, **more) as process:
        out, err = process.communicate(timeout=300)
    return subprocess.CompletedProcess(process.args, process.returncode, out, err)
