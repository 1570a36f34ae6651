"""What a check costs in times of decoding its own file: `python -m tests.bench.speed`.

Milliseconds differ from machine to machine, and on a shared one from minute to minute. So every round decodes
and checks each file once, in turn, on one core of one process, and the ratio of the two is what counts.

Decoding is the library's alone: `imagecodecs.png_decode` of bytes in memory, the fastest of the decoders that
were tried. What the program itself needs to read a picture (opening, checksum, header, alpha, too) is shown
beside it. A check is all that a worker does with a cel, from the file on the disk to a result with its
thumbnail.
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
from dataclasses import dataclass, field, replace
from inspect import isfunction
from pathlib import Path
from types import ModuleType
from typing import Any

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # read by numpy when it is first imported

import cv2  # noqa: E402
import imagecodecs  # noqa: E402
import numpy as np  # noqa: E402
from numpy.typing import NDArray  # noqa: E402

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(Path(__file__).parent)]

from art import held_out, pick_names  # noqa: E402
from cases import build  # noqa: E402
from dense import SIZE, dense_cel  # noqa: E402

from cel_check.checks import run as checks_run  # noqa: E402
from cel_check.drawing import separate  # noqa: E402
from cel_check.episode.prepare import prepare_worker  # noqa: E402
from cel_check.model.colormodel import Palette  # noqa: E402
from cel_check.picture import reader  # noqa: E402
from cel_check.scene import cel as scene_cel  # noqa: E402
from cel_check.scene.folder import load_scene  # noqa: E402
from cel_check.scene.tasks import CelTask, tasks_of  # noqa: E402
from cel_check.settings import DEFAULTS  # noqa: E402

SCENES = ("sc012", "sc013")
ROUNDS = 15
OUTSIDE = 3
"""Cels of outside art, which is larger and softer than the samples'."""

MUST, AIM = 4.0, 2.5
"""Times of decoding: the limit of the median over samples and outside art, and the aim (house choices)."""


@dataclass(frozen=True)
class Subject:
    """A file to check and its bytes; `typical` where it counts for the median."""

    name: str
    task: CelTask
    data: bytes
    typical: bool = True


@dataclass
class Timing:
    """Seconds of every round for one file."""

    name: str
    typical: bool = True
    decode: list[float] = field(default_factory=list)
    read: list[float] = field(default_factory=list)
    check: list[float] = field(default_factory=list)
    faults: int = 0

    @property
    def ratio(self) -> float:
        """Median over the rounds of check by decode: what disturbs a round disturbs both."""
        return float(np.median(self.ratios))

    @property
    def ratios(self) -> NDArray[np.float64]:
        """Check by decode, round by round."""
        return np.array(self.check) / np.array(self.decode)


def samples() -> list[Subject]:
    """Return the largest file, so the one with the most art, of every level of the sample scenes."""
    found = []
    for name in SCENES:
        largest: dict[str, CelTask] = {}
        for task in tasks_of(load_scene(ROOT / "samples" / name, ()), DEFAULTS):
            most = largest.setdefault(task.level, task)
            if task.path.stat().st_size > most.path.stat().st_size:
                largest[task.level] = task
        found += [Subject(f"{name}/{task.file}", task, task.path.read_bytes()) for task in largest.values()]
    return found


def _written(folder: Path, name: str, rgba: NDArray[np.uint8], palette: Palette) -> Subject:
    """Write a cel to a folder, compressed at zlib's usual level 6."""
    path = folder / f"{name}.png"
    path.write_bytes(imagecodecs.png_encode(rgba, level=6))
    task = CelTask("A", name, path.name, path, palette, DEFAULTS, DEFAULTS.seconds_at_least)
    return Subject(name, task, path.read_bytes())


def outside(folder: Path) -> list[Subject]:
    """Write the first cels of outside art that are not held out, each in the middle of a clear cel."""
    found: list[Subject] = []
    for name, group in pick_names():
        if len(found) == OUTSIDE:
            break
        if held_out(name):
            continue
        try:
            case = build(name, group)
        except ValueError:
            continue
        rgba = case.rgba
        if case.style.card is None and rgba.shape[0] <= SIZE[0] and rgba.shape[1] <= SIZE[1]:
            whole = np.zeros((*SIZE, 4), np.uint8)
            top, left = (SIZE[0] - rgba.shape[0]) // 2, (SIZE[1] - rgba.shape[1]) // 2
            whole[top : top + rgba.shape[0], left : left + rgba.shape[1]] = rgba
            found.append(_written(folder, f"outside-{name}", whole, case.palette))
    return found


def dense(folder: Path) -> Subject:
    """Write the dense cel to a folder; no cel is typically like it."""
    return replace(_written(folder, "dense-generated", *dense_cel()), typical=False)


def subjects_in(folder: Path) -> list[Subject]:
    """Return all files to measure; what is generated is written to a folder."""
    return [*samples(), *outside(folder), dense(folder)]


def timings_of(subjects: Sequence[Subject]) -> list[Timing]:
    """Return an empty timing for each file."""
    return [Timing(subject.name, subject.typical) for subject in subjects]


def whole_check(subject: Subject) -> int:
    """Check a file as a worker does; return the number of faults."""
    result = scene_cel.check_cel(subject.task)
    if result.error is not None:
        raise ValueError(f"{subject.name}: {result.error}")
    return len(result.faults)


def one_round(subjects: Sequence[Subject], timings: Sequence[Timing]) -> None:
    """Decode and check every file once."""
    for subject, timing in zip(subjects, timings, strict=True):
        start = time.perf_counter()
        imagecodecs.png_decode(subject.data)
        middle = time.perf_counter()
        timing.faults = whole_check(subject)
        timing.check.append(time.perf_counter() - middle)
        timing.decode.append(middle - start)
        start = time.perf_counter()
        reader.read_picture(subject.task.path, DEFAULTS)
        timing.read.append(time.perf_counter() - start)


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
        """Put a clock on each check and on each stage's steps; `deep`: on all functions."""
        before: list[tuple[ModuleType, str, Any]] = []
        modules = _modules() if deep else {"read": reader, "take apart": separate, "cel": scene_cel}
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
    rooms_and_cel = (*rooms, "cel_check.scene.cel", "cel_check.scene.measure")
    return {name: module for name, module in sys.modules.items() if name.startswith(rooms_and_cel)}


def profile(subject: Subject, rounds: int, deep: bool = False) -> dict[str, float]:
    """Return the median milliseconds of each stage, or of each function."""
    seen: list[Counter[str]] = []
    for _ in range(rounds):
        stages = Stages()
        with stages.watching(deep):
            whole_check(subject)
        seen.append(stages.own)
    names = dict.fromkeys(name for one in seen for name in one)
    return {name: 1000 * float(np.median([one[name] for one in seen])) for name in names}


def timing_lines(timings: Sequence[Timing]) -> list[str]:
    """Return the table of files."""
    lines = [
        f"{'file':<22}{'D ms':>7}{'read ms':>9}{'check ms':>10}{'ratio':>7}{'quartiles':>13}{'faults':>8}"
    ]
    for timing in timings:
        decode, read, check = (
            1000 * float(np.median(each)) for each in (timing.decode, timing.read, timing.check)
        )
        low, high = np.quantile(timing.ratios, (0.25, 0.75))
        lines.append(
            f"{timing.name:<22}{decode:>7.1f}{read:>9.1f}{check:>10.1f}{timing.ratio:>7.2f}"
            f"{low:>7.2f} {high:>5.2f}{timing.faults:>8}"
        )
    return lines


def profile_lines(profiles: dict[str, dict[str, float]], least: float = 0.15) -> list[str]:
    """Return the stages in ms, the costliest first; those below `least` in every file are left out."""
    stages = sorted(
        {stage for one in profiles.values() for stage in one},
        key=lambda stage: -sum(one.get(stage, 0.0) for one in profiles.values()),
    )
    shown = [stage for stage in stages if max(one.get(stage, 0.0) for one in profiles.values()) >= least]
    heads = [
        name.removesuffix(".png").replace("/", "-").replace("-00", "-").replace("outside-", "out-")[-10:]
        for name in profiles
    ]
    lines = [f"{'ms by stage':<34}" + "".join(f"{head:>11}" for head in heads)]
    for stage in shown:
        lines.append(f"{stage:<34}" + "".join(f"{one.get(stage, 0.0):>11.2f}" for one in profiles.values()))
    return lines


def typical_ratio(timings: Sequence[Timing]) -> float:
    """Return the median ratio over the sample cels and those of outside art."""
    return float(np.median([timing.ratio for timing in timings if timing.typical]))


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
    kept = [scene_cel.check_cel(task) for task in tasks]
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
    median = typical_ratio(timings)
    verdict = "within the aim" if median <= AIM else "within the limit" if median <= MUST else "TOO SLOW"
    lines = [*timing_lines(timings), f"median ratio over samples and outside art: {median:.2f} ({verdict}; "]
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
        subjects = subjects_in(Path(folder))
        timings = timings_of(subjects)
        one_round(subjects, timings_of(subjects))  # warms caches and lazy imports
        for _ in range(options.rounds):
            one_round(subjects, timings)
        print("\n".join(report(subjects, timings, max(3, options.rounds // 3), options.deep)))


if __name__ == "__main__":
    main()
