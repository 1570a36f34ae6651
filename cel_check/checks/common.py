"""What every check needs: the nearest model color as a fault names it, and the words of its sentence."""

from collections.abc import Callable

import numpy as np

from cel_check.drawing.drawing import Drawing
from cel_check.drawing.match import distances
from cel_check.faults import Fault, ModelMatch
from cel_check.model.colormodel import ModelColor
from cel_check.settings import Settings

Check = Callable[[Drawing, Settings, set[int]], tuple[Fault, ...]]
"""A check of one drawing. It gets the region ids that earlier checks have claimed and adds its own: one cause
is one fault."""


def model_match(color: ModelColor, delta_e: float, because: str = "") -> ModelMatch:
    """Return a model color as a fault carries it."""
    return ModelMatch(
        color.id, color.name, color.paint, color.model, color.hex, round(delta_e, 2), color.tolerance, because
    )


def expected_paint(drawing: Drawing, index: int, because: str) -> ModelMatch:
    """Return the paint that should be in a place, where nothing is there to measure a difference from."""
    return model_match(drawing.palette.colors[index], 0.0, because)


def named(match: ModelMatch) -> str:
    """Return a paint's name with its shop number, as a painter looks for it."""
    return f"{match.name} ({match.paint})" if match.paint else match.name


def nearest(
    drawing: Drawing, lab: tuple[float, float, float], wanted: Callable[[ModelColor], bool]
) -> ModelMatch:
    """Return the model color nearest to a Lab D65 color among those wanted; among all where none is."""
    table = distances(np.array([lab]), drawing.palette)[0]
    order = [int(i) for i in table.argsort(kind="stable")]
    best = next((i for i in order if wanted(drawing.palette.colors[i])), order[0])
    return model_match(drawing.palette.colors[best], float(table[best]))
