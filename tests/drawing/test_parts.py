"""A part is measured as scikit-image measures its region, and knows what touches it or lies across a line."""

import dataclasses

import numpy as np
import pytest
from cel_art import (
    CARD,
    CLOTH,
    COAT,
    INK,
    PALETTE,
    SHADE,
    SKIN,
    Sheet,
    apart,
    covers,
    figure,
    fills,
    jpeg,
    model,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from skimage.color import rgb2lab
from skimage.measure import regionprops

from cel_check.drawing.parts import parts_of
from cel_check.model.colormodel import Palette


def by_name(drawing):
    """The one part of each color."""
    parts = {part.label: part for part in parts_of(drawing)}
    return {name: parts[labels[0]] for name, labels in fills(drawing).items() if len(labels) == 1}


def figures():
    spot = st.tuples(st.integers(20, 220), st.integers(20, 180))
    return st.lists(st.tuples(spot, st.integers(2, 60), st.sampled_from([COAT, SKIN, CLOTH])), max_size=6)


@settings(max_examples=40)
@given(figures(), st.booleans(), st.booleans())
def test_shapes_are_the_outside_library_s(disks, smooth, inked):
    sheet = Sheet(240, 200)
    for center, radius, color in disks:
        sheet.disk(center, radius, color)
        if inked:
            sheet.ring(center, radius, 4, INK)
    drawing = apart(sheet.rgba(smooth))
    regions, (x, y) = drawing.regions, drawing.ground.origin
    wanted = {one.label: one for one in regionprops(np.maximum(regions.ids, 0))}
    parts = parts_of(drawing)
    assert [part.label for part in parts] == sorted(part.label for part in parts)
    assert {regions.id_of_flat(part.label) for part in parts} == {
        region for region in wanted if region > regions.clears
    }
    for part in parts:
        one = wanted[regions.id_of_flat(part.label)]
        top, left, bottom, right = one.bbox
        assert part.area == one.area
        assert part.box == (left + x, top + y, right - left, bottom - top)
        row, col = one.centroid
        assert part.center == pytest.approx((col + x, row + y))
        central = one.moments_central / one.area
        assert part.moments == pytest.approx((central[0, 2], central[1, 1], central[2, 0]), abs=1e-6)


@pytest.mark.parametrize("smooth", [True, False])
def test_a_disk_has_a_disk_s_moments_wherever_it_lies(smooth):
    # Geometry: area pi r^2, and r^2 / 4 for the second moments.
    for center in ((60.5, 60.5), (120.5, 90.5)):
        drawing = apart(Sheet(240, 200).disk(center, 40, COAT).rgba(smooth))
        part = by_name(drawing)["Coat"]
        assert part.area == pytest.approx(np.pi * 1600, rel=0.03)
        assert part.center == pytest.approx((center[0] - 0.5, center[1] - 0.5), abs=0.5)
        assert part.moments == pytest.approx((400, 0, 400), abs=15)


def test_the_point_lies_deep_inside():
    sheet = Sheet(240, 200).shape([(20, 20), (220, 20), (220, 60), (60, 60), (60, 180), (20, 180)], COAT)
    drawing = apart(sheet.disk((200, 150), 20, SKIN).disk((200, 150), 14, None).rgba())
    for part in parts_of(drawing):
        x, y = part.point[0] - drawing.ground.origin[0], part.point[1] - drawing.ground.origin[1]
        reach = 1 if drawing.palette.colors[part.color].name == "Skin" else 15
        window = drawing.flats.labels[y - reach : y + reach + 1, x - reach : x + reach + 1]
        assert (window == part.label).all()


@settings(max_examples=25)
@given(figures(), st.booleans())
def test_every_part_has_a_point_of_its_own_color(disks, smooth):
    sheet = Sheet(240, 200)
    for center, radius, color in disks:
        sheet.disk(center, radius, color)
    rgba = sheet.rgba(smooth)
    for part in parts_of(apart(rgba)):
        color = rgb2lab(rgba[part.point[1], part.point[0], :3][None, None] / 255.0)[0, 0]
        # The pixels of a part that is but a sliver of rim may be a level off its color.
        assert part.lab == pytest.approx(tuple(color), abs=0.05 if part.area >= 40 else 0.6)
        assert covers(part.box, part.point)
        # A blended pixel one or two levels off a color counts as that color.
        assert part.spread < (0.3 if part.area >= 40 else 0.6)


def test_what_touches_bare_is_a_neighbor_by_its_shared_edges():
    sheet = Sheet().rect(20, 20, 40, 60, COAT).rect(60, 20, 50, 60, CLOTH).rect(20, 80, 90, 30, SKIN)
    parts = by_name(apart(sheet.rgba(smooth=False)))
    names = {part.label: name for name, part in parts.items()} | {0: "clear"}
    met = {name: {names[label]: edges for label, edges in part.neighbors} for name, part in parts.items()}
    assert met["Coat"] == pytest.approx({"clear": 100, "Cloth": 60, "Skin": 40}, abs=3)
    assert met["Cloth"] == pytest.approx({"clear": 110, "Coat": 60, "Skin": 50}, abs=3)
    assert met["Skin"] == pytest.approx({"clear": 150, "Coat": 40, "Cloth": 50}, abs=3)
    assert met["Coat"]["Cloth"] == met["Cloth"]["Coat"]


def test_bare_parts_have_no_ink_on_their_borders():
    sheet = Sheet().rect(20, 20, 40, 60, COAT).rect(60, 20, 50, 60, CLOTH).rect(20, 80, 90, 30, SKIN)
    parts = parts_of(apart(sheet.rgba(smooth=False)))
    assert [(part.across, part.inked) for part in parts] == [((), 0.0)] * 3


@pytest.mark.parametrize("smooth", [True, False])
@pytest.mark.parametrize("pen", [3, 5, 8])
def test_what_lies_across_a_line_is_told_by_its_edges_too(pen, smooth):
    parts = by_name(apart(figure(pen).rgba(smooth)))
    names = {part.label: name for name, part in parts.items()} | {0: "clear"}
    across = {name: {names[label]: edges for label, edges in part.across} for name, part in parts.items()}
    # The pocket's sides are 60 and 40 px, less the pen; a disk's border has 8 edges for each px of radius.
    assert across["Cloth"] == pytest.approx({"Coat": 200 - 4 * pen}, abs=6)
    assert across["Coat"]["Cloth"] == across["Cloth"]["Coat"]
    assert across["Coat"]["clear"] == pytest.approx(8 * 70, rel=0.15)
    assert across["Skin"] == pytest.approx({"clear": 8 * 28}, rel=0.2)
    assert all(part.neighbors == () and part.inked == 1.0 for part in parts.values())


def test_parts_far_apart_are_not_across_from_each_other():
    sheet = Sheet().rect(20, 20, 50, 80, COAT).rect(70, 20, 30, 80, INK).rect(100, 20, 50, 80, CLOTH)
    sheet.line([(10, 110), (150, 110)], 4, INK).line([(10, 10), (150, 10)], 4, INK)
    parts = by_name(apart(sheet.rgba()))
    assert parts["Cloth"].label not in dict(parts["Coat"].across)


def test_a_line_inside_a_part_is_no_neighbor():
    sheet = figure().line([(60, 80), (120, 80)], 4, INK)
    part = by_name(apart(sheet.rgba()))["Coat"]
    assert part.label not in dict(part.across)
    assert part.label not in dict(part.neighbors)


def test_a_hole_is_the_clear_cel():
    part = by_name(apart(Sheet().rect(20, 20, 90, 80, COAT).rect(50, 50, 20, 10, None).rgba(False)))["Coat"]
    assert dict(part.neighbors) == pytest.approx({0: 2 * (90 + 80) + 60}, abs=3)
    assert part.area == pytest.approx(90 * 80 - 200, abs=2)


def test_small_parts_are_kept():
    sheet = figure().disk((90, 75), 2.6, SKIN)
    parts = parts_of(apart(sheet.rgba()))
    skin = [part for part in parts if part.color == 1]
    assert len(skin) == 2
    assert min(part.area for part in skin) == pytest.approx(np.pi * 2.6**2, abs=8)


def test_a_part_off_the_model_is_a_part_of_no_color():
    part = by_name(apart(figure(cloth=(90, 170, 90)).rgba()))["?"]
    assert part.color == -1
    assert part.lab == pytest.approx(tuple(rgb2lab(np.array([[[90, 170, 90]]]) / 255.0)[0, 0]), abs=0.05)


def test_noise_spreads_the_color_and_leaves_its_median():
    rgba = Sheet(240, 200).disk((90, 110), 70, COAT).disk((90, 110), 30, CLOTH).rgba(card=CARD)
    noise = np.random.default_rng(3).normal(0, 3, (*rgba.shape[:2], 3))
    rgba[..., :3] = np.clip(np.rint(rgba[..., :3] + noise), 0, 255)
    wide = Palette(
        (model("Coat", COAT, tolerance=5), model("Cloth", CLOTH, tolerance=5), *PALETTE.colors[4:]), ()
    )
    parts = by_name(apart(rgba, wide))
    for name, color in (("Coat", COAT), ("Cloth", CLOTH)):
        assert parts[name].lab == pytest.approx(tuple(rgb2lab(np.array([[color]]) / 255.0)[0, 0]), abs=0.6)
        assert 1.0 < parts[name].spread < 8.0


def test_a_jpeg_s_parts_have_the_model_s_colors():
    drawing = apart(jpeg(Sheet(240, 200).rect(0, 0, 120, 200, COAT).rect(120, 0, 120, 200, CLOTH).rgba()))
    areas = sorted(parts_of(drawing), key=lambda part: -part.area)[:2]
    assert {drawing.palette.colors[part.color].name for part in areas} == {"Coat", "Cloth"}
    assert [part.area for part in areas] == pytest.approx([120 * 200] * 2, rel=0.05)


def test_art_at_the_picture_s_edge_has_no_border_there():
    part = by_name(apart(Sheet().rect(0, 0, 160, 100, SHADE).rgba()))["Shade"]
    assert (part.box, part.area, part.neighbors) == ((0, 0, 160, 100), 16000, ((0, 160),))


@pytest.mark.parametrize("card", [None, CARD])
def test_an_empty_cel_has_no_parts(card):
    assert parts_of(apart(Sheet().rgba(card=card))) == ()


def test_a_drawing_of_lines_has_no_parts():
    assert parts_of(apart(Sheet().ring((80, 60), 40, 5, INK).rgba())) == ()


def test_parts_are_plain_values_and_the_same_every_time():
    rgba = figure().rgba()
    first, second = (parts_of(apart(rgba)) for _ in range(2))
    assert first == second
    plain = (int, float, tuple)
    for part in first:
        for value in dataclasses.asdict(part).values():
            assert isinstance(value, plain)
            assert not isinstance(value, np.generic)
            if isinstance(value, tuple):
                assert not any(isinstance(item, np.generic) for item in value)
