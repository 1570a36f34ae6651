"""False alarms on clean outside art in any pen: `python -m tests.bench.outlined FOLDER --pen 2`.

Draws a folder of flat SVG pictures (any open set: one picture a file, plain fills) with an outline around
every shape, or with none, each on a 1920 x 1080 cel against a model of its own colors, and counts what the
check finds: nothing was put in, so that all of it is false, but for flaws of the art. Left out are pictures
with gradients or clear paint, with colors closer than 5 ΔE00, and with more than 14 of them.
"""

import argparse
import io
import random
import re
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from score import wilson  # noqa: E402

from cel_check.checks.run import check_drawing  # noqa: E402
from cel_check.drawing.separate import take_apart  # noqa: E402
from cel_check.faults import Fault, Verdict  # noqa: E402
from cel_check.model.colormodel import ModelColor, Palette, Use  # noqa: E402
from cel_check.picture.picture import Picture  # noqa: E402
from cel_check.settings import DEFAULTS  # noqa: E402

WIDTH = 820
"""Pixels across a picture on its cel."""

INK = "#202020"
APART, MOST = 5.0, 14
"""ΔE00 between two colors of one picture at least, and colors at most."""

SHAPES = r"<(path|circle|rect|ellipse|polygon)\b"
OTHER = re.compile(r"gradient|opacity|filter|mask|image|url\(|currentColor", re.IGNORECASE)


def arguments() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", type=Path, help="SVG files, in folders or not")
    parser.add_argument("--pen", type=float, default=5.0, help="pixels of the outlines; 0 for none")
    parser.add_argument("--count", type=int, default=100, help="pictures")
    parser.add_argument("--seed", type=int, default=7, help="which ones")
    return parser.parse_args()


def colors_of(svg: str) -> list[str] | None:
    """Return the fills of a picture as `#RRGGBB`; None where it is left out."""
    if OTHER.search(svg) or re.search(SHAPES + r"(?![^>]*fill=)", svg):
        return None
    if re.search(r'(?:fill|stroke)="(?!none|#)', svg):
        return None
    found = {color.upper() for color in re.findall(r"#[0-9a-fA-F]{6}\b|#[0-9a-fA-F]{3}\b", svg)}
    long = {"#" + "".join(2 * digit for digit in color[1:]) if len(color) == 4 else color for color in found}
    return sorted(long - {INK}) if 2 <= len(long) <= MOST else None


def palette_of(colors: list[str], inked: bool) -> Palette | None:
    """Return the model of a picture; None where two of its colors are too close. Lab is scikit-image's."""
    codes = [tuple(int(color[at : at + 2], 16) for at in (1, 3, 5)) for color in (*colors, INK)]
    codes = codes if inked else codes[:-1]
    lab = rgb2lab(np.array([codes], np.uint8) / 255.0)[0]
    apart = deltaE_ciede2000(lab[:, None], lab[None]) + 1e3 * np.eye(len(lab))
    if apart.min() < APART:
        return None
    uses = [Use.PAINT] * len(colors) + [Use.INK] * inked
    made = tuple(
        ModelColor(f"c{number}", f"Color {number}", use, code, tuple(place.tolist()), 2.0, None, "m")
        for number, (use, code, place) in enumerate(zip(uses, codes, lab, strict=True))
    )
    return Palette(made, ("Outside",))


def drawn(svg: str, pen: float) -> NDArray[np.uint8] | None:
    """Return a picture with outlines in the middle of a cel; None where it cannot be drawn."""
    box = re.search(r'viewBox="([^"]+)"', svg)
    if box is None:
        return None
    scale = float(box.group(1).split()[2]) / WIDTH
    stroke = f'stroke="{INK}" stroke-width="{pen * scale:.4f}" stroke-linejoin="round"'
    if pen:
        svg = re.sub(SHAPES + r"(?![^>]*stroke=)", rf"<\1 {stroke}", svg)
    try:
        with Image.open(io.BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=svg, width=WIDTH)))) as image:
            art = np.asarray(image.convert("RGBA"))[:1000]
    except (ValueError, OSError):
        return None
    cel = np.zeros((1080, 1920, 4), np.uint8)
    cel[40 : 40 + len(art), 550 : 550 + WIDTH] = art
    return cel


def cels(options: argparse.Namespace) -> Iterator[tuple[str, NDArray[np.uint8], Palette]]:
    """Yield the cels with their models, in an order that the seed gives."""
    paths = sorted(options.folder.rglob("*.svg"))
    random.Random(options.seed).shuffle(paths)
    for path in paths:
        svg = path.read_text(encoding="utf-8")
        colors = colors_of(svg)
        palette = None if colors is None else palette_of(colors, options.pen > 0)
        cel = None if palette is None else drawn(svg, options.pen)
        if palette is not None and cel is not None:
            yield path.stem, cel, palette


def checked(cel: NDArray[np.uint8], palette: Palette) -> tuple[Fault, ...]:
    """Check one cel."""
    picture = Picture(cel, None, False, "", None, ())
    return check_drawing(take_apart(picture, palette, DEFAULTS), DEFAULTS)


def main() -> None:
    """Print a line for each cel that is sent back, and the counts."""
    options = arguments()
    count, back, asked, kinds = 0, 0, 0, Counter[str]()
    for name, cel, palette in cels(options):
        if count == options.count:
            break
        count += 1
        faults = checked(cel, palette)
        retakes = [fault for fault in faults if fault.verdict is Verdict.RETAKE]
        back += bool(retakes)
        asked += bool(faults) and not retakes
        kinds.update(f"{fault.kind.value} {fault.verdict.value}" for fault in faults)
        for fault in retakes[:2]:
            print(f"{name}: {fault.text} {fault.box}")
    low, high = wilson(back, count)
    print(f"{count} clean cels, pen {options.pen:g} px: {back} sent back ({low:.1%} to {high:.1%}),")
    print(f"{asked} asked about; " + ", ".join(f"{kind} {number}" for kind, number in sorted(kinds.items())))


if __name__ == "__main__":
    main()
