"""Spectra become the L*a*b* of ASTM E308, and two of them the metamerism index of ISO 18314-4."""

import builtins
import importlib
import sys
import warnings

import numpy as np
import pytest

from cel_check.color.difference import ciede2000
from cel_check.model.spectra import NoSpectra, lab_of_spectra, metamerism_index


def colour():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return importlib.import_module("colour")


def patches():
    """The 24 reflectances of the chart that colour-science carries (measured by N. Ohta)."""
    return tuple(colour().SDS_COLOURCHECKERS["ColorChecker N Ohta"].values())


def spectrum_of(sd):
    return tuple(zip(sd.wavelengths.tolist(), sd.values.tolist(), strict=True))


@pytest.mark.parametrize("illuminant", ["D50", "D65", "A", "FL11"])
def test_the_chart_s_patches_have_the_lab_of_astm_e308(illuminant):
    library = colour()
    mine = lab_of_spectra([spectrum_of(sd) for sd in patches()], illuminant)
    observer = library.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    light = library.SDS_ILLUMINANTS[illuminant]
    shape = library.SpectralShape(360, 780, 5)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        want = []
        perfect = library.sd_to_XYZ(library.sd_ones(shape), observer, light, method="ASTM E308")
        for sd in patches():
            even = sd.copy().align(shape)
            xyz = library.sd_to_XYZ(even, observer, light, method="ASTM E308")
            want.append(library.XYZ_to_Lab(xyz / 100, library.XYZ_to_xy(perfect)))
    # ASTM's weights and a sum at 1 nm: a lamp with lines (FL11) parts them the most
    assert ciede2000(mine, np.array(want)).max() < (0.05 if illuminant != "FL11" else 0.5)


def test_coarse_spectra_come_near_fine_ones():
    fine = [spectrum_of(sd) for sd in patches()]
    coarse = [tuple(point for point in one if point[0] % 20 == 0) for one in fine]
    apart = ciede2000(lab_of_spectra(fine, "D50"), lab_of_spectra(coarse, "D50"))
    assert apart.max() < 1.0


def test_the_perfect_white_is_white_under_every_lamp():
    flat = tuple((wave, 1.0) for wave in range(400, 701, 10))
    for lamp in ("A", "D50", "FL2"):
        assert lab_of_spectra([flat], lamp)[0] == pytest.approx([100.0, 0.0, 0.0], abs=1e-6)


def test_the_metamerism_index_is_that_of_colour_science():
    # the example in colour-science's documentation of ISO 18314-4, and random ones
    library = colour()
    standard, standard_test = np.array([39.0908, -21.3269, 22.6657]), np.array([38.17781, -17.4939, 21.0618])
    sample, sample_test = np.array([38.83253, -19.8787, 20.0453]), np.array([37.9013, -19.56327, 16.9346])
    rng = np.random.default_rng(18314)
    cases = [(sample_test, standard_test, sample, standard)]
    cases += [tuple(rng.uniform((10, -60, -60), (95, 60, 60), (4, 3))) for _ in range(50)]
    for case in cases:
        want = library.difference.Lab_to_metamerism_index(*case, correction="Additive", method="CIE 2000")
        assert metamerism_index(*case) == pytest.approx(float(want), abs=1e-9)


def test_without_the_extra_it_says_so(monkeypatch):
    real = builtins.__import__

    def refuse(name, *arguments, **options):
        if name == "colour":
            raise ImportError(name)
        return real(name, *arguments, **options)

    monkeypatch.setattr(builtins, "__import__", refuse)
    monkeypatch.delitem(sys.modules, "colour", raising=False)
    with pytest.raises(NoSpectra, match="spectral"):
        lab_of_spectra([((400.0, 0.5), (500.0, 0.5), (600.0, 0.5))], "D50")
