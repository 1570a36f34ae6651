"""What a check costs in times of decoding its own file: `python -m tests.bench.speed`.

Milliseconds differ from machine to machine, and on a shared one from minute to minute. So every round decodes
and checks each file once, in turn, on one core of one process, and the ratio of the two is what counts.
"""

import argparse
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from inspect import isfunction
from pathlib import Path
from types import ModuleType
from typing import Any

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # read by numpy when it is first imported

import cv2  # noqa: E402
import imagecodecs  # noqa: E402
import numpy as np  # noqa: E402

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from dense import dense_cel  # noqa: E402

from cel_check.checks import run as checks_run  # noqa: E402
from cel_check.drawing import separate  # noqa: E402
from cel_check.drawing.parts import parts_of  # noqa: E402
from cel_check.episode.cel_workers import prepare_worker  # noqa: E402
from cel_check.model.colormodel import Palette  # noqa: E402
from cel_check.picture import reader  # noqa: E402
from cel_check.scene.cel import check_cel, thumbnail  # noqa: E402
from cel_check.scene.folder import load_scene  # noqa: E402
from cel_check.scene.tasks import tasks_of  # noqa: E402
from cel_check.settings import DEFAULTS  # noqa: E402

SCENES = ("sc012", "sc013")
ROUNDS = 15
MUST, AIM = 4.0, 2.5
"""Times of decoding: the limit of the median over the samples, and what is aimed at (house choices)."""


@dataclass(frozen=True)
class Subject:
    """A file to check, its bytes and its level's colors."""

    name: str
    path: Path
    data: bytes
    palette: Palette


@dataclass
class Timing:
    """Seconds of every round for one file."""

    name: str
    decode: list[float] = field(default_factory=list)
    check: list[float] = field(default_factory=list)
    faults: int = 0

    @property
    def ratio(self) -> float:
        """Median over the rounds of check by decode: what disturbs a round disturbs both."""
        return float(np.median(np.array(self.check) / np.array(self.decode)))


def samples() -> list[Subject]:
    """Return the largest file, so the one with the most art, of every level of the sample scenes."""
    found = []
    for name in SCENES:
        for level in load_scene(ROOT / "samples" / name, ()).levels:
            most = max(level.drawings, key=lambda drawing: drawing.bytes)
            found.append(Subject(f"{name}/{most.file}", most.path, most.path.read_bytes(), level.palette))
    return found


def dense(folder: Path) -> Subject:
    """Write the dense cel to a folder."""
    rgba, palette = dense_cel()
    path = folder / "dense.png"
    path.write_bytes(imagecodecs.png_encode(rgba))
    return Subject("dense (generated)", path, path.read_bytes(), palette)


def whole_check(subject: Subject) -> int:
    """Check a file from its bytes on the disk to its faults and parts; return the number of faults."""
    picture = reader.read_picture(subject.path, DEFAULTS)
    drawing = separate.take_apart(picture, subject.palette, DEFAULTS)
    parts_of(drawing)
    return len(checks_run.check_drawing(drawing, DEFAULTS))


def one_round(subjects: Sequence[Subject], timings: Sequence[Timing]) -> None:
    """Decode and check every file once."""
    for subject, timing in zip(subjects, timings, strict=True):
        start = time.perf_counter()
        imagecodecs.png_decode(subject.data)
        middle = time.perf_counter()
        timing.faults = whole_check(subject)
        timing.check.append(time.perf_counter() - middle)
        timing.decode.append(middle - start)


class Stages:
    """Time spent in each stage, what it calls of other stages left out."""

    def __init__(self) -> None:
        self.own: Counter[str] = Counter()
        self._inner: list[float] = []

    def timed(self, name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        """Return the function with a clock on it."""

        def clocked(*args: Any, **options: Any) -> Any:
            start = time.perf_counter()
            self._inner.append(0.0)
            try:
                return function(*args, **options)
            finally:
                whole = time.perf_counter() - start
                self.own[name] += whole - self._inner.pop()
                if self._inner:
                    self._inner[-1] += whole

        return clocked

    @contextmanager
    def watching(self, deep: bool) -> Iterator[None]:
        """Put a clock on each check and on what reading and taking apart call; `deep`: on all functions."""
        before: list[tuple[ModuleType, str, Any]] = []
        modules = _modules() if deep else {"read": reader, "take apart": separate}
        for title, module in modules.items():
            for name, value in list(vars(module).items()):
                if isfunction(value) and value.__module__.startswith("cel_check."):
                    home = value.__module__.rpartition(".")[2] if deep else title
                    before.append((module, name, value))
                    setattr(module, name, self.timed(f"{home}: {name}", value))
        before.append((checks_run, "CHECKS", checks_run.CHECKS))
        checks_run.CHECKS = tuple(  # type: ignore[assignment]
            self.timed(f"check: {check.__name__}", check) for check in checks_run.CHECKS
        )
        try:
            yield
        finally:
            for module, name, value in before:
                setattr(module, name, value)


def _modules() -> dict[str, ModuleType]:
    """Return every loaded module that a check runs through."""
    rooms = ("cel_check.picture.", "cel_check.drawing.", "cel_check.checks.", "cel_check.color.")
    return {name: module for name, module in sys.modules.items() if name.startswith(rooms)}


def profile(subject: Subject, rounds: int, deep: bool = False) -> dict[str, float]:
    """Return the median milliseconds of each stage, or of each function."""
    seen: list[Counter[str]] = []
    for _ in range(rounds):
        stages = Stages()
        with stages.watching(deep):
            picture = reader.read_picture(subject.path, DEFAULTS)
            drawing = separate.take_apart(picture, subject.palette, DEFAULTS)
            stages.timed("contact runs", getattr)(drawing, "runs")
            stages.timed("parts", parts_of)(drawing)
            stages.timed("check: the rest", checks_run.check_drawing)(drawing, DEFAULTS)
            stages.timed("(thumbnail, not in the ratio)", thumbnail)(picture)
        seen.append(stages.own)
    names = dict.fromkeys(name for one in seen for name in one)
    return {name: 1000 * float(np.median([one[name] for one in seen])) for name in names}


def timing_lines(timings: Sequence[Timing]) -> list[str]:
    """Return the table of files."""
    lines = [f"{'file':<28}{'D ms':>8}{'check ms':>10}{'ratio':>8}{'faults':>8}"]
    for timing in timings:
        decode, check = (1000 * float(np.median(each)) for each in (timing.decode, timing.check))
        lines.append(f"{timing.name:<28}{decode:>8.1f}{check:>10.1f}{timing.ratio:>8.2f}{timing.faults:>8}")
    return lines


def profile_lines(profiles: dict[str, dict[str, float]], least: float = 0.15) -> list[str]:
    """Return the stages in ms, the costliest first; those below `least` in every file are left out."""
    stages = sorted(
        {stage for one in profiles.values() for stage in one},
        key=lambda stage: -sum(one.get(stage, 0.0) for one in profiles.values()),
    )
    shown = [stage for stage in stages if max(one.get(stage, 0.0) for one in profiles.values()) >= least]
    heads = [
        name.split(" ")[0].removesuffix(".png").replace("/", "-").replace("-00", "-")[-10:]
        for name in profiles
    ]
    lines = [f"{'ms by stage':<34}" + "".join(f"{head:>11}" for head in heads)]
    for stage in shown:
        lines.append(f"{stage:<34}" + "".join(f"{one.get(stage, 0.0):>11.2f}" for one in profiles.values()))
    return lines


def sample_ratio(timings: Sequence[Timing]) -> float:
    """Return the median ratio over the sample cels."""
    return float(np.median([timing.ratio for timing in timings if timing.name.startswith(SCENES)]))


def own_peak() -> float:
    """Return this process's largest resident size in MiB.

    Linux hands `ru_maxrss` on from the parent to the program that it starts, so the process's own high-water
    mark is read where there is one.
    """
    status = Path("/proc/self/status")
    if status.exists():
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM:"))
        return int(line.split()[1]) / 1024
    import resource  # noqa: PLC0415 - Windows has none

    unit = 1 << 20 if sys.platform == "darwin" else 1 << 10
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit


def print_peak(scene: str) -> None:
    """Check a whole scene in this process, as one worker does, and print the peak before and after in MiB."""
    prepare_worker()
    tasks = tasks_of(load_scene(ROOT / "samples" / scene, ()), DEFAULTS)
    before = own_peak()
    kept = [check_cel(task) for task in tasks]
    print(f"{len(kept)} {before:.0f} {own_peak():.0f}")


def peak_line(scene: str) -> str:
    """Tell the peak of a process of its own that checks a whole scene."""
    command = [sys.executable, str(Path(__file__)), "--peak", scene]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    cels, before, after = done.stdout.split()
    return (
        f"peak of one process that checks {scene} ({cels} cels): {after} MiB, of which imports {before} MiB"
    )


def report(
    subjects: Sequence[Subject], timings: Sequence[Timing], rounds: int, deep: bool = False
) -> list[str]:
    """Return all that is measured, as lines."""
    median = sample_ratio(timings)
    verdict = "within the aim" if median <= AIM else "within the limit" if median <= MUST else "TOO SLOW"
    lines = [*timing_lines(timings), f"median ratio over the samples: {median:.2f} ({verdict}; "]
    lines[-1] += f"must be <= {MUST}, aim {AIM}; {len(timings[0].check)} rounds)"
    profiles = {subject.name: profile(subject, rounds, deep) for subject in subjects}
    return [*lines, "", *profile_lines(profiles), "", *(peak_line(scene) for scene in SCENES)]


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="of which the median is taken")
    parser.add_argument("--deep", action="store_true", help="split the profile by function, not by stage")
    parser.add_argument("--peak", choices=SCENES, help="only check this scene and print the memory it took")
    options = parser.parse_args()
    if options.peak:
        print_peak(options.peak)
        return
    cv2.setNumThreads(1)
    with tempfile.TemporaryDirectory() as folder:
        subjects = [*samples(), dense(Path(folder))]
        timings = [Timing(subject.name) for subject in subjects]
        one_round(subjects, [Timing("") for _ in subjects])  # warms caches and lazy imports
        for _ in range(options.rounds):
            one_round(subjects, timings)
        print("\n".join(report(subjects, timings, max(3, options.rounds // 3), options.deep)))


if __name__ == "__main__":
    main()
