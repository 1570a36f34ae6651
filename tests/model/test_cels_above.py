"""What a cel takes and adds comes back from strips; strips that follow no one law are refused.

Strips are made by the law itself, with shares near those of a bare sheet (see `cels_above.py`); the sums of a
pile of cels are checked by laying one cel after the other.
"""

import numpy as np
import pytest

from cel_check.errors import BadInput
from cel_check.model.cels_above import Strip, lab_of, law_of, linear_of

THROUGH, ADDS = np.array([0.90, 0.905, 0.88]), np.array([0.006, 0.006, 0.008])


def one_more(linear):
    return THROUGH * linear + ADDS


def strip(light, cels=4, noise=0.0, seed=1):
    bands = [np.full(3, light)]
    for _ in range(cels):
        bands.append(one_more(bands[-1]))
    return Strip("strip.csv", np.array(bands) + np.random.default_rng(seed).normal(0, noise, (cels + 1, 3)))


@pytest.mark.parametrize("chips", [(0.2,), (0.85, 0.2), (0.85, 0.2, 0.03)])
def test_share_and_addition_come_back(chips):
    law = law_of([strip(light) for light in chips])
    assert np.allclose(law.through, THROUGH, atol=1e-6)
    assert np.allclose(law.adds, ADDS, atol=1e-6)
    assert (law.cels, law.bands) == (4, 5 * len(chips))
    assert law.worst < 0.01


def test_under_and_beneath_are_each_others_inverse_and_one_cel_after_the_other():
    law = law_of([strip(0.85), strip(0.03)])
    color = np.array([0.5, 0.2, 0.05])
    assert np.allclose(law.under(color, 3), one_more(one_more(one_more(color))), atol=1e-6)
    assert np.allclose(law.under(law.beneath(color, 4), 4), color)
    assert np.array_equal(law.under(color, 0), color)


def test_colors_far_from_the_only_chip_are_known_less_surely():
    gray = law_of([strip(0.2, noise=0.0005)])
    both = law_of([strip(0.85, noise=0.0005, seed=2), strip(0.03, noise=0.0005, seed=3)])
    colors = np.array([[0.2, 0.2, 0.2], [0.01, 0.01, 0.01]])
    near, far = gray.known_within(colors, 4)
    assert far > 3 * near
    assert both.known_within(colors, 4)[1] < 0.5 * far


def test_the_truth_lies_within_what_is_said():
    """Of 20 noisy strips nearly all are within three standard deviations."""
    colors = np.array([[0.02, 0.02, 0.02], [0.7, 0.6, 0.5]])
    exact = law_of([strip(0.85), strip(0.03)]).under(colors, 4)
    off = []
    for seed in range(20):
        law = law_of([strip(0.2, noise=0.001, seed=seed), strip(0.6, noise=0.001, seed=100 + seed)])
        apart = np.linalg.norm(lab_of(law.under(colors, 4)) - lab_of(exact), axis=1)
        off.append(apart / np.maximum(law.known_within(colors, 4), 1e-9))
    assert np.mean(np.array(off) < 3.5) > 0.85


def test_light_and_lab_are_each_others_inverse():
    color = np.array([[0.9, 0.1, 0.02], [0.3, 0.3, 0.3]])
    assert np.allclose(linear_of(lab_of(color)), color)


BAD = {
    "2 bands tell no law": [Strip("strip.csv", strip(0.2).linear[:2])],
    "3 bands tell no law": [Strip("strip.csv", strip(0.2).linear[:3])],
    "which no clear cel does": [Strip("strip.csv", strip(0.2).linear[::-1])],
    "off the law of the others": [Strip("strip.csv", strip(0.2).linear * [[1], [1], [1], [0.88], [1]])],
}


@pytest.mark.parametrize("wrong", BAD)
def test_what_follows_no_law_is_refused_in_one_line(wrong):
    with pytest.raises(BadInput) as refused:
        law_of(BAD[wrong])
    (problem,) = refused.value.problems
    assert wrong in problem.line()
    assert problem.line().startswith("strip.csv")
