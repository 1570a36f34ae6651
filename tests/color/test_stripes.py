"""More than five pairs of light and dark stripes are found in any orientation, with their area; art is not.

Numbers: Recommendation ITU-R BT.1702-3 (11/2023), guideline 2 and attachment 1, as quoted by others, and
Ofcom's guidance as restated in public code (20 cd/m2, the darker below 160 cd/m2). The pictures are gratings
whose pairs, area and orientation are known by construction, drawn at three times their size and averaged;
scikit-image's warp bends them.
"""

import numpy as np
import pytest
from skimage.filters import gaussian
from skimage.transform import warp

from cel_check.color.flash import display_luminance
from cel_check.color.stripes import stripes_of

HEIGHT, WIDTH, TIMES = 135, 240, 3
DARK, LIGHT, GROUND = 40, 220, 110
PAIRS = 5


def places():
    """Return columns and rows of the middles of the large pixels, in small ones."""
    rows, columns = np.mgrid[: HEIGHT * TIMES, : WIDTH * TIMES]
    return (columns + 0.5) / TIMES, (rows + 0.5) / TIMES


def averaged(large):
    small = np.asarray(large, np.float64).reshape(HEIGHT, TIMES, WIDTH, TIMES).mean(axis=(1, 3))
    return np.repeat(small[..., None], 3, axis=2).round().astype(np.uint8)


def inside(area):
    """Return the middle of the picture of that area, of its own shape."""
    x, y = places()
    return (np.abs(x / WIDTH - 0.5) < np.sqrt(area) / 2) & (np.abs(y / HEIGHT - 0.5) < np.sqrt(area) / 2)


def across(area, angle):
    """Return how far along the normal of stripes each pixel lies: 0 to 1 over the middle of that area."""
    x, y = places()
    turn = np.cos(np.deg2rad(angle)), np.sin(np.deg2rad(angle))
    long = np.sqrt(area) * (WIDTH * abs(turn[0]) + HEIGHT * abs(turn[1]))
    return ((x - WIDTH / 2) * turn[0] + (y - HEIGHT / 2) * turn[1]) / long + 0.5


def grating(pairs, area, angle=0.0, *, colors=(DARK, LIGHT, GROUND), dark=0.5):
    """Return so many pairs of stripes on a middle part of the picture."""
    wave = across(area, angle) * pairs % 1.0
    return averaged(np.where(inside(area), np.where(wave < dark, colors[0], colors[1]), colors[2]))


def found(rgb):
    return stripes_of([np.asarray(display_luminance(rgb), np.float32)], PAIRS)[0]


def test_pictures_looked_at_in_order_show_what_each_shows_alone():
    """Stripes that stand, move on one side, go and come again: what has not changed is not looked at anew."""
    moved = grating(9, 0.6)
    moved[:, WIDTH // 2 :] = grating(9, 0.6, dark=0.4)[:, WIDTH // 2 :]
    plain = np.full_like(moved, GROUND)
    pictures = [grating(9, 0.6), moved, moved, plain, grating(11, 0.5, 30.0), grating(9, 0.6), plain, moved]
    together = stripes_of([np.asarray(display_luminance(rgb), np.float32) for rgb in pictures], PAIRS)
    for rgb, stripes in zip(pictures, together, strict=True):
        alone = found(rgb)
        assert (stripes is None) == (alone is None)
        if alone is not None:
            assert stripes.pairs == alone.pairs
            assert np.array_equal(stripes.cells, alone.cells)
    assert [stripes is not None for stripes in together] == [True, True, True, False, True, True, False, True]


def area_of(rgb):
    stripes = found(rgb)
    return stripes.area if stripes else 0.0


# At 75 degrees the six pairs of such a picture lie from corner to corner, and no line meets all of them.
ANGLES = (0, 15, 30, 45, 60, 75, 90, 120, 135, 160)


@pytest.mark.parametrize("angle", [angle for angle in ANGLES if angle != 75])
@pytest.mark.parametrize("area", [0.38, 0.42, 1.0])
def test_six_pairs_are_a_pattern_in_any_orientation_and_five_are_none(angle, area):
    assert found(grating(5, area, angle)) is None
    stripes = found(grating(6, area, angle))
    assert stripes is not None
    assert stripes.pairs == 6
    assert stripes.area == pytest.approx(area, abs=0.02)


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("pairs", [9, 20])
@pytest.mark.parametrize("limit", [0.25, 0.40])
def test_an_area_a_little_under_a_limit_is_told_from_one_a_little_over(angle, pairs, limit):
    assert area_of(grating(pairs, limit - 0.02, angle)) < limit
    assert area_of(grating(pairs, limit + 0.02, angle)) > limit


@pytest.mark.parametrize("ground", [DARK, LIGHT, GROUND])
def test_what_lies_around_makes_no_sixth_pair(ground):
    colors = (DARK, LIGHT, ground)
    assert found(grating(5, 0.4, colors=colors)) is None
    assert area_of(grating(6, 0.4, colors=colors)) > 0.35


@pytest.mark.parametrize(
    ("colors", "striped"),
    [
        ((0, 95), False),  # 0 and 18.7 cd/m2
        ((0, 100), True),  # 21.1 cd/m2 apart
        ((160, 176), False),  # 65.4 and 82.2
        ((160, 180), True),  # 65.4 and 86.7
        ((230, 244), False),  # 156.1 and 179.9: these are 23.8 apart, and the darker is below 160
        ((234, 255), False),  # 162.6 and 200: the darker is above 160
    ],
)
def test_stripes_are_clear_from_20_cd_m2_with_the_darker_below_160(colors, striped):
    """The luminances are BT.1886's, 200 * (code / 255) ** 2.4, worked out here."""
    dark, light = (200 * (code / 255) ** 2.4 for code in colors)
    striped = light - dark >= 20 and dark < 160
    assert (found(grating(9, 1.0, 20, colors=(*colors, GROUND))) is not None) == striped


def test_soft_waves_are_stripes_too():
    """Over a whole turn the picture holds nine waves that have no edge anywhere."""
    wave = 0.5 + 0.5 * np.sin(2 * np.pi * 9 * across(1.0, 30))
    assert area_of(averaged(DARK + (LIGHT - DARK) * wave)) > 0.95


@pytest.mark.parametrize(("dark", "striped"), [(0.1, False), (0.9, False), (0.3, True), (0.7, True)])
def test_lines_between_boards_are_no_stripes(dark, striped):
    assert (found(grating(10, 1.0, 0, dark=dark)) is not None) == striped


def test_checks_are_rows_of_repeated_shapes():
    x, y = places()
    checks = averaged(np.where((x // 10 + y // 10) % 2 < 1, DARK, LIGHT))
    assert area_of(checks) > 0.95


def test_curved_stripes_and_rings_and_receding_ones_are_found():
    bent = warp(
        grating(12, 1.0) / 255.0,
        lambda at: at + np.stack([10 * np.sin(at[:, 1] / 25), 0 * at[:, 1]], axis=-1),
        mode="edge",
    )
    assert area_of((bent * 255).round().astype(np.uint8)) > 0.9
    x, y = places()
    rings = np.hypot(x - WIDTH / 2, y - HEIGHT / 2) / 9 % 1.0 < 0.5
    assert area_of(averaged(np.where(rings, DARK, LIGHT))) > 0.7
    boards = np.log(1 + x / 60) * 12 % 1.0 < 0.5  # pairs of 5 px at the left, of 25 at the right
    assert area_of(averaged(np.where(boards, DARK, LIGHT))) > 0.9


def plaid(area):
    wave = (across(1.0, 0) * 30 % 1.0 < 0.5) ^ (across(1.0, 90) * 17 % 1.0 < 0.5)
    return averaged(np.where(inside(area), np.where(wave, 90, 190), GROUND))


def test_a_plaid_dress_and_a_fence_are_as_small_as_they_are():
    assert area_of(plaid(0.12)) == pytest.approx(0.12, abs=0.02)
    x, y = places()
    fence = (y > 80) & (y < 115) & (x % 12 < 6)
    assert area_of(averaged(np.where(fence, 240, 60))) == pytest.approx(35 / HEIGHT, abs=0.03)


@pytest.mark.parametrize("blur", [0.0, 0.5, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("seed", range(3))
def test_grain_is_no_pattern(blur, seed):
    noise = np.random.default_rng(seed).normal(size=(HEIGHT, WIDTH))
    noise = gaussian(noise, blur) if blur else noise
    gray = np.clip(128 + 60 * noise / noise.std(), 0, 255).astype(np.uint8)
    # Lumps of one size are even here and there by chance: less than is asked about.
    assert area_of(np.repeat(gray[..., None], 3, axis=2)) < (0.25 if blur > 2 else 0.01)


@pytest.mark.parametrize("seed", range(4))
def test_stripes_drawn_by_hand_are_stripes(seed):
    """Each edge is off by 6 % of a pair, so that stripes differ in width by half and more."""
    edges = (np.arange(28) + np.random.default_rng(seed).normal(size=28) * 0.06 * 2) / 28
    number = np.searchsorted(np.sort(edges), across(0.5, 30))
    large = np.where(inside(0.5), np.where(number % 2 > 0, LIGHT, DARK), GROUND)
    assert area_of(averaged(large)) > 0.4


@pytest.mark.parametrize("seed", range(5))
def test_blots_of_many_sizes_are_no_pattern(seed):
    """Leaves, faces in a crowd: light discs of 4 to 12 px strewn over dark ground."""
    random = np.random.default_rng(seed)
    x, y = places()
    large = np.full(x.shape, DARK)
    for _ in range(120):
        at = random.uniform(0, WIDTH), random.uniform(0, HEIGHT)
        large[np.hypot(x - at[0], y - at[1]) < random.uniform(4, 12)] = random.choice([LIGHT, GROUND, 170])
    assert area_of(averaged(large)) < 0.05


@pytest.mark.parametrize("size", [(1, 1), (5, 240), (135, 2), (20, 50)])
def test_pictures_of_any_size_are_taken(size):
    assert stripes_of([np.zeros(size, np.float32)], PAIRS) == (None,)
