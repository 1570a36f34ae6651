"""Where two regions touch with no line between them, a run tells where, from end to end and how deep."""

import numpy as np
import pytest
from cel_art import CLOTH, COAT, INK, SKIN, Sheet, apart, figure, fills


def parted(gap=0.0, ink=INK, pen=5):
    """Coat on the left and cloth on the right in one frame, the line between them open over `gap` pixels."""
    sheet = Sheet(200, 140).rect(20, 20, 80, 100, COAT).rect(100, 20, 80, 100, CLOTH)
    sheet.line([(20, 20), (180, 20), (180, 120), (20, 120)], pen, ink, closed=True)
    middle = 70
    sheet.rect(100 - pen / 2, 20, pen, middle - gap / 2 - 20, ink)
    return sheet.rect(100 - pen / 2, middle + gap / 2, pen, 120 - middle - gap / 2, ink)


def between(drawing, first, second):
    """The runs between two colors' regions."""
    ids = {
        name: {drawing.regions.id_of_flat(flat) for flat in flats} for name, flats in fills(drawing).items()
    }
    ids["clear"] = {1}
    return [
        run
        for run in drawing.runs
        if (run.pair[0] in ids[first] and run.pair[1] in ids[second])
        or (run.pair[1] in ids[first] and run.pair[0] in ids[second])
    ]


@pytest.mark.parametrize("smooth", [True, False])
def test_closed_lines_leave_no_run(smooth):
    assert apart(figure().rgba(smooth)).runs == ()
    assert apart(parted().rgba(smooth)).runs == ()


@pytest.mark.parametrize("smooth", [True, False])
@pytest.mark.parametrize("gap", [6, 10, 20, 40])
def test_a_gap_in_a_line_is_one_run_as_long_as_the_gap(gap, smooth):
    drawing = apart(parted(gap).rgba(smooth))
    (run,) = between(drawing, "Coat", "Cloth")
    # An end lies on the last bare edge, up to half a window from the ink.
    assert run.chord == pytest.approx(gap, abs=3.0)
    assert run.pair[0] < run.pair[1]
    x, y = drawing.ground.origin
    assert np.abs(run.points[:, 0] + x - 99.5).max() <= 3
    low, high = sorted(end[1] + y for end in run.ends)
    assert low == pytest.approx(70 - gap / 2, abs=2.5)
    assert high == pytest.approx(70 + gap / 2 - 1, abs=2.5)


def test_two_gaps_are_two_runs():
    sheet = parted(10).rect(97, 90, 6, 12, COAT).rect(100, 90, 3, 12, CLOTH)
    assert len(between(apart(sheet.rgba()), "Coat", "Cloth")) == 2


def test_a_gap_to_the_clear_cel_is_a_run_with_it():
    sheet = (
        Sheet()
        .rect(40, 30, 80, 60, COAT)
        .line([(40, 30), (120, 30), (120, 90), (40, 90)], 5, INK, closed=True)
    )
    sheet.rect(70, 25, 20, 5, None).rect(70, 30, 20, 5, COAT)
    (run,) = between(apart(sheet.rgba()), "Coat", "clear")
    assert run.pair[0] == 1
    assert run.chord == pytest.approx(20, abs=3.0)


def test_a_bump_is_as_deep_as_it_stands_out():
    sheet = parted(20).disk((97, 70), 10, COAT)
    (run,) = between(apart(sheet.rgba()), "Coat", "Cloth")
    assert run.depth == pytest.approx(5.5, abs=2.5)


def test_a_bare_border_far_from_ink_is_no_run():
    sheet = Sheet().disk((80, 60), 50, COAT).disk((80, 60), 20, SKIN)
    sheet.ring((80, 60), 50, 5, INK)
    assert between(apart(sheet.rgba()), "Coat", "Skin") == []


def test_art_without_ink_has_no_runs():
    assert apart(Sheet().disk((70, 60), 45, COAT).disk((90, 60), 30, CLOTH).rgba()).runs == ()
