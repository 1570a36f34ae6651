"""A frame is its background and cels, laid from the bottom level up, mixed in linear light.

Linear light of a code: IEC 61966-2-1, by scikit-image's conversion to XYZ of a gray (its Y), an outside
implementation.
"""

import dataclasses

import cv2
import numpy as np
import pytest
from skimage.color import rgb2xyz

from cel_check.picture.picture import Picture
from cel_check.scene.blend import lay_over, reduced
from cel_check.scene.cel import thumbnail
from cel_check.scene.composite import Compositor, Layer, frame_size, lay, layer_of
from cel_check.scene.tasks import tasks_of
from cel_check.settings import DEFAULTS

RED, BLUE, CLEAR = (200, 30, 20, 255), (10, 40, 180, 255), (90, 90, 90, 0)


def light(code):
    """Return the light of a gray code from 0 to 1."""
    return rgb2xyz(np.full((1, 1, 3), np.uint8(code)))[0, 0, 1]


def plain(color, height=8, width=12):
    return np.tile(np.array(color, np.uint8), (height, width, 1))


def picture(rgba):
    return Picture(rgba, None, bool((rgba[..., 3] == 255).all()), "0" * 64, None, ())


def write(path, rgba):
    cv2.imwrite(str(path), cv2.cvtColor(rgba, cv2.COLOR_RGBA2BGRA))


@pytest.fixture
def camera(make_scene, make_cel, tmp_path):
    """Makes a compositor of two levels over a yellow background, from pictures by level and number."""

    def make(background=None, **pictures):
        scene = make_scene({"A": ["1.png", "2.png"], "B": ["1.png"]}, "frame,A,B\n1,1,1\n2,,\n3,2,\n")
        cels = []
        for task in tasks_of(scene, DEFAULTS):
            rgba = pictures.get(task.level + task.drawing)
            made = {} if rgba is None else {"thumbnail": thumbnail(picture(rgba))}
            size = (12, 8) if rgba is None else rgba.shape[1::-1]
            cels.append(make_cel(task, width=size[0], height=size[1], **made))
        write(tmp_path / "bg.png", plain((240, 240, 10, 255)) if background is None else background)
        return Compositor(dataclasses.replace(scene, folder=tmp_path, background="bg.png"), cels)

    return make


def half(color, height=8, width=12):
    rgba = plain(CLEAR, height, width)
    rgba[:, : width // 2] = color
    return rgba


def test_upper_levels_hide_lower_ones_and_clear_cel_shows_the_background(camera):
    shot = camera(A1=half(RED), A2=half(RED), B1=half(BLUE)[::-1]).shoot((("A", "1"), ("B", "1")))
    assert (shot.rgb[:, :6] == BLUE[:3]).all()
    assert (shot.rgb[:, 6:] == (240, 240, 10)).all()
    assert shot.left_out == ()


def test_a_hold_is_the_same_array_and_nothing_is_read_again(camera, tmp_path):
    made = camera(A1=half(RED), A2=half(RED), B1=half(BLUE))
    first = made.shoot((("A", "1"), ("B", "1")))
    (tmp_path / "bg.png").unlink()
    assert made.shoot((("A", "1"), ("B", "1"))).rgb is first.rgb
    assert made.shoot((("A", "1"),)).left_out == ()
    assert not first.rgb.flags.writeable


def test_a_cel_without_a_picture_is_named_and_the_rest_is_shown(camera):
    shot = camera(A1=half(RED), A2=half(RED)).shoot((("A", "1"), ("B", "1"), ("C", "9")))
    assert shot.left_out == ("B 1", "C 9")
    assert (shot.rgb[:, :6] == RED[:3]).all()


def test_a_background_that_is_not_there_is_named(camera, tmp_path):
    made = camera(A1=half(RED), A2=half(RED), B1=half(RED))
    (tmp_path / "bg.png").unlink()
    assert made.shoot((("A", "1"),)).left_out == ("bg.png",)


def test_frames_are_as_small_as_thumbnails_and_sizes_keep_their_scale(camera):
    """Pictures of 960 x 540 make frames a quarter as wide; one twice as wide shows its middle half."""
    made = camera(
        background=plain((240, 240, 10, 255), 540, 960),
        A1=half(RED, 540, 960),
        A2=half(RED, 540, 960),
        B1=half(BLUE, 540, 1920),
    )
    shot = made.shoot((("A", "1"), ("B", "1")))
    assert shot.rgb.shape == (135, 240, 3)
    assert (shot.rgb[:, :119] == BLUE[:3]).all()
    assert (shot.rgb[:, 121:] == (240, 240, 10)).all()


def test_a_background_of_fewer_pixels_is_fitted_and_a_larger_one_is_cut(camera):
    small = camera(background=half(RED, 4, 6), A1=half(BLUE), A2=half(BLUE), B1=half(BLUE)).shoot(())
    assert (small.rgb[:, :6] == RED[:3]).all()
    assert (small.rgb[:, 6:] != RED[:3]).any()
    large = plain(RED, 8, 36)
    large[:, 12:24] = BLUE
    cut = camera(background=large, A1=half(BLUE), A2=half(BLUE), B1=half(BLUE)).shoot(())
    assert (cut.rgb == BLUE[:3]).all()


@pytest.mark.parametrize("alpha", [1, 60, 128, 200, 254])
def test_a_half_clear_pixel_adds_its_share_of_light(alpha):
    frame = plain((30, 30, 30), 1, 1)
    lay_over(frame, plain((220, 220, 220, alpha), 1, 1))
    expected = light(220) * alpha / 255 + light(30) * (1 - alpha / 255)
    near = light(int(frame[0, 0, 0]) - 1), light(int(frame[0, 0, 0]) + 1)
    assert near[0] < expected < near[1]


def test_clear_and_opaque_pixels_are_copied_bit_for_bit():
    codes = np.arange(256, dtype=np.uint8).reshape(16, 16)
    frame = np.dstack([codes, codes.T, codes[::-1]])
    before = frame.copy()
    lay_over(frame, plain((1, 2, 3, 0), 16, 16))
    assert np.array_equal(frame, before)
    lay_over(frame, np.dstack([before[::-1], np.full((16, 16), 255, np.uint8)]))
    assert np.array_equal(frame, before[::-1])


def test_a_smaller_picture_shows_the_mean_light_and_hides_what_is_under_clear_pixels():
    board = np.zeros((8, 8, 4), np.uint8)
    board[..., 3] = 255
    board[::2, ::2, :3] = board[1::2, 1::2, :3] = 255
    assert (reduced(board, 4)[..., :3] == 188).all()  # half the light is code 188 of sRGB
    board[..., 3] = np.where(board[..., 0], 255, 0)
    assert (reduced(board, 4) == (255, 255, 255, 128)).all()


def test_sides_that_do_not_divide_keep_their_edge():
    small = reduced(plain(RED, 9, 13), 4)
    assert small.shape == (3, 4, 4)
    assert (small == RED).all()


@pytest.mark.parametrize("reduce", [1, 2, 3, 4])
def test_only_the_visible_rectangle_is_kept_and_lands_where_it_was(reduce):
    rgba = plain(CLEAR, 40, 60)
    rgba[13:29, 22:41] = RED
    layer = layer_of(picture(rgba), reduce)
    frame = np.full((-(-40 // reduce), -(-60 // reduce), 3), 255, np.uint8)
    lay(frame, layer)
    whole = np.full_like(frame, 255)
    lay_over(whole, reduced(rgba, reduce))
    assert layer.art.shape[0] < whole.shape[0]
    assert np.array_equal(frame, whole)


def test_a_larger_background_is_centered_and_cut():
    wide = plain(BLUE, 8, 20)
    wide[:, :4] = wide[:, 16:] = RED
    frame = np.full((8, 12, 3), 255, np.uint8)
    lay(frame, layer_of(picture(wide)))
    assert (frame == BLUE[:3]).all()


def test_an_empty_cel_and_one_beside_the_frame_show_nothing():
    frame = np.full((8, 12, 3), 77, np.uint8)
    lay(frame, layer_of(picture(plain(CLEAR)), 4))
    lay(frame, Layer(plain(RED), 30, 30, 12, 8))
    assert (frame == 77).all()


def test_the_frame_is_as_large_as_most_cels(make_scene, make_cel):
    tasks = tasks_of(make_scene({"A": ["1.png", "2.png", "3.png"]}), DEFAULTS)
    cels = [make_cel(task, width=4000 if task.drawing == "2" else 1920) for task in tasks]
    assert frame_size(cels) == (1920, 1080)
    assert frame_size(()) == (1, 1)
