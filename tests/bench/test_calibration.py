"""On measured spectra under two scanners the kept correction predicts unseen patches as well as a plain 3x3.

Chart, sensors and lamps are colour-science's data (see `calibration.py`).
"""

import pytest
from calibration import SPECTRA, Scanner, calibrated, reference

from cel_check.color.difference import ciede2000
from cel_check.scan.chart import Edition, published

TUBE, LED = Scanner(0, "FL11"), Scanner(1, "LED-B3", 1.8)


@pytest.mark.parametrize("name", SPECTRA)
@pytest.mark.parametrize("scanner", [TUBE, LED], ids=str)
def test_the_kept_correction_is_no_worse_than_a_plain_matrix(scanner, name):
    found = calibrated(scanner, name)
    left = found.residual
    assert left.mean <= left.plain_mean
    assert left.p95 <= left.plain_p95
    assert not any(note.startswith("Patch") for note in found.notes)


@pytest.mark.parametrize("name", SPECTRA)
def test_spectra_and_published_values_are_of_one_chart(name):
    # Charts differ from one another: the maker's two editions by up to 1.95 ΔE00 themselves.
    apart = ciede2000(reference(name).lab, published(Edition.BEFORE).lab)
    assert apart.mean() < 1.5
