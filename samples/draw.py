"""Draws the sample show *Signal Hill*: palettes, model cels, scene 012 (clean), scene 013
(faults on cels), scenes 014 and 015 (faults of frames), and scene 016 (scanned cels) with its scanner.

    python samples/draw.py                                   draws everything again
    python samples/draw.py --out /tmp/x --only 'sc012/A/*'   draws some pictures elsewhere

Everything is drawn by code and comes out the same every time.
"""

import argparse
import fnmatch
import json
from collections.abc import Iterator
from pathlib import Path

from drawing_kit.cel import Pixels, png_bytes
from drawing_kit.chart24 import blank_scan, chart_scan
from drawing_kit.faults013 import planted_013
from drawing_kit.flatbed import DPI, on_scan, scan_bytes
from drawing_kit.harbor import harbor, jpeg_bytes
from drawing_kit.paintshop import write_palettes
from drawing_kit.plant import Planted
from drawing_kit.scene014 import PLANTED_14, planted_14, scene_14
from drawing_kit.scene015 import PLANTED_15, scene_15
from drawing_kit.scene016 import LIES, background_16, planted_16, scan_16, scene_16
from drawing_kit.scenes import MODEL_CELS, Scene, blank, scene_12, scene_13
from drawing_kit.sheets import frames_of, write_scene, write_sheet
from PIL import Image

ROOT = Path(__file__).resolve().parent.parent


def file_name(scene: Scene, level: str, drawing: str) -> str:
    """The path of a drawing under samples/."""
    digits = drawing.rstrip("abcdefghijklmnopqrstuvwxyz")
    ending = "jpg" if scene.scan else "png"
    return f"sc{scene.number}/{level}/{level}-{digits.zfill(4)}{drawing[len(digits) :]}.{ending}"


def all_scenes() -> tuple[Scene, ...]:
    return scene_12(), scene_13(), scene_14(), scene_15(), scene_16()


def model_cel(name: str) -> Pixels:
    model, draw = MODEL_CELS[name]
    cel = blank((model,), None)
    draw(cel)
    return cel.render()


def pictures(only: str) -> Iterator[tuple[str, bytes]]:
    """Every picture as (path under samples/, bytes of its file)."""
    for name in MODEL_CELS:
        if fnmatch.fnmatch(name, only):
            yield name, png_bytes(model_cel(name))
    for scene in all_scenes():
        for level, content in scene.levels.items():
            for drawing in content.drawings:
                name = file_name(scene, level, drawing)
                if fnmatch.fnmatch(name, only):
                    yield name, drawing_bytes(scene, level, drawing)
        name = f"sc{scene.number}/bg/harbor.jpg"
        if fnmatch.fnmatch(name, only):
            yield name, jpeg_bytes(background(scene))
    for name, scan, dpi in (("chart", chart_scan, DPI), ("blank", blank_scan, DPI / 2)):
        if fnmatch.fnmatch(f"scanner/{name}.jpg", only):
            yield f"scanner/{name}.jpg", scan_bytes(scan(), dpi)


def background(scene: Scene) -> Image.Image:
    return background_16() if scene.scan else harbor(scene.condition, perch=scene.number == "012")


def drawing_bytes(scene: Scene, level: str, drawing: str) -> bytes:
    cel = scene.levels[level].cel(drawing, scene.condition)
    pixels = cel.render()
    if scene.scan:
        return scan_bytes(scan_16(drawing, pixels, cel.colors))
    if scene.number == "014":
        return png_bytes(planted_14(level, drawing, pixels))
    planted = planted_013(level, drawing, pixels, cel.colors) if scene.number == "013" else None
    data = png_bytes(planted.pixels if planted else pixels)
    return data[: int(len(data) * 0.55)] if planted and planted.kind == "unreadable" else data


def truth_13() -> list[dict[str, object]]:
    """The planted faults of scene 013, one record each."""
    scene, records = scene_13(), []
    for level, content in scene.levels.items():
        for drawing in content.drawings:
            cel = content.cel(drawing, scene.condition)
            planted = planted_013(level, drawing, cel.render(), cel.colors)
            if planted:
                records.append(record(scene, level, drawing, planted))
    lost = Planted(
        "missing-cel", model_cel("lamp-model.png"), None, None, "The sheet calls B 9; nobody drew it."
    )
    return [*records, record(scene, "B", "9", lost)]


def truth_16() -> list[dict[str, object]]:
    """The planted faults of scene 016; boxes and areas are those of the scans."""
    scene, records = scene_16(), []
    for drawing in scene.levels["A"].drawings:
        cel = scene.levels["A"].cel(drawing, scene.condition)
        planted = planted_16(drawing, cel.render(), cel.colors)
        if planted:
            box = on_scan(planted.box, LIES[drawing]) if planted.box else None
            records.append(record(scene, "A", drawing, planted) | {"box": box})
    return records


def record(scene: Scene, level: str, drawing: str, planted: Planted) -> dict[str, object]:
    there = drawing in scene.levels[level].drawings
    return {
        "kind": planted.kind,
        "level": level,
        "drawing": drawing,
        "file": file_name(scene, level, drawing).split("/", 1)[1] if there else None,
        "box": planted.box,
        "area": planted.area,
        "frames": frames_of(scene.exposure, level, drawing, scene.frames),
        "what": planted.what,
    }


def write_papers(samples: Path) -> None:
    """Sheets, scene files and the truth."""
    for scene in all_scenes():
        folder = samples / f"sc{scene.number}"
        write_sheet(folder / "sheet.csv", scene.exposure, scene.frames, scene.remarks)
        models = {level: [model.stem for model in content.models] for level, content in scene.levels.items()}
        write_scene(folder / "scene.toml", scene_keys(scene), models, scene.scan)
    keys = ("kind", "level", "frames", "what")
    frames = {
        name: [dict(zip(keys, entry, strict=True)) for entry in planted]
        for name, planted in (("sc014", PLANTED_14), ("sc015", PLANTED_15))
    }
    for name, entries in (("sc013", truth_13()), *frames.items(), ("sc016", truth_16())):
        text = "[\n" + ",\n".join(json.dumps(entry) for entry in entries) + "\n]\n"
        (samples / name / "planted.json").write_text(text, encoding="utf-8")


def scene_keys(scene: Scene) -> dict[str, str | float]:
    keys: dict[str, str | float] = {"number": scene.number, "source": "scan" if scene.scan else "digital"}
    keys |= {"condition": scene.condition} if scene.condition else {}
    return keys | {"fps": 24, "field": scene.field, "background": "bg/harbor.jpg"}


def main() -> None:
    parser = argparse.ArgumentParser(description="Draw the sample show.")
    parser.add_argument("--out", type=Path, default=ROOT, help="where palettes/ and samples/ are written")
    parser.add_argument(
        "--only", default="*", help="draw only the pictures whose path under samples/ matches"
    )
    options = parser.parse_args()
    for name, data in pictures(options.only):
        path = options.out / "samples" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)
    if options.only == "*":
        write_palettes(options.out / "palettes")
        write_papers(options.out / "samples")


if __name__ == "__main__":
    main()
