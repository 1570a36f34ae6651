"""Corrections predict colors they were not fitted to, on measured spectra under two simulated scanners.

Spectra, observer and D50 are colour-science's (`SDS_COLOURCHECKERS["ColorChecker N Ohta"]`); the lamps and
the sensors' sensitivities are invented: a white LED and a xenon lamp, narrow sensors and wide ones.
"""

import colour
import numpy as np
import pytest

from cel_check.color.spaces import White, linear_to_srgb, white_xyz, xyz_to_lab
from cel_check.scan.chart import NAMES, Chart, Edition, chart_of_file, published
from cel_check.scan.correct import Kind, Seen, fits, plain_matrix, terms

SHAPE = colour.SpectralShape(400, 700, 5)
WAVES = SHAPE.wavelengths


def bump(middle, width):
    return np.exp(-0.5 * ((WAVES - middle) / width) ** 2)


def values(spectra):
    return spectra.copy().align(SHAPE).values


REFLECTANCE = np.array([values(one) for one in colour.SDS_COLOURCHECKERS["ColorChecker N Ohta"].values()])
OBSERVER = values(colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"])
D50 = values(colour.SDS_ILLUMINANTS["D50"])[:, None]
XYZ = REFLECTANCE @ (OBSERVER * D50) / (OBSERVER * D50).sum(axis=0) * white_xyz(White.D50)
CHART = Chart("spectra", xyz_to_lab(XYZ, White.D50))

LED = bump(452, 11) + 0.75 * bump(560, 52) + 0.3 * bump(620, 35)
XENON = np.interp(WAVES, [400, 450, 500, 550, 600, 650, 700], [0.8, 1.05, 1, 1, 0.97, 0.95, 0.9])
NARROW = np.array([bump(602, 28), bump(540, 34), bump(458, 24)])
WIDE = np.array([bump(615, 45), bump(535, 50) + 0.1 * bump(610, 20), bump(450, 35) + 0.06 * bump(540, 30)])
SCANNERS = {"led": (LED, NARROW), "xenon": (XENON, WIDE)}


def codes_of(scanner, gamma=0.0, exposure=1.0):
    lamp, sensors = SCANNERS[scanner]
    light = 0.93 * exposure * (REFLECTANCE @ (sensors * lamp).T) / (sensors @ lamp)
    return linear_to_srgb(light) if gamma == 0 else light ** (1 / gamma)


def seen(codes):
    return Seen(codes, np.ones_like(codes), CHART)


@pytest.mark.parametrize("scanner", SCANNERS)
@pytest.mark.parametrize("gamma", [0.0, 1.8])
def test_the_kept_correction_predicts_better_than_a_plain_matrix(scanner, gamma):
    codes = codes_of(scanner, gamma)
    best = fits(seen(codes))[0]
    plain = plain_matrix(codes, CHART)
    assert best.correction.kind is Kind.ROOT
    assert best.left_out.mean() < 0.8 * plain.mean()
    assert best.left_out.mean() < 1.5


def test_roots_follow_the_exposure():
    linear = np.array([[0.2, 0.5, 0.9], [0.0, 0.1, 0.3]])
    for kind in (Kind.MATRIX, Kind.ROOT):
        assert np.allclose(terms(0.5 * linear, kind), 0.5 * terms(linear, kind))
    assert not np.allclose(terms(0.5 * linear, Kind.AFFINE), 0.5 * terms(linear, Kind.AFFINE))


def test_published_values_are_those_of_colour_science():
    for edition, name in ((Edition.AFTER, "After"), (Edition.BEFORE, "Before")):
        chart = colour.CCS_COLOURCHECKERS[f"ColorChecker24 - {name} November 2014"]
        xyz = colour.xyY_to_XYZ(np.array(list(chart.data.values())))
        lab = colour.XYZ_to_Lab(xyz, chart.illuminant)
        assert np.abs(published(edition).lab - lab).max() < 0.02  # its xyY are rounded to four digits
        assert tuple(text.split(" (")[0] for text in chart.data) == NAMES


@pytest.mark.parametrize("column", ["number", "row", "column", "name", "none"])
def test_own_measurements_come_in_any_order_with_names(tmp_path, column):
    lab = published(Edition.BEFORE).lab
    names = {
        "number": [str(n + 1) for n in range(24)],
        "row": [f"{'ABCD'[n // 6]}{n % 6 + 1}" for n in range(24)],
        "column": [f"{'ABCDEF'[n % 6]}{n // 6 + 1}" for n in range(24)],
        "name": list(NAMES),
        "none": ["patch"] * 24,
    }[column]
    order = np.random.default_rng(3).permutation(24) if column != "none" else np.arange(24)
    rows = [f'"{names[n]}" {lab[n, 0]} {lab[n, 1]} {lab[n, 2]}' for n in order]
    head = ["CGATS.17", 'WEIGHTING_FUNCTION "ILLUMINANT, D50"', "BEGIN_DATA_FORMAT"]
    head += ["SAMPLE_NAME LAB_L LAB_A LAB_B", "END_DATA_FORMAT", "NUMBER_OF_SETS 24", "BEGIN_DATA"]
    path = tmp_path / "chart.txt"
    path.write_text("\n".join([*head, *rows, "END_DATA", ""]), encoding="utf-8")
    chart = chart_of_file(path)
    assert chart.edition == "chart.txt"
    assert np.abs(chart.lab - lab).max() < 1e-9
