"""Scene 016: Rook on seven painted cels that were scanned, with faults planted before the scan."""

from collections.abc import Callable, Mapping

from PIL import Image

from drawing_kit.cel import WIDTH, Pixels
from drawing_kit.flatbed import CARD, DPI, HEIGHT, Lie, scanned_cel
from drawing_kit.harbor import harbor
from drawing_kit.paintshop import ROOK
from drawing_kit.plant import Planted, changed, open_gap, part_at, pinhole, repaint
from drawing_kit.rook import Bird
from drawing_kit.scenes import Level, Scene, bird_at
from drawing_kit.sheets import every

PERCH = (1150, 605)
SIZE, PENS = 1.8, 1.4
"""Times the size of the model, and of its pens: lines of 0.5 to 0.9 mm on a bird of four inches."""

RED_SATCHEL = "#93583F"
"""6.5 ΔE00 from the satchel's paint, 8 and more from every other color."""

LIES: Mapping[str, Lie] = {
    "1": Lie(0.4, 0.8, -0.5, dust=7, seed=1),
    "2": Lie(-0.7, -0.6, 0.4, dust=9, seed=2),
    "3": Lie(0.2, 1.1, 0.6, dust=5, seed=3),
    "4": Lie(-0.3, 0.3, -0.9, dust=8, seed=4),
    "5": Lie(0.9, -1.2, 0.2, dust=6, seed=5),
    "6": Lie(-0.5, 0.5, 0.7, dust=7, seed=6),
    "7": Lie(0.6, -0.4, -0.6, dust=6, torn=True, seed=7),
}
"""How each sheet lay on the glass."""


def scene_16() -> Scene:
    rook = [
        Bird(), Bird(beak=12, nod=-3), Bird(beak=28, nod=-7), Bird(nod=4, swing=5),
        Bird(nod=7, step=5, swing=2), Bird(shut=True, nod=4), Bird(nod=2, swing=-4),
    ]  # fmt: skip
    drawings = {str(i + 1): bird_at(PERCH, pose, SIZE) for i, pose in enumerate(rook)}
    exposure = {"A": {1: "1", **every(7, 3, "2", "3", "2", "4"), 19: "5", 25: "6", 28: "7", 31: "1"}}
    remarks = {
        "dialogue": {7: "One lamp. No ships."},
        "notes": {1: "day, painted cels, scanned", 25: "blink", 31: "hold"},
    }
    levels = {"A": Level(1, (ROOK,), drawings, PENS)}
    scan = {"dpi": DPI, "profile": "../scanner/scanner.toml", "backing": CARD}
    return Scene("016", None, 36, levels, exposure, remarks, WIDTH / DPI, scan)


def scan_16(drawing: str, cel: Pixels, colors: Mapping[str, str]) -> Pixels:
    """The scan of a drawing, with its fault where it has one."""
    planted = planted_16(drawing, cel, colors)
    return scanned_cel(planted.pixels if planted else cel, LIES[drawing])


def planted_16(drawing: str, pixels: Pixels, colors: Mapping[str, str]) -> Planted | None:
    """The cel with its fault, or None where it is right."""
    plant = PLANTS.get(drawing)
    return plant(pixels, colors) if plant else None


def background_16() -> Image.Image:
    """The harbor by day from near by, as large as a scan: Rook stands on the rail."""
    near = harbor(None, perch=False).crop((700, 290, 1920, 1078))
    return near.resize((WIDTH, HEIGHT), Image.Resampling.BICUBIC)


def _off_model(pixels: Pixels, colors: Mapping[str, str]) -> Planted:
    old = colors["satchel"]
    bag = part_at(pixels, (1204, 747), old)
    after = repaint(pixels, bag, (old, RED_SATCHEL), colors["satchel-line"])
    return changed("off-model", pixels, after, "The satchel is mixed 6.5 ΔE00 too red.")


def _pinhole(pixels: Pixels, colors: Mapping[str, str]) -> Planted:
    after = pinhole(pixels, (1204.3, 569.6), 0.4 / 25.4 * DPI)
    return changed("unpainted", pixels, after, "A pinhole of 0.8 mm in the wing.")


def _open_line(pixels: Pixels, colors: Mapping[str, str]) -> Planted:
    after = open_gap(pixels, (556, 564), (950, 1040), colors["body"])
    return changed("open-line", pixels, after, "The breast's line is open for 1 mm.")


def _wrong_part(pixels: Pixels, colors: Mapping[str, str]) -> Planted:
    old = colors["satchel-flap"]
    flap = part_at(pixels, (1150, 672), old)
    after = repaint(pixels, flap, (old, colors["rook-cap"]), colors["satchel-line"])
    return changed("wrong-part", pixels, after, "The satchel's flap is painted with the cap's paint.")


def _torn(pixels: Pixels, colors: Mapping[str, str]) -> Planted:
    what = "The sheet's left slot is torn open; the drawing itself is right."
    return Planted("off-register", pixels, None, None, what)


PLANTS: Mapping[str, Callable[[Pixels, Mapping[str, str]], Planted]] = {
    "2": _off_model,
    "3": _pinhole,
    "5": _open_line,
    "6": _wrong_part,
    "7": _torn,
}
