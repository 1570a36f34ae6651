"""Row runs measure a label map as numpy and scikit-image measure its pixels."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from skimage.measure import regionprops

from cel_check.drawing.rows import pixels_in, row_runs

MAPS = arrays(np.int32, st.tuples(st.integers(1, 12), st.integers(1, 12)), elements=st.integers(0, 4))


@given(MAPS)
def test_runs_are_the_map_in_reading_order(labels):
    rows = row_runs(labels)
    assert (np.repeat(rows.region, rows.length) == labels.ravel()).all()
    assert (rows.start == rows.row * labels.shape[1] + rows.left).all()
    assert (rows.left + rows.length <= labels.shape[1]).all()
    beside = (rows.region[1:] == rows.region[:-1]) & (rows.row[1:] == rows.row[:-1])
    assert not beside.any()  # each run is as long as it can be


@given(MAPS)
def test_each_pixel_gets_what_its_number_has(labels):
    values = np.array([9, 7, 5, 3, 1], np.uint8)
    spread = row_runs(labels).spread(values)
    assert spread.dtype == np.uint8
    assert (spread == values[labels]).all()


@given(MAPS)
def test_measures_are_those_of_the_pixels(labels):
    rows = row_runs(labels)
    area, box, center = rows.area(5), rows.box(5), rows.center(5)
    assert (area == np.bincount(labels.ravel(), minlength=5)).all()
    for region in regionprops(labels):
        top, left, bottom, right = region.bbox
        assert box[region.label].tolist() == [left, top, right - left, bottom - top]
        assert np.allclose(center[region.label], region.centroid[::-1])
    assert (center[area == 0] == 0).all()


@given(MAPS)
def test_some_of_the_runs_are_measured_alone(labels):
    rows = row_runs(labels)
    assert (rows.only(rows.region > 2).area(5)[3:] == rows.area(5)[3:]).all()
    assert not rows.only(rows.region > 2).area(5)[:3].any()


def test_the_pixels_of_boxes_in_reading_order():
    boxes = np.array([[2, 1, 3, 2], [0, 0, 1, 1]], np.int32)
    there, owner = pixels_in(boxes, 10)
    assert there.tolist() == [12, 13, 14, 22, 23, 24, 0]
    assert owner.tolist() == [0] * 6 + [1]


def test_no_boxes_hold_no_pixels():
    there, owner = pixels_in(np.zeros((0, 4), np.int32), 10)
    assert not len(there)
    assert not len(owner)
