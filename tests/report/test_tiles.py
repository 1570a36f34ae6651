"""The strip gathers holds into one tile and lays a frame's cels in level order over the background."""

from dataclasses import replace

import numpy as np
import report_scenes as scenes

from cel_check.faults import Verdict
from cel_check.report.tiles import TILE_WIDTH, Composer, Tile, decode_thumbnail, strip_tiles
from cel_check.scene.background import Background
from cel_check.scene.results import CelResult, FrameResult

RED, BLUE = (255, 0, 0, 255), (0, 0, 255, 255)


def flat_cel(level, color, box, size=(90, 160), **more):
    rgba = np.zeros((*size, 4), np.uint8)
    x, y, w, h = box
    rgba[y : y + h, x : x + w] = color
    known = {"width": size[1], "height": size[0], "thumbnail": scenes.thumbnail(rgba)}
    return CelResult(level, "1", f"{level}/1.png", Verdict.PASS, **(known | more))


def frame(number, drawing, verdict=Verdict.PASS, **more):
    return FrameResult(number, (("A", drawing),), verdict, **more)


def test_held_frames_share_a_tile_and_keep_their_remarks():
    remark = (("camera", "pan"),)
    frames = (frame(1, "1"), frame(2, "1", remarks=remark), frame(3, "2"), frame(4, "1"))
    tiles = strip_tiles(scenes.scene_of((), frames))
    assert [tile.frames for tile in tiles] == [(1, 2), (3,), (4,)]
    assert tiles[0].remarks == ((2, "camera", "pan"),)


def test_a_hold_is_parted_where_the_verdict_differs():
    frames = (frame(1, "1"), frame(2, "1", Verdict.RETAKE, faults=("flash",)))
    assert len(strip_tiles(scenes.scene_of((), frames))) == 2


def test_without_a_sheet_every_drawing_has_a_tile():
    cels = (CelResult("A", "1", "A/1.png", Verdict.PASS), CelResult("A", "2", "A/2.png", Verdict.NOT_CHECKED))
    tiles = strip_tiles(scenes.scene_of(cels))
    assert [(tile.frames, tile.cels[0][1], tile.verdict) for tile in tiles] == [
        ((), "1", Verdict.PASS),
        ((), "2", Verdict.NOT_CHECKED),
    ]


def test_upper_levels_cover_lower_ones():
    cels = (flat_cel("A", RED, (0, 0, 160, 90)), flat_cel("B", BLUE, (40, 20, 80, 50)))
    tile = Tile((1,), (("A", "1"), ("B", "1")), Verdict.PASS)
    rgb = Composer(cels, None).compose(tile)
    assert rgb.shape == (135, TILE_WIDTH, 3)
    assert tuple(rgb[67, 120]) == BLUE[:3]
    assert tuple(rgb[5, 5]) == RED[:3]


def test_a_tile_looks_the_same_whatever_tiles_came_before_it():
    soft = (0, 200, 0, 120)
    cels = (
        flat_cel("A", RED, (0, 0, 100, 90)),
        flat_cel("B", soft, (40, 20, 80, 50)),
        replace(flat_cel("B", soft, (60, 30, 80, 50)), drawing="2"),
        flat_cel("C", BLUE, (50, 40, 20, 20)),
    )
    seen = ("A1 B1 C1", "A1 B2 C1", "A1 B1", "", "B1 C1", "A1 Z9 B1 C1", "A1 B1 C1", "C1 B1 A1")
    tiles = [
        Tile((number,), tuple((key[0], key[1]) for key in keys.split()), Verdict.PASS)
        for number, keys in enumerate(seen)
    ]
    composer = Composer(cels, None)
    in_order = [composer.compose(tile).copy() for tile in tiles]
    for tile, rgb in zip(tiles, in_order, strict=True):
        assert np.array_equal(rgb, Composer(cels, None).compose(tile))
    assert np.array_equal(in_order[0], in_order[6])
    assert not np.array_equal(in_order[0], in_order[7])


def test_the_background_shows_where_the_cel_is_clear():
    background = Background(np.full((180, 320, 4), (10, 90, 20, 255), np.uint8))
    tile = Tile((1,), (("A", "1"),), Verdict.PASS)
    rgb = Composer((flat_cel("A", RED, (0, 0, 80, 90)),), background).compose(tile)
    assert tuple(rgb[60, 200]) == (10, 90, 20)
    assert tuple(rgb[60, 20]) == RED[:3]


def test_a_cel_wider_than_its_level_is_centered():
    usual = flat_cel("A", RED, (0, 0, 160, 90))
    wide = replace(flat_cel("B", BLUE, (150, 0, 20, 90), (90, 320)))
    tile = Tile((1,), (("A", "1"), ("B", "1")), Verdict.PASS)
    rgb = Composer((usual, replace(usual, drawing="2"), wide), None).compose(tile)
    assert tuple(rgb[60, 120]) == BLUE[:3]


def test_a_frame_without_any_picture_has_none_and_an_empty_one_shows_the_ground():
    composer = Composer((CelResult("A", "1", "A/1.png", Verdict.NOT_CHECKED),), None)
    assert composer.compose(Tile((1,), (("A", "1"),), Verdict.NOT_CHECKED)) is None
    assert composer.compose(Tile((1,), (("Z", "9"),), Verdict.RETAKE)) is None
    assert composer.compose(Tile((1,), (), Verdict.PASS)) is not None


def test_a_clear_cel_shows_what_is_below():
    clear = flat_cel("A", (0, 0, 0, 0), (0, 0, 160, 90))
    tile = Tile((1,), (("A", "1"),), Verdict.PASS, ())
    shown = Composer((clear,), None).compose(tile)
    assert shown is not None
    assert np.array_equal(shown, Composer((clear,), None).compose(Tile((1,), (), Verdict.PASS, ())))


def test_a_damaged_thumbnail_is_no_picture():
    good = scenes.thumbnail(np.zeros((9, 16, 4), np.uint8))
    assert decode_thumbnail(good).shape == (9, 16, 4)
    assert decode_thumbnail(good[:-3]) is None
    assert decode_thumbnail(b"RIFF") is None
    assert decode_thumbnail(b"") is None
