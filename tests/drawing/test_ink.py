"""Lines are found as wide as they were drawn, in any color, and nothing else is a line."""

import itertools

import numpy as np
import pytest
from cel_art import (
    BLACK,
    CLOTH,
    COAT,
    GREEN_INK,
    INK,
    ONLY_INKS,
    ONLY_PAINTS,
    SELF_INK,
    SKIN,
    WITH_BOTH,
    Sheet,
    apart,
    figure,
    fills,
)
from skimage.morphology import medial_axis, skeletonize

PENS = (3, 5, 8, 14)
COLORS = (INK, SELF_INK, GREEN_INK)


CHAMFER = "the distances of a 3 x 3 mask (0.955 a step, 1.37 a diagonal) put the pen off by more than a pixel"
FIGURES_OFF = {(8, INK, True)}
LINES_OFF = {(5, True), (8, True), (14, True), (14, False)}
TURNS = (0, 17, 30, 45, 60, 70, 90)


def cases(every, off):
    """Parameters, the known failures among them marked."""
    marks = {True: [pytest.mark.xfail(strict=True, reason=CHAMFER)], False: []}
    return [pytest.param(*case, marks=marks[case in off]) for case in every]


def line_in_picture(drawing):
    x, y = drawing.ground.origin
    width, height = drawing.ground.size
    whole = np.zeros((height, width), bool)
    rows, cols = np.nonzero(drawing.ink.line)
    whole[rows + y, cols + x] = True
    return whole


def drawn(sheet, color):
    """How much of each pixel the sheet's ink covers."""
    number = next((i for i, rgba in enumerate(sheet.colors) if rgba[:3] == color and i), -1)
    height, width = (side // 8 for side in sheet.map.shape)
    return (sheet.map == number).reshape(height, 8, width, 8).mean(axis=(1, 3))


@pytest.mark.parametrize(
    ("pen", "ink", "smooth"), cases(itertools.product(PENS, COLORS, (True, False)), FIGURES_OFF)
)
def test_the_pen_of_a_figure_is_known_to_a_pixel(pen, ink, smooth):
    assert apart(figure(pen, ink).rgba(smooth)).ink.pen == pytest.approx(pen, abs=1.0)


@pytest.mark.parametrize(("pen", "smooth"), cases(itertools.product(PENS, (True, False)), LINES_OFF))
def test_the_pen_of_a_straight_line_is_known_to_a_pixel_at_any_angle(pen, smooth):
    found = []
    for turn in np.radians(TURNS):
        x, y = 60 * np.cos(turn), 60 * np.sin(turn)
        sheet = Sheet(160, 160).line([(80 - x, 80 - y), (80 + x, 80 + y)], pen, INK)
        found.append(apart(sheet.rgba(smooth)).ink.pen)
    assert found == pytest.approx([pen] * len(TURNS), abs=1.0)


@pytest.mark.parametrize("pen", PENS)
def test_the_outside_library_s_skeleton_gives_the_same_pen(pen):
    drawing = apart(figure(pen).rgba())
    line = drawing.ink.line > 0
    axis, distance = medial_axis(line, return_distance=True)
    assert drawing.ink.pen == pytest.approx(2.0 * np.median(distance[axis]), abs=1.0)
    bones = skeletonize(line)
    # A skeleton's pixels count a diagonal as long as its side, so the quotient reads wide.
    assert drawing.ink.pen == pytest.approx(line.sum() / bones.sum(), abs=max(1.5, 0.15 * pen))


@pytest.mark.parametrize("smooth", [True, False])
@pytest.mark.parametrize("pen", PENS)
@pytest.mark.parametrize("ink", COLORS)
def test_what_the_pen_covers_is_line_and_what_it_does_not_touch_is_none(pen, ink, smooth):
    sheet = figure(pen, ink)
    line, share = line_in_picture(apart(sheet.rgba(smooth))), drawn(sheet, ink)
    assert line[share > 0.75].mean() > 0.99
    assert not line[share == 0].any()


def test_lines_of_three_pixels_close_around_their_part():
    drawing = apart(figure(3).rgba())
    assert {name: len(flats) for name, flats in fills(drawing).items()} == {"Coat": 1, "Cloth": 1, "Skin": 1}
    coat = drawing.regions.id_of_flat(fills(drawing)["Coat"][0])
    assert drawing.regions.inked_share(coat) > 0.98


@pytest.mark.parametrize("smooth", [True, False])
def test_paints_that_meet_bare_have_no_line_between_them(smooth):
    sheet = Sheet().disk((70, 60), 45, COAT).disk((90, 60), 30, CLOTH).rect(0, 0, 30, 30, SKIN)
    ink = apart(sheet.rgba(smooth)).ink
    assert not ink.line.any()
    assert ink.pen == 0
    assert not len(ink.ridge)


def test_a_model_without_ink_knows_no_line():
    sheet = Sheet().disk((70, 60), 45, COAT).disk((90, 60), 30, CLOTH)
    assert not apart(sheet.rgba(), ONLY_PAINTS).ink.line.any()


def test_a_model_of_inks_alone_knows_lines_on_clear_cel():
    drawing = apart(Sheet().ring((80, 60), 40, 5, INK).rgba(), ONLY_INKS)
    assert drawing.ink.pen == pytest.approx(5, abs=1.0)
    assert not drawing.paints.any()


@pytest.mark.parametrize("smooth", [True, False])
def test_a_color_for_ink_and_paint_is_line_where_thin_and_fill_where_thick(smooth):
    sheet = Sheet(240, 160).disk((80, 80), 60, COAT).ring((80, 80), 60, 5, BLACK)
    sheet.rect(170, 40, 60, 80, BLACK)
    drawing = apart(sheet.rgba(smooth), WITH_BOTH)
    line = line_in_picture(drawing)
    assert drawing.ink.pen == pytest.approx(5, abs=1.0)
    assert not line[50:110, 180:220].any()
    assert line[80, 138:142].all()
    assert set(fills(drawing)) == {"Coat", "Black"}


@pytest.mark.parametrize("smooth", [True, False])
def test_the_same_where_the_patch_hangs_on_its_outline(smooth):
    sheet = Sheet(240, 160).disk((100, 80), 60, COAT).disk((130, 80), 28, BLACK)
    sheet.ring((100, 80), 60, 5, BLACK).line([(130, 80), (159, 80)], 5, BLACK)
    drawing = apart(sheet.rgba(smooth), WITH_BOTH)
    line = line_in_picture(drawing)
    assert not line[70:90, 120:140].any()
    assert line[80, 39:42].all()
    assert set(fills(drawing)) == {"Coat", "Black"}


def test_depth_and_ridge_lie_on_the_line():
    ink = apart(figure(8).rgba()).ink
    assert ((ink.depth > 0) == (ink.line > 0)).all()
    assert (ink.line[ink.ridge[:, 0], ink.ridge[:, 1]] > 0).all()
