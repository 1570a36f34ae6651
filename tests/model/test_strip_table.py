"""A measured strip is read by the chip and the number of cels that its rows name, whatever their order."""

import numpy as np
import pytest

from cel_check.color.spaces import White, adapt, lab_to_xyz, xyz_d65_to_linear
from cel_check.errors import BadInput
from cel_check.model.strip_table import read_strips

HEAD = "SAMPLE_NAME,LAB_L,LAB_A,LAB_B,ILLUMINANT"


def write(folder, *rows):
    path = folder / "strip.csv"
    path.write_text("\n".join([HEAD, *rows]) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "names",
    [
        ("0", "1", "2"),
        ("gray 0", "gray 1", "gray 2"),
        ("gray under 0 cels", "gray under 1 cel", "gray, 2 cels"),
    ],
)
def test_bands_come_in_the_order_of_their_cels(tmp_path, names):
    rows = [f'"{name}",{50 - 3 * cels},0,1,D50' for cels, name in enumerate(names)]
    (strip,) = read_strips(write(tmp_path, rows[2], rows[0], rows[1]))
    lab = np.array([[50, 0, 1], [47, 0, 1], [44, 0, 1]], float)
    linear = xyz_d65_to_linear(adapt(lab_to_xyz(lab, White.D50), White.D50, White.D65))
    assert np.allclose(strip.linear, linear, atol=1e-4)


def test_each_chip_is_a_strip(tmp_path):
    rows = [f"{chip} {cels},{50 - cels},0,0,D65" for cels in range(3) for chip in ("white", "black")]
    assert [len(strip.linear) for strip in read_strips(write(tmp_path, *rows))] == [3, 3]


BAD = {
    "no number of cels": ("gray 0,50,0,0,D65", "gray,49,0,0,D65"),
    "the band under 1 cels": ("gray 0,50,0,0,D65", "gray 2,49,0,0,D65"),
    "the bare chip": ("gray 1,50,0,0,D65", "gray 2,49,0,0,D65"),
    "line 2 already": ("gray 0,50,0,0,D65", "gray 0,49,0,0,D65"),
}


@pytest.mark.parametrize("wrong", BAD)
def test_a_slip_is_one_line(tmp_path, wrong):
    with pytest.raises(BadInput) as refused:
        read_strips(write(tmp_path, *BAD[wrong]))
    (problem,) = refused.value.problems
    assert wrong in problem.line()
