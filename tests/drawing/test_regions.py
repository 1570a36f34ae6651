"""Every pixel belongs to a region, and borders are counted edge by edge, with and without ink."""

import numpy as np
import pytest
from cel_art import CARD, CLOTH, COAT, INK, PALETTE, SKIN, Sheet, apart, figure, fills

from cel_check.drawing.clear import Ground
from cel_check.drawing.flats import find_flats
from cel_check.drawing.regions import BEYOND, LINE, OUTSIDE, boxes_of, map_regions

LETTERS = {".": (0, 0, 0, 0), "a": (*COAT, 255), "b": (*CLOTH, 255), "#": (*INK, 255)}


def read(text, origin=(0, 0), size=None):
    """Map a picture that is written in letters: a and b are paints, # is ink, . is clear cel."""
    rows = text.split()
    rgba = np.array([[LETTERS[letter] for letter in row] for row in rows], np.uint8)
    rgba = np.pad(rgba, ((3, 3), (3, 3), (0, 0)))
    line = np.where((rgba[..., :3] == INK).all(axis=2), 255, 0).astype(np.uint8)
    clear = np.where(rgba[..., 3] == 0, 255, 0).astype(np.uint8)
    flats = find_flats(rgba, clear)
    paints = np.array([False] + [tuple(color) != INK for color in flats.rgb[1:]])
    height, width = clear.shape
    ground = Ground(rgba, clear, origin, size or (width, height), None, False)
    return map_regions(ground, flats, paints, line)


def at(regions, column, row):
    return int(regions.ids[row + 3, column + 3])


def test_two_paints_side_by_side_share_the_edges_between_them():
    regions = read(
        """
        aaaabbbb
        aaaabbbb
        aaaabbbb
        aaaabbbb
        """
    )
    a, b = at(regions, 0, 0), at(regions, 7, 0)
    assert regions.area[[a, b]].tolist() == [16, 16]
    shared = (np.sort(regions.pairs, axis=1) == sorted((a, b))).all(axis=1)
    assert shared.sum() == 4
    assert regions.bare[[a, b]].tolist() == [16, 16]
    assert regions.inked[[a, b]].tolist() == [0, 0]
    assert (regions.pairs[:, 0] < regions.pairs[:, 1]).all()


def test_a_line_between_them_takes_their_edges():
    regions = read(
        """
        aaaa#bbbb
        aaaa#bbbb
        aaaa#bbbb
        aaaa#bbbb
        """
    )
    a, b = at(regions, 0, 0), at(regions, 8, 0)
    assert at(regions, 4, 1) == LINE
    assert not (np.sort(regions.pairs, axis=1) == sorted((a, b))).all(axis=1).any()
    assert regions.inked[[a, b]].tolist() == [4, 4]
    assert regions.bare[[a, b]].tolist() == [12, 12]
    assert regions.inked_share(a) == pytest.approx(4 / 16)


def test_a_part_with_a_line_all_around_is_inked_all_around():
    regions = read(
        """
        #######
        #aaaaa#
        #aaaaa#
        #aaaaa#
        #######
        """
    )
    a = at(regions, 2, 2)
    assert regions.area[a] == 15
    assert (regions.inked[a], regions.bare[a]) == (16, 0)
    assert regions.inked_share(a) == 1.0


def test_enclosed_clear_places_have_ids_and_boxes_of_their_own():
    regions = read(
        """
        aaaaaaaaaa
        aaa..aaaaa
        aaa..a###a
        aaaaaa#.#a
        aaaaaa###a
        aaaaaaaaaa
        """
    )
    assert regions.clears == 3
    hole, closed = at(regions, 3, 1), at(regions, 7, 3)
    assert {hole, closed} == {2, 3}
    assert regions.box[hole].tolist() == [6, 4, 2, 2]
    assert regions.box[closed].tolist() == [10, 6, 1, 1]
    assert (regions.inked[hole], regions.bare[hole]) == (0, 8)
    assert (regions.inked[closed], regions.bare[closed]) == (4, 0)
    assert regions.area[[hole, closed]].tolist() == [4, 1]


def test_the_clear_cel_outside_is_the_first_region_wherever_the_art_begins():
    for text in ("aaa aaa aaa", "a.a aaa aaa", "aaa a.a aaa"):
        regions = read(text)
        assert regions.ids[0, 0] == OUTSIDE
        assert at(regions, 0, 0) > regions.clears


def test_flats_and_ids_are_one_another_s():
    drawing = apart(figure().disk((90, 75), 8, None).rgba())
    regions = drawing.regions
    for labels in fills(drawing).values():
        for flat in labels:
            region = regions.id_of_flat(flat)
            assert regions.flat_of_id(region) == flat
            assert (regions.ids[drawing.flats.labels == flat] == region).all()
    assert all(regions.flat_of_id(clear) <= 0 for clear in range(1, regions.clears + 1))


def test_beyond_the_picture_no_border_is_counted():
    regions = read("aaaa aaaa aaaa", origin=(-3, -3), size=(4, 3))
    a = at(regions, 0, 0)
    assert (regions.ids[:3] == BEYOND).all()
    assert (regions.ids[:, -3:] == BEYOND).all()
    assert (regions.inked[a], regions.bare[a]) == (0, 0)
    assert regions.inked_share(a) == 0.0


def test_art_cut_by_the_picture_has_a_border_only_inside_it():
    rgba = Sheet().rect(0, 0, 40, 120, COAT).rect(40, 0, 5, 120, INK).rgba()
    drawing = apart(rgba)
    coat = drawing.regions.id_of_flat(fills(drawing)["Coat"][0])
    assert drawing.regions.inked_share(coat) == 1.0
    assert drawing.regions.inked[coat] == 120
    assert drawing.regions.area[coat] == 40 * 120


@pytest.mark.parametrize("card", [None, CARD])
def test_areas_are_those_that_were_drawn_rims_included(card):
    sheet = Sheet().rect(20, 20, 60, 50, COAT).rect(80, 20, 40.5, 50, CLOTH).rect(20, 70, 100.5, 30, SKIN)
    drawing = apart(sheet.rgba(card=card))
    for name, wanted in (("Coat", 3000), ("Cloth", 2025), ("Skin", 3015)):
        (flat,) = fills(drawing)[name]
        assert drawing.regions.area[drawing.regions.id_of_flat(flat)] == pytest.approx(wanted, abs=80)


def test_areas_add_up_to_the_map():
    regions = apart(figure().rgba()).regions
    count = len(regions.area)
    assert regions.area.tolist() == [int((regions.ids == region).sum()) for region in range(count)]


def test_boxes_of_no_enclosed_place_are_the_whole():
    none = np.zeros((0, 0), np.int32)
    assert boxes_of(none, (0, 0), 1, (4, 6)).tolist() == [[0, 0, 6, 4], [0, 0, 6, 4]]


def test_boxes_of_enclosed_places_are_in_the_map():
    enclosed = np.array([[1, 0, 0], [0, 2, 2]], np.int32)
    assert boxes_of(enclosed, (7, 5), 3, (20, 30)).tolist()[2:] == [[7, 5, 1, 1], [8, 6, 2, 1]]


def test_the_palette_s_colors_do_not_number_the_regions():
    first, second = (apart(figure(cloth=cloth).rgba(), PALETTE) for cloth in (CLOTH, SKIN))
    assert np.array_equal(first.regions.ids, second.regions.ids)
