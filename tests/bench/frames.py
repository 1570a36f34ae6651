"""Cost of looking at a scene's frames, in times of decoding the same cels: `python -m tests.bench.frames`.

Both run on one core. Decoding is every cel's and the background's, once, by the library that all costs are
held against (imagecodecs for PNG, whatever the program decodes with); the frames are all of the sheet's,
laid together and looked at as `before_camera` does, the background's decoding included.
"""

import argparse
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import cv2
import imagecodecs

from cel_check.errors import BadPicture
from cel_check.picture.reader import read_picture
from cel_check.scene.before_camera import before_camera
from cel_check.scene.cel import check_cel
from cel_check.scene.folder import load_scene
from cel_check.scene.frames import exposures_of
from cel_check.scene.scene import Scene
from cel_check.scene.tasks import tasks_of
from cel_check.settings import DEFAULTS

ROOT = Path(__file__).resolve().parents[2]
SCENES = ("sc012", "sc013", "sc014", "sc015")
AIM = 2.0
"""Times of decoding, at most (a house choice)."""


@dataclass(frozen=True)
class Cost:
    """Processor seconds of a scene, the best of some runs."""

    name: str
    frames: int
    pictures: int
    decoding: float
    looking: float

    @property
    def ratio(self) -> float:
        """Looking in times of decoding."""
        return self.looking / self.decoding


def seconds(work: Callable[[], object], runs: int) -> float:
    """Return the least processor time of some runs."""
    best = float("inf")
    for _ in range(runs):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def decode(scene: Scene) -> int:
    """Read every picture of a scene's frames once; return how many."""
    paths = [task.path for task in tasks_of(scene, DEFAULTS)]
    paths += [scene.folder / scene.background] if scene.background else []
    read = 0
    for path in paths:
        try:
            if path.suffix.lower() == ".png":
                imagecodecs.png_decode(path.read_bytes())
            else:
                read_picture(path)
            read += 1
        except (BadPicture, imagecodecs.PngError, OSError):
            continue
    return read


def cost_of(folder: Path, runs: int) -> Cost:
    """Measure one scene."""
    scene = load_scene(folder, ())
    exposures = exposures_of(scene)
    cels = tuple(check_cel(task) for task in tasks_of(scene, DEFAULTS))
    pictures = decode(scene)
    return Cost(
        scene.name,
        len(exposures.frames),
        pictures,
        seconds(lambda: decode(scene), runs),
        seconds(lambda: before_camera(scene, cels, exposures), runs),
    )


def main() -> None:
    """Print a line a scene."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("scenes", nargs="*", type=Path, default=[ROOT / "samples" / name for name in SCENES])
    parser.add_argument("--runs", type=int, default=5, help="the best of so many counts")
    options = parser.parse_args()
    cv2.setNumThreads(1)
    costs = [cost_of(folder, options.runs) for folder in options.scenes]
    for cost in costs:
        print(
            f"{cost.name}: {cost.pictures} pictures decoded in {1000 * cost.decoding:.0f} ms; "
            f"{cost.frames} frames laid and looked at in {1000 * cost.looking:.0f} ms; {cost.ratio:.2f} times"
        )
    most = max(cost.ratio for cost in costs)
    print(f"at most {most:.2f} times of decoding; the aim is {AIM:g}: {'kept' if most <= AIM else 'missed'}")


if __name__ == "__main__":
    main()
