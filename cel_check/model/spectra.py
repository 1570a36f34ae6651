"""Reflectance spectra of paints to L*a*b* under an illuminant, and the metamerism of two of them.

colour-science integrates (the extra `spectral`). The metamerism index is that of ISO 18314-4: the difference
of two samples under a test illuminant, after the difference that they have under the reference illuminant is
taken off (its additive correction in L*a*b*).
"""

import warnings
from collections.abc import Sequence
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import White, white_xyz, xyz_to_lab
from cel_check.model.measured import Spectrum

Floats = NDArray[np.float64]

ILLUMINANTS = ("A", "C", "D50", "D55", "D65", "D75", "FL2", "FL11")
"""Illuminants whose tables of CIE 15 may be named."""

EXTRA = "python -m pip install 'cel-check[spectral]'"
"""What installs the library that spectra need."""

_OBSERVER = "CIE 1931 2 Degree Standard Observer"


class NoSpectra(Exception):
    """The library that spectra need is not installed."""


def lab_of_spectra(spectra: Sequence[Spectrum], illuminant: str) -> Floats:
    """Return the `(n, 3)` L*a*b* of reflectances under an illuminant, relative to its own white.

    Spectra are interpolated to 1 nm and kept level beyond their ends; the observer is that of 2 degrees.

    Args:
        spectra: at least 6 wavelengths in nm with their reflectance, 1 for the perfect white.
        illuminant: one of `ILLUMINANTS`.

    Raises:
        NoSpectra: where colour-science is not installed.
    """
    colour = _colour()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of every spectrum that it has to align
        perfect = tuple((wave, 1.0) for wave in (400.0, 450.0, 500.0, 550.0, 600.0, 650.0, 700.0))
        xyz = np.array([_xyz(colour, spectrum, illuminant) for spectrum in (*spectra, perfect)])
    # L*a*b* knows only the ratio to the white, so any white serves.
    return xyz_to_lab(xyz[:-1] / xyz[-1] * white_xyz(White.D50), White.D50)


def _colour() -> ModuleType:
    """Import colour-science when spectra are first seen: it takes a second and a half."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns that it cannot draw
        try:
            import colour  # noqa: PLC0415
        except ImportError as error:
            raise NoSpectra(EXTRA) from error
    module: ModuleType = colour
    return module


def _xyz(colour: Any, spectrum: Spectrum, illuminant: str) -> Floats:
    shape = colour.SpectralShape(360, 780, 1)
    reflectance = colour.SpectralDistribution(dict(spectrum)).align(shape)
    observer = colour.MSDS_CMFS[_OBSERVER].copy().align(shape)
    light = colour.SDS_ILLUMINANTS[illuminant].copy().align(shape)
    return np.asarray(colour.sd_to_XYZ(reflectance, observer, light, method="Integration"), np.float64)


def metamerism_index(sample_test: Floats, standard_test: Floats, sample: Floats, standard: Floats) -> float:
    """Return the metamerism index of ISO 18314-4 in ΔE00, additive correction in L*a*b*.

    Args:
        sample_test: `(3,)` L*a*b* of the sample under the test illuminant.
        standard_test: `(3,)` that of the standard.
        sample: `(3,)` L*a*b* of the sample under the reference illuminant.
        standard: `(3,)` that of the standard.
    """
    return float(ciede2000(standard_test, sample_test - (sample - standard)))
