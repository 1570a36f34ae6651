"""What viewers with a color vision deficiency see of a color.

The simulation is that of Machado, Oliveira and Fernandes, "A Physiologically-based Model for Simulation of
Color Vision Deficiency", IEEE Trans. Visualization and Computer Graphics 15(6), 1291-1298, 2009,
doi:10.1109/TVCG.2009.113: a matrix on linear RGB for each deficiency, here at its full severity of 1.
"""

from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


class Deficiency(StrEnum):
    """A kind of color vision deficiency, by the cone that is missing: long, medium or short waves."""

    PROTAN = "protan"
    DEUTAN = "deutan"
    TRITAN = "tritan"


_MATRICES = {
    Deficiency.PROTAN: (
        (0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998),
    ),
    Deficiency.DEUTAN: (
        (0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881),
    ),
    Deficiency.TRITAN: (
        (1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900),
    ),
}  # fmt: skip


def matrix(deficiency: Deficiency) -> Floats:
    """Return the `(3, 3)` matrix on linear sRGB, severity 1."""
    return np.array(_MATRICES[deficiency])


def simulate(linear: ArrayLike, deficiency: Deficiency) -> Floats:
    """Return linear sRGB `(..., 3)`, clipped to 0 to 1, that shows what such a viewer sees of `linear`."""
    return np.clip(np.asarray(linear, dtype=np.float64) @ matrix(deficiency).T, 0.0, 1.0)
