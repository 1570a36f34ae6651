"""Tells whether a stored result still holds by other tolerances, from what was measured, without the picture.

A check compares colors with tolerances in two ways only: is this color within that model color's tolerance,
and of those it is within, which has the least share of its tolerance used. Where both answers are the same
for every color of the cel, the check would take every step again as it did, and its result stands. What names
a color whose tolerance, name or paint number has changed must be said anew: such a cel is checked again.
"""

import json
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.match import FILL_SLACK, LINE_SLACK, distances
from cel_check.episode.codec import Stored
from cel_check.episode.keys import color_key
from cel_check.faults import Fault
from cel_check.model.colormodel import Palette
from cel_check.scene.results import Measured


def still_holds(stored: Stored, by: str, palette: Palette) -> bool:
    """Return whether a result would come out the same today.

    Args:
        stored: the result.
        by: the terms (`Terms.text`) that it was judged by, of the same colors.
        palette: the colors with the tolerances and names of today.
    """
    before = json.loads(by)
    keys = [color_key(color) for color in palette.colors]
    if set(before) != set(keys):
        return False
    changed = {
        key
        for key, color in zip(keys, palette.colors, strict=True)
        if before[key] != [color.tolerance, color.name, color.paint]
    }
    if any(_names(fault, changed) for fault in stored.faults):
        return False
    old = np.array([before[key][0] for key in keys], np.float64)
    new = np.array([color.tolerance for color in palette.colors], np.float64)
    if stored.measured is None or (old == new).all():  # nothing was measured where nothing could be read
        return True
    return _same_answers(stored.measured, palette, old, new)


def _names(fault: Fault, changed: set[str]) -> bool:
    matches = (fault.nearest, fault.expected)
    return any(match is not None and f"{match.model}/{match.color}" in changed for match in matches)


def _same_answers(
    measured: Measured, palette: Palette, old: NDArray[np.float64], new: NDArray[np.float64]
) -> bool:
    rgb = np.frombuffer(bytes.fromhex(measured.colors), np.uint8).reshape(-1, 3)
    if not len(rgb):
        return True
    lab = srgb8_to_lab(rgb)
    changed = np.flatnonzero(old != new)
    slacks = (0.0, FILL_SLACK, LINE_SLACK) if measured.noisy else (0.0,)
    near = distances(lab, replace(palette, colors=tuple(palette.colors[place] for place in changed)))
    reached = np.zeros(len(lab), bool)
    for slack in slacks:
        before, after = near / (old[changed] + slack) <= 1.0, near / (new[changed] + slack) <= 1.0
        if (before != after).any():
            return False
        reached |= after.any(axis=1)
    # Only where a changed color is within can it come to be chosen before another, or after it.
    table = distances(lab[reached], palette)
    return all((_chosen(table, old + slack) == _chosen(table, new + slack)).all() for slack in slacks)


def _chosen(table: NDArray[np.float64], allowed: NDArray[np.float64]) -> NDArray[np.int64]:
    """Return the color that has the least share of its tolerance used; -1 where none is within its own."""
    used = table / allowed
    return np.where((used <= 1.0).any(axis=1), used.argmin(axis=1), -1)
