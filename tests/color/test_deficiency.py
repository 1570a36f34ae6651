"""Colors are simulated with the matrices that Machado, Oliveira and Fernandes published."""

import numpy as np
import oracles
import pytest

from cel_check.color.deficiency import Deficiency, matrix, simulate

# How colour-science names them; its data set is the table on the authors' own page (severity 1.0).
NAMES = {
    Deficiency.PROTAN: "Protanomaly",
    Deficiency.DEUTAN: "Deuteranomaly",
    Deficiency.TRITAN: "Tritanomaly",
}


@pytest.mark.parametrize("deficiency", list(Deficiency))
def test_the_matrices_are_the_published_ones(deficiency):
    colour = oracles.quiet_import("colour")
    assert np.array_equal(
        matrix(deficiency), np.array(colour.CVD_MATRICES_MACHADO2010[NAMES[deficiency]][1.0])
    )


@pytest.mark.parametrize("deficiency", list(Deficiency))
def test_gray_stays_gray(deficiency):
    # the rows of every matrix add up to 1
    gray = np.full((5, 3), np.linspace(0.0, 1.0, 5)[:, None])
    assert simulate(gray, deficiency) == pytest.approx(gray, abs=2e-6)


def test_red_and_green_come_together_for_red_green_deficiency_only():
    red, green = np.array([0.5, 0.05, 0.05]), np.array([0.16, 0.2, 0.05])
    before = np.abs(red - green).max()
    assert np.abs(simulate(red, Deficiency.DEUTAN) - simulate(green, Deficiency.DEUTAN)).max() < before / 2
    assert np.abs(simulate(red, Deficiency.TRITAN) - simulate(green, Deficiency.TRITAN)).max() > before / 2


def test_what_is_seen_stays_in_the_gamut():
    corners = np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, -1).T
    for deficiency in Deficiency:
        seen = simulate(corners, deficiency)
        assert seen.min() >= 0.0
        assert seen.max() <= 1.0
