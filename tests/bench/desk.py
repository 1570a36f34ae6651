"""Measures the desk at 1920x1080: a frame made for the first time, one that is kept, and a step in Chromium.

    python -m tests.bench.desk [--steps 40]

It makes its own scene of three levels over a background. Nothing here is a test: figures depend on the
machine.
"""

import argparse
import statistics
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from PIL import Image, ImageDraw

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "review")]

from chromium import chromium  # noqa: E402
from serving import served  # noqa: E402

from cel_check.episode.folder import load_episode  # noqa: E402
from cel_check.episode.ledger import FILE_NAME, open_ledger  # noqa: E402
from cel_check.review.pictures import Asked, PictureDesk  # noqa: E402
from cel_check.review.shelf import shelves_of  # noqa: E402

SIZE = (1920, 1080)
STEP = """async () => {
  const stage = document.getElementById("stage");
  const before = stage.dataset.shown;
  const begun = performance.now();
  document.dispatchEvent(new KeyboardEvent("keydown", { key: "ArrowRight", bubbles: true }));
  while (stage.dataset.shown === before) await new Promise((done) => setTimeout(done, 1));
  return performance.now() - begun;
}"""


def make_scene(folder: Path, drawings: int) -> None:
    """Paint figures on three levels over a background of soft noise."""
    scene = folder / "sc001"
    for level, color in (("A", "#C8553D"), ("B", "#3D6FC8"), ("C", "#D9C84A")):
        (scene / level).mkdir(parents=True)
        for number in range(1, drawings + 1):
            image = Image.new("RGBA", SIZE, (0, 0, 0, 0))
            draw = ImageDraw.Draw(image)
            x, y = 100 + 12 * number + 400 * (ord(level) - 65), 200
            for part in range(12):
                box = (x + 20 * part, y + 40 * part, x + 20 * part + 300, y + 40 * part + 260)
                draw.ellipse(box, fill=color, outline="#202020", width=6)
            image.save(scene / level / f"{level}-{number:04}.png")
    noise = np.random.default_rng(1).integers(90, 160, (135, 240, 3), np.uint8)
    Image.fromarray(noise).resize(SIZE, Image.Resampling.BICUBIC).save(scene / "behind.png")
    rows = "".join(f"{number},{number},{number},{number}\n" for number in range(1, drawings + 1))
    (scene / "sheet.csv").write_text("frame,A,B,C\n" + rows, encoding="utf-8")
    (folder / "any.toml").write_text(
        'schema = 1\n[model]\ncharacter = "Any"\n[[color]]\nid = "coat"\nname = "Coat"\nuse = "paint"\n'
        'srgb = "#C8553D"\n',
        encoding="utf-8",
    )
    (scene / "scene.toml").write_text(
        'schema = 1\n[scene]\nbackground = "behind.png"\nmodels = ["../any.toml"]\n', encoding="utf-8"
    )


def told(name: str, seconds: list[float]) -> None:
    """Print a row: median and worst in milliseconds."""
    ranked = sorted(1000 * one for one in seconds)
    p95 = ranked[min(len(ranked) - 1, round(0.95 * len(ranked)))]
    print(f"{name:<52} median {statistics.median(ranked):6.1f} ms  p95 {p95:6.1f}  worst {ranked[-1]:6.1f}")


def on_the_server(folder: Path, steps: int, reduce: int) -> None:
    """Measure frames as the server makes them."""
    shelf, pictures = shelves_of(load_episode(folder))[0], PictureDesk()
    for name in ("made for the first time", "kept"):
        seconds = []
        for frame in range(steps):
            begun = time.perf_counter()
            body = pictures.frame(shelf, Asked(frame, 0b1111, reduce), SIZE)
            seconds.append(time.perf_counter() - begun)
        told(f"a frame {SIZE[0] // reduce} wide, {name}, {len(body) // 1024} KB", seconds)


def in_chromium(folder: Path, steps: int) -> None:
    """Measure steps from the key to the drawn picture, in a window of 1920x1080."""
    ledger = folder / FILE_NAME
    open_ledger(ledger).close()
    with served(folder, ledger, "bench") as link, chromium() as browser:
        page = browser.new_page(viewport={"width": SIZE[0], "height": SIZE[1]})
        page.goto(link)
        page.wait_for_selector("#stage[data-shown='0']")
        for name, pause in (("one after the other", 0), ("three a second", 333)):
            seconds = []
            for _ in range(steps // 2 - 1):
                page.wait_for_timeout(pause)
                seconds.append(page.evaluate(STEP) / 1000)
            told(f"a step in Chromium, {name}", seconds)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--steps", type=int, default=40)
    steps = parser.parse_args().steps
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_scene(folder, steps)
        for reduce in (2, 1):
            on_the_server(folder, steps, reduce)
        in_chromium(folder, steps)


if __name__ == "__main__":
    main()
