"""The committed samples are what `samples/draw.py` draws, sized and colored as promised, and all listed."""

import csv
import itertools
import json
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from PIL import Image
from skimage.color import deltaE_ciede2000, rgb2lab

ROOT = Path(__file__).resolve().parents[2]
SAMPLES, PALETTES = ROOT / "samples", ROOT / "palettes"


def pictures(pattern: str) -> list[str]:
    """Paths under samples/; what a run leaves in a folder called check is no sample."""
    found = (p.relative_to(SAMPLES) for p in SAMPLES.rglob(pattern))
    return sorted(p.as_posix() for p in found if "check" not in p.parts)


TRUTH = json.loads((SAMPLES / "sc013" / "planted.json").read_text(encoding="utf-8"))
CHANGED = {
    f"sc013/{entry['file']}" for entry in TRUTH if entry["kind"] not in ("uncalled-cel", "missing-cel")
}
CELS = pictures("*.png")
CLEAN = [name for name in CELS if name not in CHANGED]
PICTURES = CELS + pictures("*.jpg")
REDRAWN = [
    "tilda-model.png",
    "sc012/A/A-0004b.png",
    "sc012/C/C-0005.png",
    "sc013/A/A-0004.png",
    "sc013/B/B-0002.png",
    "sc014/B/B-0003.png",
    "sc015/title/title-0001.png",
    "sc016/A/A-0003.jpg",
    "scanner/blank.jpg",
]
LEVELS = (*"ABCDEF", "title")

Pixels = NDArray[np.uint8]
Colors = dict[str, str]


def palette(stem: str) -> dict[str, object]:
    return tomllib.loads((PALETTES / f"{stem}.toml").read_text(encoding="utf-8"))


def resolved(stem: str, condition: str | None, level: int = 1) -> Colors:
    table = palette(stem)
    colors = {entry["id"]: entry["srgb"] for entry in table["color"]}
    colors |= table.get("level-mix", {}).get(str(level), {})
    return colors | (table["condition"][condition] if condition else {})


def colors_of(name: str) -> Colors:
    """The model colors that hold for a picture, by its scene file."""
    if "/" not in name:
        return resolved(name.removesuffix("-model.png"), None)
    scene, level, _ = name.split("/")
    table = tomllib.loads((SAMPLES / scene / "scene.toml").read_text(encoding="utf-8"))
    stems = [Path(model).stem for model in table["level"][level]["models"]]
    colors: Colors = {}
    for stem in stems:
        colors |= resolved(stem, table["scene"].get("condition"), LEVELS.index(level) + 1)
    return colors


def rgb(color: str) -> tuple[int, int, int]:
    return int(color[1:3], 16), int(color[3:5], 16), int(color[5:7], 16)


def pixels_of(path: Path) -> Pixels:
    with Image.open(path) as image:
        return np.array(image)


def flats(pixels: Pixels) -> list[list[int]]:
    """The colors of all pixels that equal their eight neighbors: no blended edge is as flat as that."""
    code = pixels.astype(np.int64) @ [1 << 16, 1 << 8, 1, 1 << 24]
    near = sliding_window_view(code, (3, 3)).reshape(code.shape[0] - 2, code.shape[1] - 2, 9)
    flat = (near == near[..., 4:5]).all(axis=2) & (pixels[1:-1, 1:-1, 3] == 255)
    return np.unique(pixels[1:-1, 1:-1][flat][:, :3], axis=0).tolist()


def enclosed(pixels: Pixels) -> Iterator[int]:
    """Areas of the clear places that do not reach the picture's edge."""
    clear = np.pad((pixels[..., 3] == 0).astype(np.uint8), 1, constant_values=1)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(clear, connectivity=4)
    for number in range(1, len(stats)):
        if number != labels[0, 0]:
            yield int(stats[number, cv2.CC_STAT_AREA])


@pytest.mark.parametrize("name", REDRAWN)
def test_committed_picture_is_what_the_script_draws(name: str, tmp_path: Path) -> None:
    command = [sys.executable, str(SAMPLES / "draw.py"), "--out", str(tmp_path), "--only", name]
    subprocess.run(command, check=True, timeout=300)
    drawn, kept = pixels_of(tmp_path / "samples" / name), pixels_of(SAMPLES / name)
    assert drawn.shape == kept.shape
    differs = np.abs(drawn.astype(int) - kept).max(axis=2) > 8
    assert differs.mean() < 0.0005  # another renderer version may blend some rims differently


@pytest.mark.parametrize("stem", ["tilda", "rook", "lamp"])
def test_palette_has_enough_colors_with_numbers_and_conditions(stem: str) -> None:
    table = palette(stem)
    uses = [entry["use"] for entry in table["color"]]
    assert table["schema"] == 1
    assert uses.count("paint") >= 8
    assert uses.count("ink") >= 2
    assert len({entry["id"] for entry in table["color"]}) == len(uses)
    assert len({entry["paint"] for entry in table["color"]}) == len(uses)
    for condition in table["condition"].values():
        assert set(condition) == {entry["id"] for entry in table["color"]}
    assert all((PALETTES / path).resolve().exists() for path in table["model"]["reference"])


@pytest.mark.parametrize("condition", [None, "night", "rain"])
@pytest.mark.parametrize("stems", [("tilda", "lamp"), ("rook",)])
def test_colors_lie_further_apart_than_their_tolerances(
    stems: tuple[str, ...], condition: str | None
) -> None:
    """CIEDE2000 by scikit-image, whose own tests hold it to the 34 pairs of Sharma, Wu and Dalal (2005)."""
    for level in (1, 2):
        colors: dict[str, tuple[NDArray[np.float64], float]] = {}
        for stem in stems:
            table = palette(stem)
            allowed = {e["id"]: e.get("tolerance", table["model"]["tolerance"]) for e in table["color"]}
            for key, value in resolved(stem, condition, level).items():
                colors[key] = (rgb2lab(np.array(rgb(value)) / 255.0), allowed[key])
        for (one, (lab1, tol1)), (two, (lab2, tol2)) in itertools.combinations(colors.items(), 2):
            assert deltaE_ciede2000(lab1, lab2) > tol1 + tol2, (one, two)


def test_second_level_mix_is_there_and_small() -> None:
    base, mixed = resolved("tilda", None), resolved("tilda", None, 2)
    moved = [key for key in base if base[key] != mixed[key]]
    assert moved
    for key in moved:
        pair = [rgb2lab(np.array(rgb(c[key])) / 255.0) for c in (base, mixed)]
        assert 0.3 < deltaE_ciede2000(*pair) < 1.5


@pytest.mark.parametrize("name", CLEAN)
def test_clean_cel_has_exact_flats_and_no_small_clear_place(name: str) -> None:
    pixels = pixels_of(SAMPLES / name)
    assert pixels.shape == (1080, 1920, 4)
    opaque = pixels[pixels[..., 3] == 255][:, :3]
    model = np.array([rgb(color) for color in colors_of(name).values()])
    exact = (opaque[:, None, :] == model[None]).all(axis=2).any(axis=1)
    assert exact.mean() > 0.85  # the rest are blended edges: 13 in 100 of the smallest mouth
    assert {tuple(c) for c in flats(pixels)} <= {tuple(c) for c in model.tolist()}
    assert all(area >= 400 for area in enclosed(pixels))
    assert not pixels[pixels[..., 3] == 0].any()


def test_hard_edged_level_has_no_blended_pixels() -> None:
    for name in [n for n in CLEAN if n.startswith("sc013/B/")]:
        pixels = pixels_of(SAMPLES / name)
        assert set(np.unique(pixels[..., 3])) == {0, 255}
        assert len(np.unique(pixels[pixels[..., 3] == 255], axis=0)) <= len(colors_of(name))


@pytest.mark.parametrize("scene", ["sc012", "sc013"])
def test_scene_is_large_enough_and_sheet_calls_what_is_there(scene: str) -> None:
    text = (SAMPLES / scene / "sheet.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    assert [row["frame"] for row in rows] == [str(i + 1) for i in range(len(rows))]
    assert len(rows) >= 48
    assert {"dialogue", "notes"} <= set(rows[0])
    levels = [key for key in rows[0] if key in LEVELS]
    called = {f"{level} {row[level]}" for row in rows for level in levels if row[level] not in ("", "x")}
    there = {f"{n.split('/')[1]} {drawing_number(n)}" for n in CELS if n.startswith(f"{scene}/")}
    assert len(levels) >= 3
    assert len(there) >= 20
    assert called - there == ({"B 9"} if scene == "sc013" else set())
    assert there - called == ({"A 11"} if scene == "sc013" else set())
    assert pixels_of(SAMPLES / scene / "bg" / "harbor.jpg").shape == (1080, 1920, 3)


@pytest.mark.parametrize("scene", ["sc014", "sc015"])
def test_scene_of_frames_has_a_sheet_that_calls_what_is_there(scene: str) -> None:
    text = (SAMPLES / scene / "sheet.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(text.splitlines()))
    levels = [key for key in rows[0] if key in LEVELS]
    called = {f"{level} {row[level]}" for row in rows for level in levels if row[level] not in ("", "x")}
    assert called == {f"{n.split('/')[1]} {drawing_number(n)}" for n in CELS if n.startswith(f"{scene}/")}
    assert rows[0]["camera"] == "12F"


def drawing_number(name: str) -> str:
    found = re.search(r"-0*(\d+[a-z]?)\.png$", name)
    assert found
    return found.group(1)


def test_one_fault_of_each_kind_each_on_its_own_drawing() -> None:
    kinds = sorted(entry["kind"] for entry in TRUTH)
    once = {
        "off-model",
        "open-line",
        "wrong-part",
        "ink-color",
        "spill",
        "stray",
        "missing-cel",
        "uncalled-cel",
        "unreadable",
        "wrong-size",
    }
    assert kinds == sorted([*once, "unpainted", "unpainted"])
    assert len({(entry["level"], entry["drawing"]) for entry in TRUTH}) == len(TRUTH)
    for entry in TRUTH:
        assert bool(entry["frames"]) == (entry["kind"] != "uncalled-cel")


def test_off_model_paint_is_four_to_five_away_from_its_color_and_further_from_the_rest() -> None:
    entry = next(entry for entry in TRUTH if entry["kind"] == "off-model")
    name = f"sc013/{entry['file']}"
    x, y, w, h = entry["box"]
    window = pixels_of(SAMPLES / name)[y : y + h, x : x + w]
    values, counts = np.unique(window[window[..., 3] == 255][:, :3], axis=0, return_counts=True)
    found = rgb2lab(values[counts.argmax()] / 255.0)
    apart = {
        k: deltaE_ciede2000(found, rgb2lab(np.array(rgb(v)) / 255.0)) for k, v in colors_of(name).items()
    }
    assert 4.0 < apart.pop("trousers") < 5.0
    assert min(apart.values()) > 6.0


def test_clear_faults_are_clear_and_broken_files_are_broken() -> None:
    for entry in TRUTH:
        path = SAMPLES / "sc013" / (entry["file"] or "none")
        if entry["kind"] == "unpainted":
            _, _, w, h = entry["box"]
            areas = [a for a in enclosed(pixels_of(path)) if a < w * h]
            assert any(0.4 * entry["area"] < a <= entry["area"] for a in areas)
        if entry["kind"] == "wrong-size":
            assert pixels_of(path).shape == (1080, 1900, 4)
        if entry["kind"] == "unreadable":
            with pytest.raises(OSError, match=r"truncated|broken"):
                pixels_of(path)
        assert path.exists() == (entry["kind"] != "missing-cel")


def test_everything_is_small_enough() -> None:
    files = [
        p for p in (*SAMPLES.rglob("*"), *PALETTES.rglob("*")) if p.is_file() and "__pycache__" not in p.parts
    ]
    assert sum(p.stat().st_size for p in files) < 15_000_000


def test_readme_lists_every_picture_and_no_other() -> None:
    text = (SAMPLES / "README.md").read_text(encoding="utf-8")
    listed: set[str] = set()
    for line in text.splitlines():
        cells = line.split("|")
        if len(cells) < 3:
            continue
        names = re.findall(r"`([\w/-]+\.(?:png|jpg))`", cells[1])
        listed |= set(names[:1])
        folder = names[0].rsplit("/", 1)[0] if names and "/" in names[0] else ""
        listed |= {f"{folder}/{name}" for name in names[1:]}
        if " to " in cells[1]:
            stem, ending = names[0][: -len("0000.png")], names[0][-4:]
            first, last = int(names[0][-8:-4]), int(names[1][-8:-4])
            listed |= {f"{stem}{number:04d}{ending}" for number in range(first, last + 1)}
    assert listed == set(PICTURES)
