"""Thin lone marks on the clear cel are dust and hairs, counted; wide ones and long ones stay."""

import cv2
import numpy as np
import pytest

from cel_check.scan.dust import Full, without_dust

CARD, DPI = (127, 168, 160), 300.0
MM = DPI / 25.4
HALF = np.array([[2.0, 0.0, 0.5], [0.0, 2.0, 0.5]])
"""From the working size to the scan, twice as large."""

HAIR = np.array([(1.0, 1.0), (2.0, 1.1), (2.8, 1.7), (2.9, 2.6), (2.2, 3.2), (1.4, 2.9)])
"""A hair that is folded, in mm."""

KNOT = np.array([(3.0, 3.0), (3.5, 3.3), (4.0, 3.4), (3.8, 3.9), (3.9, 3.2), (4.1, 2.8)])
"""A hair that lies across itself."""


def scan(*marks, tone=40):
    """A card with marks: lists of x, y in mm with a width in mm, or a disk where there is one x, y."""
    fine = 4
    ink = np.zeros((300 * fine, 400 * fine), np.uint8)
    for points, width in marks:
        places = np.rint(np.atleast_2d(points) * MM * fine).astype(np.int32)
        if len(places) == 1:
            cv2.circle(ink, places[0].tolist(), round(width * MM * fine / 2), 255, -1)
        else:
            cv2.polylines(ink, [places.reshape(-1, 1, 2)], False, 255, max(1, round(width * MM * fine)))
    share = cv2.resize(ink, (400, 300), interpolation=cv2.INTER_AREA)[..., None] / 255.0
    image = cv2.GaussianBlur(np.array(CARD) * (1 - share) + tone * share, (0, 0), 0.7)
    image += np.random.default_rng(4).normal(0, 1.0, image.shape)
    rgb = np.clip(np.rint(image), 0, 255).astype(np.uint8)
    rgba = np.dstack([rgb, np.full(rgb.shape[:2], 255, np.uint8)])
    small = cv2.resize(rgb, (200, 150), interpolation=cv2.INTER_AREA)
    clear = np.abs(small.astype(int) - CARD).max(axis=2) < 8
    return clear, Full(np.ascontiguousarray(rgba), HALF, DPI)


@pytest.mark.parametrize("tone", [40, 225], ids=["dark", "pale"])
@pytest.mark.parametrize(
    "mark",
    [([(3.0, 4.0)], 0.17), (HAIR, 0.09), (HAIR + 3.0, 0.12), ([(4.0, 3.0), (6.5, 5.0)], 0.12), (KNOT, 0.1)],
    ids=["speck", "folded hair", "thicker hair", "straight hair", "knot"],
)
def test_dust_and_hairs_are_cleared_and_counted(mark, tone):
    clear, full = scan(mark, tone=tone)
    assert not clear.all()
    cleared, count = without_dust(clear, full, DPI / 2)
    assert cleared.all()
    assert count == 1


@pytest.mark.parametrize("tone", [40, 225], ids=["dark", "pale"])
@pytest.mark.parametrize(
    "mark",
    [
        ([(3.0, 4.0)], 0.5),
        ([(9.0, 7.0)], 1.0),
        ([(4.0, 3.0), (6.0, 5.0)], 0.5),
        ([(4.0, 3.0), (9.0, 6.0)], 0.2),
    ],
    ids=["spot of half a millimeter", "spot", "short stroke", "long thin stroke"],
)
def test_dirt_and_what_was_drawn_stay(mark, tone):
    clear, full = scan(mark, tone=tone)
    cleared, count = without_dust(clear, full, DPI / 2)
    assert np.array_equal(cleared, clear)
    assert count == 0


def test_each_of_several_marks_is_told_by_itself():
    clear, full = scan(([(3.0, 4.0)], 0.17), ([(9.0, 7.0)], 0.6), (HAIR + 5.0, 0.1))
    cleared, count = without_dust(clear, full, DPI / 2)
    assert count == 2
    x, y = (round(v * MM / 2) for v in (9.0, 7.0))
    assert not cleared[y, x]
    assert not clear.all()
    assert (~cleared).sum() < 60


def test_a_bare_card_has_no_dust():
    clear, full = scan()
    assert without_dust(clear, full, DPI / 2)[1] == 0
