"""What a night on an episode costs: `python -m tests.bench.episode --folder /tmp/ep`.

Generates an episode from the samples (every file a content of its own: a remark is put into its bytes, so
that decoding costs what it costs for the sample), decodes every file once on one and on two cores, runs
`cel-check episode` on two cores, again with nothing changed, with a tolerance and with a paint changed, and
at last afresh on one core. D is the time of decoding each file once on the same number of cores.
"""

import argparse
import json
import os
import re
import shutil
import struct
import subprocess
import sys
import threading
import time
import zlib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path

import imagecodecs

ROOT = Path(__file__).resolve().parents[2]
PLANTED_EVERY = 8
"""One scene in so many is the sample with planted faults; the rest are clean."""


@dataclass(frozen=True)
class Timed:
    """One run: seconds by the clock and of all its processes, and their memory in MiB.

    On a machine that others use too, only the seconds of the processes can be compared.
    """

    seconds: float
    busy: float
    peak: float = 0.0
    early: float = 0.0


def generate(folder: Path, pictures: int) -> int:
    """Write an episode of at least so many pictures, and return their number."""
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(ROOT / "palettes", folder / "palettes")
    episode, count, scene = folder / "ep", 0, 0
    while count < pictures:
        scene += 1
        source = ROOT / "samples" / ("sc013" if scene % PLANTED_EVERY == 0 else "sc012")
        target = episode / f"sc{scene:04}"
        shutil.copytree(source, target, ignore=shutil.ignore_patterns("check", "planted.json", "*.png"))
        text = (target / "scene.toml").read_text(encoding="utf-8")
        number = re.sub(r'number\s*=\s*"\d+"', f'number = "{scene:04}"', text)
        (target / "scene.toml").write_text(number, encoding="utf-8")
        for picture in sorted(source.rglob("*.png")):
            count += 1
            path = target / picture.relative_to(source)
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(with_remark(picture.read_bytes(), f"{scene}-{count}"))
    return count


def with_remark(png: bytes, remark: str) -> bytes:
    """Return a PNG file with a remark after its header (PNG, Third Edition, 11.3.3.2: tEXt)."""
    content = b"Comment\0" + remark.encode()
    chunk = struct.pack(">I", len(content)) + b"tEXt" + content
    chunk += struct.pack(">I", zlib.crc32(b"tEXt" + content))
    return png[:33] + chunk + png[33:]


def decode(path: Path) -> None:
    """Decode one file, whole or not."""
    with suppress(imagecodecs.PngError):  # the sample that ends too early
        imagecodecs.png_decode(path.read_bytes())


def bare_decoding(paths: Sequence[Path], cores: int) -> Timed:
    """Decode every file once, on processes that are started before the clock."""
    before = busy_seconds()
    with get_context("spawn").Pool(cores) as pool:
        pool.map(decode, paths[:8])
        start = time.perf_counter()
        for _ in pool.imap_unordered(decode, paths, chunksize=16):
            pass
        seconds = time.perf_counter() - start
        pool.close()
        pool.join()
    return Timed(seconds, busy_seconds() - before)


def busy_seconds() -> float:
    """Return the processor's time of all processes that were started and have ended."""
    times = os.times()
    return times.children_user + times.children_system


def night(episode: Path, out: Path, cores: int, *more: str) -> Timed:
    """Run the command line on an episode, and watch its memory."""
    command = [sys.executable, "-m", "cel_check", "episode", str(episode), "--out", str(out), "--exit-zero"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    start, before = time.perf_counter(), busy_seconds()
    seen: list[float] = []
    with subprocess.Popen([*command, "--jobs", str(cores), *more], env=environment) as process:
        thread = threading.Thread(target=watch, args=(process, seen), daemon=True)
        thread.start()
        process.wait()
    seconds = time.perf_counter() - start
    thread.join()
    quarter = seen[: max(1, len(seen) // 4)]
    return Timed(seconds, busy_seconds() - before, max(seen, default=0.0), max(quarter, default=0.0))


def watch(process: subprocess.Popen[bytes], seen: list[float]) -> None:
    """Note once a second the proportional memory of a process and its children, in MiB (Linux)."""
    while process.poll() is None:
        seen.append(sum(map(proportional, family(process.pid))))
        time.sleep(1.0)


def family(pid: int) -> list[int]:
    """Return a process and all that descend from it."""
    found = [pid]
    for one in found:
        try:
            found += map(int, Path(f"/proc/{one}/task/{one}/children").read_text().split())
        except OSError:
            continue
    return found


def proportional(pid: int) -> float:
    """Return a process's memory, what is shared counted in shares, in MiB."""
    try:
        text = Path(f"/proc/{pid}/smaps_rollup").read_text()
    except OSError:
        return 0.0
    found = re.search(r"^Pss:\s+(\d+)", text, re.MULTILINE)
    return int(found.group(1)) / 1024 if found else 0.0


def change(folder: Path, model: str, pattern: str, value: str) -> None:
    """Change the first place in a color model that a pattern finds."""
    path = folder / "palettes" / f"{model}.toml"
    text, count = re.subn(pattern, value, path.read_text(encoding="utf-8"), count=1)
    assert count == 1
    path.write_text(text, encoding="utf-8")


def states(out: Path) -> str:
    """Return what a run's report counts."""
    report = json.loads((out / "episode.json").read_text(encoding="utf-8"))
    return f"{report['counts']['cels']}, {report['counts']['faults']['all']} faults"


def checked(out: Path, before: int) -> tuple[int, int]:
    """Return how many results were added to the ledger, and how many there are now."""
    import sqlite3  # noqa: PLC0415

    db = sqlite3.connect(out / "ledger.sqlite")
    last = int(db.execute("SELECT max(id) FROM result").fetchone()[0])
    db.close()
    return last - before, last


def say(name: str, run: Timed, decoding: Timed, added: int) -> None:
    """Print one run."""
    print(
        f"{name:<28}{run.seconds:>8.1f} s {run.seconds / decoding.seconds:>6.2f} D by the clock"
        f"{run.busy:>8.1f} s {run.busy / decoding.busy:>6.2f} D of the processor"
        f"{added:>7} checked {run.peak:>6.0f} MiB (first quarter {run.early:.0f})",
        flush=True,
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pictures", type=int, default=10_000)
    parser.add_argument("--folder", type=Path, required=True, help="for the episode and its reports; emptied")
    parser.add_argument("--skip-one-core", action="store_true")
    options = parser.parse_args()
    count = generate(options.folder, options.pictures)
    episode = options.folder / "ep"
    paths = sorted(episode.rglob("[A-Z]/*.png"))
    print(f"{count} pictures, {sum(path.stat().st_size for path in paths) / 1e6:.0f} MB", flush=True)
    one, two = bare_decoding(paths, 1), bare_decoding(paths, 2)
    print(f"bare decoding: {one.seconds:.1f} s on one core, {two.seconds:.1f} s on two", flush=True)
    out = options.folder / "two"
    first = night(episode, out, 2)
    added, last = checked(out, 0)
    say("first run, two cores", first, two, added)
    print(states(out), f"ledger {(out / 'ledger.sqlite').stat().st_size / 1e6:.0f} MB", flush=True)
    again = night(episode, out, 2)
    added, last = checked(out, last)
    say("nothing changed", again, two, added)
    print(f"share of the first run: {100 * again.seconds / first.seconds:.2f} %", flush=True)
    change(options.folder, "tilda", r"tolerance = 1\.2", "tolerance = 1.4")
    run = night(episode, out, 2)
    added, last = checked(out, last)
    say("a tolerance changed", run, two, added)
    change(options.folder, "lamp", r"(srgb\s*=\s*\"#[0-9A-Fa-f]{5})[0-9A-Fa-f]", r"\g<1>4")
    run = night(episode, out, 2)
    added, last = checked(out, last)
    say("a paint of the lamp changed", run, two, added)
    if not options.skip_one_core:
        single = night(episode, options.folder / "one", 1)
        say("first run, one core", single, one, checked(options.folder / "one", 0)[0])
        print(f"scaling from one core to two: {single.seconds / first.seconds:.2f}", flush=True)


if __name__ == "__main__":
    main()
