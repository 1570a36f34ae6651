"""Each batch is held against its paint's target, the batch before it and, by its spectrum, the first one."""

import numpy as np
import pytest
from looks_art import color, looks, model_of
from measured_files import cgats, write
from skimage.color import deltaE_ciede2000

from cel_check.color.spaces import White, adapt, linear_to_xyz_d65, srgb_to_linear, xyz_to_lab
from cel_check.errors import BadInput
from cel_check.model import drawdowns
from cel_check.model.drawdowns import Lamps, judge
from cel_check.model.finding import Kind, Severity
from cel_check.model.measured import read_measured
from cel_check.model.spectra import NoSpectra

COAT = "#C8553D"


def lab_d50(text, off=(0.0, 0.0, 0.0)):
    """What an instrument measures of a color: L*a*b* under D50."""
    linear = srgb_to_linear(np.array(list(bytes.fromhex(text[1:]))) / 255.0)
    return xyz_to_lab(adapt(linear_to_xyz_d65(linear), White.D65, White.D50), White.D50) + off


def row(name, lab):
    return f'"{name}"\t' + "\t".join(f"{value:.3f}" for value in lab)


FIELDS = "SAMPLE_NAME LAB_L LAB_A LAB_B"


@pytest.fixture
def coat(tmp_path):
    parts = [color("coat", COAT, paint="R-31"), color("skin", "#F2C9A4", paint="S-12")]
    return looks(model_of(tmp_path, *parts))


def judged(look, folder, *texts):
    sets = [one for n, text in enumerate(texts) for one in read_measured(write(folder, text, f"{n}.txt"))]
    return judge(look, sets, Lamps())


def test_a_batch_on_target_passes_and_the_rest_is_named(coat, tmp_path):
    result = judged(coat, tmp_path, cgats([row("R-31", lab_d50(COAT))], FIELDS))
    (one,) = result.drawdowns
    assert one.passes
    assert one.delta_e < 0.01
    (note,) = result.findings
    assert (note.severity, note.text) == (Severity.NOTE, "1 of 1 drawdowns are within tolerance.")
    assert note.mend == "Not measured: S-12."


def test_a_batch_off_target_is_an_error_with_its_mend(coat, tmp_path):
    off = lab_d50(COAT, (4.0, 0.0, 0.0))
    result = judged(coat, tmp_path, cgats([row("r31", off)], FIELDS, title="lot 7"))
    (one,) = result.drawdowns
    want = deltaE_ciede2000(np.array(lab_d50(COAT)), np.array(off))
    assert not one.passes
    assert one.delta_e == pytest.approx(want, abs=0.1)  # one under D65, one under D50
    error = next(f for f in result.findings if f.severity is Severity.ERROR)
    assert error.kind is Kind.DRAWDOWN
    assert error.text.startswith("Coat (R-31), batch lot 7, is 3.")
    assert error.mend.startswith("Mix it again: it should be 4.0 L* darker")


def test_drift_is_to_the_batch_before(coat, tmp_path):
    shifts = [(0.0, 0.0, 0.0), (1.2, 0.0, 0.0), (-1.2, 0.0, 0.0)]
    texts = [cgats([row("R-31", lab_d50(COAT, s))], FIELDS, title=f"lot {n}") for n, s in enumerate(shifts)]
    result = judged(coat, tmp_path, *texts)
    assert [one.batch for one in result.drawdowns] == ["lot 0", "lot 1", "lot 2"]
    assert result.drawdowns[0].drift is None
    assert result.drawdowns[1].drift == pytest.approx(result.drawdowns[1].delta_e, abs=0.01)
    assert all(one.passes for one in result.drawdowns)
    (drift,) = [f for f in result.findings if f.kind is Kind.DRIFT]
    assert drift.severity is Severity.WARNING
    assert "batch lot 2, is 2." in drift.text


def test_several_sets_in_one_file_are_batches_in_order(coat, tmp_path):
    text = cgats([row("R-31", lab_d50(COAT))], FIELDS, title="a")
    text += cgats([row("R-31", lab_d50(COAT, (0.5, 0, 0)))], FIELDS, title="b")
    assert [one.batch for one in judged(coat, tmp_path, text).drawdowns] == ["a", "b"]


@pytest.mark.parametrize("name", ["R-31", "r 31", "R-31 second coat", "chip, R-31"])
def test_paints_are_found_by_number(coat, tmp_path, name):
    result = judged(coat, tmp_path, cgats([row(name, lab_d50(COAT))], FIELDS))
    assert [one.color for one in result.drawdowns] == ["coat"]


def test_paints_of_no_model_are_noted(coat, tmp_path):
    result = judged(coat, tmp_path, cgats([row("Q-99", lab_d50(COAT))], FIELDS))
    assert result.drawdowns == ()
    assert "Measured, but on no model: Q-99." in [f.text for f in result.findings]


def spectra(folder, *shapes):
    waves = list(range(400, 701, 10))
    fields = "SAMPLE_NAME " + " ".join(f"nm{wave}" for wave in waves)
    return [
        cgats(["R-31 " + " ".join(f"{shape(w):.5f}" for w in waves)], fields, title=f"lot {n}")
        for n, shape in enumerate(shapes)
    ]


def gray(wave):
    return 0.3


def humped(wave):
    """About the same gray by day, of other pigments."""
    return 0.3 + 0.11 * np.sin((wave - 400) / 300 * 4 * np.pi)


def test_metamerism_is_against_the_first_batch(tmp_path):
    model = looks(model_of(tmp_path, color("coat", "#8F8F8F", paint="R-31"), tolerance=30))
    result = judged(model, tmp_path, *spectra(tmp_path, gray, gray, humped))
    assert result.drawdowns[0].metamerism is None
    assert result.drawdowns[1].metamerism == pytest.approx(0.0, abs=1e-6)
    assert result.drawdowns[2].metamerism > 1.0
    (one,) = [f for f in result.findings if f.kind is Kind.METAMERISM]
    assert one.text.startswith("Coat (R-31), batch lot 2, parts from the first batch by ")
    assert one.text.endswith("when the light changes from D50 to A.")


def test_without_the_library_spectra_are_said_not_to_count(coat, tmp_path, monkeypatch):
    def missing(*_):
        raise NoSpectra

    monkeypatch.setattr(drawdowns, "lab_of_spectra", missing)
    fields = FIELDS + " nm400 nm450 nm500 nm550 nm600 nm650 nm700"
    rows = [row("R-31", lab_d50(COAT)) + 7 * "\t0.1"]
    result = judged(coat, tmp_path, cgats(rows, fields), cgats(rows, fields))
    assert [one.metamerism for one in result.drawdowns] == [None, None]
    assert "The spectra were not looked at for metamerism." in [f.text for f in result.findings]
    with pytest.raises(BadInput, match=r"there are spectra alone.*spectral"):
        judged(coat, tmp_path, *spectra(tmp_path, gray))
