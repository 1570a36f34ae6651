"""What the check of a 300 dpi scan costs in times of decoding its file: `python -m tests.bench.scan_cost`.

Each drawing is scanned as it is, and once more as large as the field: the more art, the more there is to do.
As in `speed.py`: one core, every round decodes and checks each file once, the median ratio counts. Decoding
is the library's alone, from bytes in memory; a check is all that a worker does, from the file to a result.
"""

import argparse
import io
import os
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")  # read by numpy when it is first imported

import cv2  # noqa: E402
import imagecodecs  # noqa: E402
import numpy as np  # noqa: E402
import tifffile  # noqa: E402
from numpy.typing import NDArray  # noqa: E402

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parents[1]), str(HERE), str(HERE.parent / "scan")]

from cases import cels, default_cache  # noqa: E402
from scan_cases import SCANS, scan_of, scanner_of  # noqa: E402
from scan_sim import HEIGHT, STRIP, WIDTH  # noqa: E402
from speed import own_peak  # noqa: E402

from cel_check.scene.cel import check_cel  # noqa: E402
from cel_check.scene.scan_terms import widened  # noqa: E402
from cel_check.scene.tasks import CelTask  # noqa: E402
from cel_check.settings import DEFAULTS  # noqa: E402

MUST, AIM = 6.0, 3.5
"""Times of decoding (the house's limit and aim for scans)."""

ROUNDS = 7

Decode = Callable[[bytes], object]


def written(folder: Path, name: str, pixels: NDArray[np.uint8]) -> list[tuple[Path, Decode]]:
    """Write a scan as PNG and as TIFF, compressed as scanners' software does by default."""
    png, tiff = folder / f"{name}.png", folder / f"{name}.tif"
    png.write_bytes(imagecodecs.png_encode(pixels, level=6))
    tifffile.imwrite(
        tiff, pixels, photometric="rgb", compression="lzw", predictor=True, rowsperstrip=16,
        resolution=(300, 300), resolutionunit="INCH",
    )  # fmt: skip
    return [(png, imagecodecs.png_decode), (tiff, _tiff)]


def _tiff(data: bytes) -> object:
    with tifffile.TiffFile(io.BytesIO(data)) as file:
        return file.asarray(maxworkers=1)


def one_round(task: CelTask, data: bytes, decode: Decode) -> tuple[float, float]:
    """Return the seconds of decoding a file's bytes, and of its whole check."""
    start = time.process_time()
    decode(data)
    middle = time.process_time()
    result = check_cel(task)
    end = time.process_time()
    if result.error is not None:
        raise ValueError(result.error)
    return middle - start, end - middle


def filling(rgba: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a cel as large as the field."""
    times = min((WIDTH - 160) / rgba.shape[1], (HEIGHT - STRIP - 160) / rgba.shape[0])
    return np.asarray(cv2.resize(rgba, None, fx=times, fy=times, interpolation=cv2.INTER_LINEAR), np.uint8)


def ratio_of(task: CelTask, decode: Decode, rounds: int, name: str) -> float:
    """Return the median cost of a check in times of decoding its file, and print it."""
    data = task.path.read_bytes()
    one_round(task, data, decode)
    times = np.array([one_round(task, data, decode) for _ in range(rounds)])
    ratio = float(np.median(times[:, 1] / times[:, 0]))
    first, second = 1000 * np.median(times, axis=0)
    print(f"{name:<40}{task.path.suffix} D {first:.0f} ms, check {second:.0f} ms: {ratio:.2f} D", flush=True)
    return ratio


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=ROUNDS, help="of which the median is taken")
    parser.add_argument("--count", type=int, default=4, help="drawings picked before the split")
    parser.add_argument("--cache", type=Path, default=default_cache(), help="folder for cels and scans")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    ratios = []
    with tempfile.TemporaryDirectory() as folder:
        for number, case in enumerate(cels(options.count, "tune", options.cache, Counter(), SCANS)):
            scanner = scanner_of(case, number, False, options.cache)
            for name, rgba in (("", case.rgba), ("-filling", filling(case.rgba))):
                pixels = scan_of(rgba, case, scanner, Path(folder) / f"{number}{name}.zst")
                for path, decode in written(Path(folder), f"{number}{name}", pixels):
                    palette = widened(case.palette, scanner.terms)
                    task = CelTask("A", "1", path.name, path, palette, DEFAULTS, 60.0, scan=scanner.terms)
                    ratios.append(ratio_of(task, decode, options.rounds, case.name + name))
    median, worst = float(np.median(ratios)), max(ratios)
    verdict = "within the aim" if median <= AIM else "within the limit"
    verdict = verdict if worst <= MUST else "TOO SLOW"
    print(
        f"median {median:.2f} D, at most {worst:.2f} D ({verdict}; must be <= {MUST}, aim {AIM}); "
        f"peak {own_peak():.0f} MiB"
    )


if __name__ == "__main__":
    main()
