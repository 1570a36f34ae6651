"""Colors declared under D50 come out under D65 as two other ways of computing give them."""

import subprocess
import sys

import numpy as np
import pytest
from oracles import columns, quiet_import

from cel_check.color.declared import lab_to_lab_d65, xyz_to_lab_d65
from cel_check.color.spaces import White, adapt, lab_to_xyz, white_xyz, xyz_to_lab

# colormath rounds the constant of the Lab formula's straight part, which only very dark colors see
ATOL = 1e-3

CHART = columns("colorchecker24_lab_d50.csv", "L_post2014", "a_post2014", "b_post2014")


def run_fresh(code, tmp_path):
    """Run Python with warnings as errors and nothing compiled before."""
    command = [sys.executable, "-W", "error", "-X", f"pycache_prefix={tmp_path}", "-c", code]
    return subprocess.run(command, capture_output=True, text=True, check=False)


@pytest.mark.parametrize("lab_d50", [tuple(map(float, patch)) for patch in CHART])
def test_a_charts_patch_is_adapted_as_another_library_does(lab_d50):
    colour = quiet_import("colour")
    xyz = colour.chromatic_adaptation(
        lab_to_xyz(lab_d50, White.D50), white_xyz(White.D50), white_xyz(White.D65), transform="Bradford"
    )
    expected = xyz_to_lab(xyz, White.D65)
    np.testing.assert_allclose(lab_to_lab_d65(lab_d50, White.D50), expected, rtol=0, atol=ATOL)
    xyz_d50 = tuple(map(float, lab_to_xyz(lab_d50, White.D50)))
    np.testing.assert_allclose(xyz_to_lab_d65(xyz_d50, White.D50), expected, rtol=0, atol=ATOL)


@pytest.mark.parametrize("lab_d50", [(0.0, 0.0, 0.0), (3.0, 0.5, -0.4), (7.9, -2.0, 1.0), (100.0, 0.0, 0.0)])
def test_very_dark_and_very_light_colors_agree_with_our_own_formulas(lab_d50):
    expected = xyz_to_lab(adapt(lab_to_xyz(lab_d50, White.D50), White.D50, White.D65), White.D65)
    np.testing.assert_allclose(lab_to_lab_d65(lab_d50, White.D50), expected, rtol=0, atol=ATOL)


def test_lab_under_d65_is_kept_to_the_last_bit():
    assert lab_to_lab_d65((16.2, 1.1, -0.4), White.D65) == (16.2, 1.1, -0.4)


def test_xyz_under_d65_is_not_adapted():
    found = xyz_to_lab_d65((0.2, 0.21, 0.23), White.D65)
    np.testing.assert_allclose(found, xyz_to_lab([0.2, 0.21, 0.23], White.D65), rtol=0, atol=1e-9)


def test_using_it_raises_no_warning_even_where_nothing_is_compiled(tmp_path):
    code = (
        "from cel_check.color.declared import lab_to_lab_d65; from cel_check.color.spaces import White;"
        "print(lab_to_lab_d65((50.0, 1.0, 2.0), White.D50))"
    )
    ran = run_fresh(code, tmp_path)
    assert ran.stderr == ""
    assert ran.returncode == 0


def test_importing_it_does_not_import_the_slow_library(tmp_path):
    ran = run_fresh("import sys, cel_check.model.load; print('colormath' in sys.modules)", tmp_path)
    assert (ran.stdout.strip(), ran.stderr) == ("False", "")
