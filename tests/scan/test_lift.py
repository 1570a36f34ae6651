"""What was mixed with the card, soft rims and small holes, is lifted off it: alpha is the art's own share.

The truth is counted: shapes are drawn at eight times the size and averaged. Colors are invented.
"""

import cv2
import numpy as np
import pytest

from cel_check.scan.clear_card import clear_card
from cel_check.scan.flatten import Flattened, Inks, Own, flatten
from cel_check.scan.lift import lift

CARD, COAT, SKIN, INK = (127, 168, 160), (200, 85, 61), (236, 184, 150), (32, 30, 36)
DPI, FINE, SIZE = 150.0, 8, 200
MM = DPI / 25.4
PAINTS = np.array([COAT, SKIN, INK], np.uint8)
INKS = Inks(PAINTS, np.array([False, False, True]))


def share_of(draw):
    """The share of every pixel that `draw` covers on a sheet of eight times the size."""
    sheet = np.zeros((SIZE * FINE, SIZE * FINE), np.uint8)
    draw(sheet)
    return sheet.reshape(SIZE, FINE, SIZE, FINE).mean(axis=(1, 3))[..., None]


def disk(x, y, radius):
    middle = (round((x + 0.5) * FINE), round((y + 0.5) * FINE))
    return share_of(lambda sheet: cv2.circle(sheet, middle, round(radius * FINE), 1, -1))


def stroke(first, second, width):
    ends = [tuple(int(v * FINE) for v in end) for end in (first, second)]
    return share_of(lambda sheet: cv2.line(sheet, *ends, 1, round(width * FINE)))


def lifted(*layers, blur=0.6, grain=1.0):
    """Lay shares of colors over each other on the card, scan them and lift them off it."""
    image = np.empty((SIZE, SIZE, 3))
    image[:] = CARD
    for share, color in layers:
        image = image * (1 - share) + share * np.array(color, float)
    image = cv2.GaussianBlur(image, (0, 0), blur)
    image += np.random.default_rng(2).normal(0, grain, image.shape)
    rgb = np.clip(np.rint(image), 0, 255).astype(np.uint8)
    clear = clear_card(rgb, CARD, DPI, PAINTS.tolist()).clear
    rgb[clear] = CARD
    flat = flatten(rgb, np.concatenate([PAINTS, np.array([CARD], np.uint8)]), DPI, INKS)
    return lift(flat, clear, CARD, PAINTS[2:], DPI)


def test_a_fills_rim_has_the_fills_color_and_its_share():
    share = disk(100, 100, 60)
    out = lifted((share, COAT))
    art = out[..., 3] > 40
    assert np.abs(out[art][:, :3].astype(int) - COAT).max() <= 6
    true = cv2.GaussianBlur(share, (0, 0), 0.6)
    assert np.abs(out[..., 3] / 255 - true).mean() < 0.004
    assert out[..., 3].sum() / 255 == pytest.approx(share.sum(), rel=0.01)


@pytest.mark.parametrize("width", [3, 4, 6])
def test_a_thin_line_on_clear_cel_is_ink_without_card_in_it(width):
    share = stroke((30, 40), (170, 150), width)
    out = lifted((share, INK))
    middle = out[share[..., 0] == 1]
    assert np.abs(np.median(middle[:, :3].astype(int), axis=0) - INK).max() <= 6
    rim = out[(out[..., 3] > 60) & (share[..., 0] < 1)]
    assert np.abs(np.median(rim[:, :3].astype(int), axis=0) - INK).max() <= 6
    assert out[..., 3].sum() / 255 == pytest.approx(share.sum(), rel=0.25)


@pytest.mark.parametrize("shade", [1.0, 0.955], ids=["lit", "a tenth of light lost in shadow"])
@pytest.mark.parametrize("mm", [0.5, 0.7, 1.2])
def test_a_hole_of_half_a_millimeter_and_more_shows_clear_cel(mm, shade):
    hole = disk(90, 110, mm * MM / 2)
    out = lifted((disk(100, 100, 60), COAT), (hole, tuple(shade * v for v in CARD)))
    assert out[110, 90, 3] < 128
    bare = (out[80:141, 60:121, 3] < 128).sum()
    assert bare == pytest.approx(hole.sum(), rel=0.6)


@pytest.mark.parametrize("color", [INK, SKIN])
def test_a_spot_of_another_color_is_no_hole(color):
    out = lifted((disk(100, 100, 60), COAT), (disk(90, 110, 0.35 * MM), color))
    assert (out[80:141, 60:121, 3] == 255).all()


def test_where_a_line_parts_two_fills_no_hole_is_seen():
    half = share_of(lambda sheet: cv2.rectangle(sheet, (100 * FINE, 0), (SIZE * FINE, SIZE * FINE), 1, -1))
    body = disk(100, 100, 60)
    out = lifted((body, COAT), (body * half, SKIN), (body * stroke((100, 20), (100, 180), 4), INK))
    inside = disk(100, 100, 54)[..., 0] == 1
    assert (out[inside][:, 3] == 255).all()


def test_bare_card_is_clear():
    assert not lifted()[..., 3].any()


def test_a_hole_close_to_a_line_shows_clear_cel_and_the_line_stays():
    hole = disk(90, 110, 0.3 * MM)
    line = stroke((96.5, 40), (96.5, 180), 4)  # two pixels off
    out = lifted((disk(100, 100, 60), COAT), (hole, CARD), (disk(100, 100, 60) * line, INK))
    assert out[110, 90, 3] < 128
    assert (out[80:140, 95:98, 3] == 255).all()


def small_hole(fill, share, line=None):
    """Nine pixels that hold shares of the fill around them, the rest card; lines lie close by."""
    rgb = np.empty((SIZE, SIZE, 3))
    rgb[:] = fill
    flat = np.ones((SIZE, SIZE), bool)
    if line is not None:
        rgb[:99] = rgb[104:] = line
    rgb[100:103, 100:103] += (1 - np.array(share)[..., None]) * (np.array(BLUE, float) - fill)
    flat[100:103, 100:103] = False
    seen = Flattened(np.rint(rgb).astype(np.uint8), flat, 1.0, Own(flat.astype(np.int32), np.ones(2)), 0)
    return lift(seen, np.zeros(flat.shape, bool), BLUE, PAINTS[2:], DPI)[..., 3]


BLUE = (120, 140, 170)
SHARP = [[0.6, 0.3, 0.5], [0.3, 0.05, 0.2], [0.6, 0.3, 0.5]]
SOFT = [[0.7, 0.6, 0.7], [0.6, 0.24, 0.6], [0.8, 0.6, 0.7]]


def test_a_hole_in_a_narrow_fill_between_two_lines_is_of_that_fill():
    assert small_hole((178, 205, 50), SHARP)[101, 101] == 0
    alpha = small_hole((178, 205, 50), SHARP, INK)
    assert alpha[101, 101] == 0
    assert (alpha[:99] == 255).all()


@pytest.mark.parametrize("fill", [(253, 235, 5), (60, 60, 60), (200, 40, 90)])
def test_a_hole_whose_middle_is_a_quarter_fill_by_its_blur_is_one(fill):
    assert small_hole(fill, SOFT)[101, 101] == 0
    assert (small_hole(fill, np.clip(np.array(SOFT) + 0.2, 0, 1)) == 255).all()


def test_a_fill_that_could_be_card_and_its_neighbor_mixed_is_no_hole():
    orange, gray = (227, 112, 35), (157, 155, 155)
    rgb = np.empty((SIZE, SIZE, 3), np.uint8)
    rgb[:] = orange
    rgb[:, 101:104] = gray
    rgb[90:95, 100] = (142, 134, 143)
    flat = np.ones((SIZE, SIZE), bool)
    flat[90:95, 100] = False
    seen = Flattened(rgb, flat, 1.0, Own(flat.astype(np.int32), np.ones(2)), 0)
    assert (lift(seen, np.zeros_like(flat), BLUE, PAINTS[2:], DPI)[..., 3] == 255).all()
