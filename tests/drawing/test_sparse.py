"""Few pixels of a large map are joined and grouped as a pass over the whole map would do it."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from skimage import measure, morphology

from cel_check.drawing.sparse import grouped, joined_near

SPOTS = st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)), min_size=1, max_size=40, unique=True)


@pytest.mark.parametrize("side", [1, 3, 5])
@given(spots=SPOTS)
def test_pixels_whose_squares_touch_are_one_group(side, spots):
    rows, cols = np.array(spots).T
    whole = np.zeros((40, 40), bool)
    whole[rows + 4, cols + 4] = True
    # scikit-image's labels of the whole map, grown and joined over corners.
    grown = morphology.dilation(whole, np.ones((side, side)))
    expected = measure.label(grown, connectivity=2)[rows + 4, cols + 4]
    found = joined_near(rows, cols, side)
    assert ((found[:, None] == found) == (expected[:, None] == expected)).all()


@given(numbers=st.lists(st.integers(-5, 5), min_size=1, max_size=40))
def test_groups_come_by_number_and_their_members_in_order(numbers):
    found = [group.tolist() for group in grouped(np.array(numbers))]
    assert found == [[at for at, one in enumerate(numbers) if one == n] for n in sorted(set(numbers))]
