"""A cel that is shifted, mirrored or turned has the same faults in the same places: no side is special."""

import functools
import json
import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest
from cel_art import CLOTH, COAT, INK, SKIN, Sheet, apart, faults_of, figure, kinds, off

from cel_check.drawing.parts import parts_of
from cel_check.faults import FaultKind
from cel_check.model.load import load_model
from cel_check.model.resolve import palette_for
from cel_check.picture.reader import read_picture
from cel_check.settings import DEFAULTS

ROOT = Path(__file__).resolve().parents[2]
TURNS = {
    "shifted": lambda cel: np.pad(cel, ((5, 2), (3, 7), *[(0, 0)] * (cel.ndim - 2))),
    "mirrored": lambda cel: cel[:, ::-1],
    "upside down": lambda cel: cel[::-1],
    "a quarter turn": np.rot90,
    "half a turn": lambda cel: np.rot90(cel, 2),
    "three quarters": lambda cel: np.rot90(cel, 3),
    "over the diagonal": lambda cel: cel.swapaxes(0, 1),
}


def cels():
    """Cels of the clean scene, and those of the other that hold a fault."""
    samples = ROOT / "samples"
    planted = json.loads((samples / "sc013" / "planted.json").read_text(encoding="utf-8"))
    bad = {"unreadable", "missing-cel", "uncalled-cel", "wrong-size"}
    spoiled = {f"sc013/{one['file']}" for one in planted if one["kind"] not in bad}
    # Every second of the large ones: their neighbors differ little, and time is short.
    clean = {path.relative_to(samples).as_posix() for path in samples.glob("sc012/[AD]/*[13579].png")}
    clean |= {path.relative_to(samples).as_posix() for path in samples.glob("sc012/[BC]/*.png")}
    return sorted(clean | spoiled)


@functools.cache
def palette_of(scene, level):
    table = tomllib.loads((ROOT / "samples" / scene / "scene.toml").read_text(encoding="utf-8"))
    models = [load_model(ROOT / "palettes" / Path(name).name) for name in table["level"][level]["models"]]
    return palette_for(models, table["scene"].get("condition"), "ABCD".index(level) + 1)


@functools.cache
def cropped(name):
    """A cel's art with a little clear cel around it, its palette, and its faults as they are."""
    scene, level, _ = name.split("/")
    rgba = read_picture(ROOT / "samples" / name, DEFAULTS).rgba
    x, y, w, h = cv2.boundingRect(np.ascontiguousarray(rgba[..., 3]))
    art = rgba[max(0, y - 4) : y + h + 4, max(0, x - 4) : x + w + 4]
    palette = palette_of(scene, level)
    return art, palette, faults_of(art, palette)


def turned_box(box, turn, size):
    """Where a box lies once its cel is turned."""
    x, y, w, h = box
    mask = np.zeros(size, np.uint8)
    mask[y : y + h, x : x + w] = 255
    return cv2.boundingRect(np.ascontiguousarray(TURNS[turn](mask)))


def hold(first, second, turn, size):
    """Hold the faults of a turned cel against those of the cel."""
    assert sorted(kinds(second)) == sorted(kinds(first))
    wanted = sorted((fault.kind, *turned_box(fault.box, turn, size)) for fault in first)
    found = sorted((fault.kind, *fault.box) for fault in second)
    for (kind, *box), (other, *where) in zip(wanted, found, strict=True):
        assert kind == other
        # A core is one pixel short on one side, and the reach of a line adds its depth, give or take one.
        assert where == pytest.approx(box, abs=3)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("name", cels())
def test_a_sample_has_the_same_faults_however_it_lies(name, turn):
    art, palette, faults = cropped(name)
    turned = faults_of(np.ascontiguousarray(TURNS[turn](art)), palette)
    if turn == "shifted":  # legs that ran off the picture end inside it then
        turned = tuple(fault for fault in turned if fault.kind is not FaultKind.SHORT_OF_FIELD)
    hold(faults, turned, turn, art.shape[:2])


DRAWN = {
    "clean": figure(),
    "pinhole": figure().disk((70, 80), 3, None),
    "dirt on the clear cel": figure().disk((25, 25), 3, (110, 100, 60)),
    "dirt in a fill": figure().disk((70, 80), 3, (110, 100, 60)),
    "off the model": figure(cloth=off(CLOTH, 5)),
    "wrong ink": figure().line([(60, 100), (120, 100)], 5, (150, 40, 150)),
    "spill beyond its line": figure().disk((162.5, 110), 5, COAT).ring((90, 110), 70, 5, INK),
    "spill over its line": figure().disk((160, 110), 7.5, COAT),
    "part not painted": figure(cloth=None),
    "bare paints": Sheet(240, 200).rect(30, 30, 80, 140, COAT).rect(110, 30, 90, 140, CLOTH),
    "a bare triangle": figure().shape([(40, 80), (90, 70), (60, 94)], SKIN),
}


@pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])
@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("name", DRAWN)
def test_a_drawn_fault_is_the_same_however_it_lies(name, turn, smooth):
    rgba = DRAWN[name].rgba(smooth)
    first = faults_of(rgba)
    hold(first, faults_of(np.ascontiguousarray(TURNS[turn](rgba))), turn, rgba.shape[:2])


def areas(rgba):
    return sorted((part.color, part.area) for part in parts_of(apart(rgba)))


@pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])
@pytest.mark.parametrize("turn", TURNS)
def test_inked_parts_keep_their_areas_however_they_lie(turn, smooth):
    rgba = figure().rgba(smooth)
    turned = areas(np.ascontiguousarray(TURNS[turn](rgba)))
    assert [color for color, _ in turned] == [color for color, _ in areas(rgba)]
    assert [area for _, area in turned] == pytest.approx([area for _, area in areas(rgba)], abs=2)


@pytest.mark.parametrize("smooth", [True, False], ids=["smooth", "hard"])
@pytest.mark.parametrize("turn", TURNS)
def test_bare_parts_keep_their_areas_however_they_lie(turn, smooth):
    rgba = DRAWN["bare paints"].rgba(smooth)
    turned = areas(np.ascontiguousarray(TURNS[turn](rgba)))
    assert [area for _, area in turned] == pytest.approx([area for _, area in areas(rgba)], abs=2)
