"""Whatever a cel holds, it is taken apart into clear cel, fills and lines."""

import itertools

import numpy as np
import pytest
from cel_art import (
    BLACK,
    CARD,
    CLOTH,
    COAT,
    GREEN_INK,
    INK,
    ONLY_INKS,
    ONLY_PAINTS,
    PALETTE,
    SELF_INK,
    SKIN,
    WHITE,
    WITH_BOTH,
    WITH_WHITE,
    Sheet,
    apart,
    faults_of,
    figure,
    fills,
    jpeg,
)

PALETTES = (PALETTE, ONLY_PAINTS, ONLY_INKS, WITH_BOTH, WITH_WHITE)
ODD = {
    "empty": Sheet().rgba(),
    "empty card": Sheet().rgba(card=CARD),
    "one color": Sheet().rect(0, 0, 160, 120, COAT).rgba(),
    "one color off the model": Sheet().rect(0, 0, 160, 120, (1, 200, 250)).rgba(),
    "one ink": Sheet().rect(0, 0, 160, 120, INK).rgba(),
    "one pixel": np.full((1, 1, 4), 255, np.uint8),
    "one clear pixel": np.zeros((1, 1, 4), np.uint8),
    "one row": np.full((1, 50, 4), 255, np.uint8),
    "one column": np.full((50, 1, 4), 128, np.uint8),
    "a thin frame": Sheet().rect(0, 0, 160, 120, INK).rect(1, 1, 158, 118, None).rgba(),
    "noise": np.random.default_rng(1).integers(0, 256, (60, 80, 4), np.uint8),
    "opaque noise": np.dstack(
        [np.random.default_rng(2).integers(0, 256, (60, 80, 3), np.uint8), np.full((60, 80), 255, np.uint8)]
    ),
    "a ramp": np.dstack([*[np.tile(np.arange(160, dtype=np.uint8), (120, 1))] * 3, np.full((120, 160), 255)]),
    "faint": Sheet().disk((80, 60), 40, COAT, 7).rgba(),
}


@pytest.mark.parametrize("name", ODD)
def test_odd_cels_are_taken_apart_and_checked_whole(name):
    rgba = np.ascontiguousarray(ODD[name], np.uint8)
    for palette in PALETTES:
        drawing = apart(rgba, palette)
        assert not (drawing.paints & drawing.lines)[0]
        assert drawing.regions.ids.shape == drawing.ink.line.shape == drawing.ground.clear.shape
        for fault in faults_of(rgba, palette):
            x, y, w, h = fault.box
            assert 0 <= x < x + w <= rgba.shape[1]
            assert 0 <= y < y + h <= rgba.shape[0]


@pytest.mark.parametrize("card", [None, CARD])
@pytest.mark.parametrize("ink", [INK, SELF_INK, GREEN_INK])
@pytest.mark.parametrize(("pen", "smooth"), list(itertools.product([3, 5, 8, 14], [True, False])))
def test_a_figure_is_its_three_fills_and_its_lines(pen, smooth, ink, card):
    drawing = apart(figure(pen, ink).rgba(smooth, card))
    assert {name: len(labels) for name, labels in fills(drawing).items()} == {
        "Coat": 1,
        "Cloth": 1,
        "Skin": 1,
    }
    for name in ("Coat", "Cloth", "Skin"):
        region = drawing.regions.id_of_flat(fills(drawing)[name][0])
        assert drawing.regions.inked_share(region) > 0.97


def test_paint_and_ink_that_the_model_has_are_told_by_use():
    rgba = Sheet().disk((50, 60), 30, COAT).disk((120, 60), 30, INK).rgba()
    drawing = apart(rgba)
    assert set(fills(drawing)) == {"Coat"}
    assert drawing.ink.line.any()
    drawing = apart(rgba, ONLY_PAINTS)
    assert set(fills(drawing)) == {"Coat", "?"}
    assert not drawing.lines.any()


def test_half_clear_paint_is_a_fill_of_its_color():
    assert set(fills(apart(Sheet().disk((80, 60), 40, COAT, 120).rgba()))) == {"Coat"}


def test_colors_that_are_next_to_each_other_on_the_model_stay_apart():
    drawing = apart(Sheet().rect(20, 20, 60, 80, COAT).rect(80, 20, 60, 80, (160, 60, 45)).rgba())
    assert set(fills(drawing)) == {"Coat", "Shade"}


def test_a_jpeg_of_a_figure_has_the_figure_s_fills():
    drawing = apart(jpeg(figure().rgba(card=CARD), 92))
    large = {
        drawing.palette.colors[index].name
        for index, area, paint in zip(drawing.index, drawing.flats.area, drawing.paints, strict=True)
        if paint and index >= 0 and area > 300
    }
    assert large == {"Coat", "Cloth", "Skin"}


def test_a_shirt_of_the_card_s_white_is_a_fill():
    sheet = Sheet().disk((80, 60), 40, WHITE).ring((80, 60), 40, 5, INK)
    assert set(fills(apart(sheet.rgba(card=WHITE), WITH_WHITE))) == {"Shirt"}


def test_a_black_patch_is_paint_where_the_model_says_so():
    sheet = Sheet().disk((80, 60), 50, SKIN).disk((80, 60), 20, BLACK).ring((80, 60), 50, 4, BLACK)
    assert set(fills(apart(sheet.rgba(), WITH_BOTH))) == {"Skin", "Black"}


def test_boxes_and_points_are_the_picture_s():
    drawing = apart(figure(cloth=CLOTH).rgba())
    (cloth,) = fills(drawing)["Cloth"]
    box = drawing.box(*(int(v) for v in drawing.flats.box[cloth]))
    assert box == pytest.approx((63, 103, 54, 34), abs=2)
    assert drawing.point(*drawing.flats.center[cloth]) == pytest.approx((90, 120), abs=2)
    assert drawing.box(-900, -900, 5000, 5000) == (0, 0, 240, 200)
