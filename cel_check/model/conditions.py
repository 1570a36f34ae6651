"""Do the conditions hang together: one smooth shift for all colors, and the colors that do not follow it.

Night, rain or firelight changes every color of a scene by one law. Here it is an affine map, fitted in three
ways of counting (linear light, sRGB codes, L*a*b*); the one that explains most is kept. Single colors must
not bend it: the map starts as that of the sample with the least median residual (least median of squares:
Rousseeuw, "Least Median of Squares Regression", J. American Statistical Association 79, 871-880, 1984,
doi:10.1080/01621459.1984.10477105) and is then refitted to the colors that follow it.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import (
    White,
    lab_to_srgb,
    lab_to_xyz,
    linear_to_srgb,
    linear_to_xyz_d65,
    srgb_to_linear,
    to_8_bit,
    xyz_d65_to_linear,
    xyz_to_lab,
)
from cel_check.model.finding import Finding, Kind, Severity
from cel_check.model.looks import Looks

Floats = NDArray[np.float64]

LEAST_COLORS = 6
"""Colors from which a shift can be fitted at all: two for each channel's gain and offset, and as many to
spare."""

FULL_FROM = 14
"""Colors from which channels may also mix, four unknowns each."""

ODD = 3.0
"""ΔE00 from the shift below which a color follows it: twice a usual tolerance (a house choice)."""

TIMES = 3.5
"""Robust standard deviations from the shift beyond which a color does not follow it (Iglewicz and Hoaglin's
3.5)."""

_SAMPLES, _SEED = 300, 1984
_REFITS = 4
_TO_SIGMA = 1.4826  # median absolute residual to standard deviation, for normal residuals


@dataclass(frozen=True, eq=False)
class Shift:
    """A condition as one law.

    Attributes:
        space: in which it was fitted: `linear light`, `sRGB codes` or `L*a*b*`.
        lab: `(n, 3)` where it takes the base colors, L*a*b* D65.
        off: `(n,)` ΔE00 of what was declared from that.
        limit: ΔE00 from which a color does not follow.
    """

    space: str
    lab: Floats
    off: Floats
    limit: float


def find_odd(looks: Looks) -> Iterator[Finding]:
    """Yield the colors that do not follow their condition's shift, and models that lack a condition."""
    yield from _lacking(looks)
    for look in range(1, looks.conditions + 1):
        members = np.flatnonzero(looks.has[look])
        if len(members) < LEAST_COLORS:
            continue
        shift = fit_shift(looks.rgb[0, members], looks.lab[0, members], looks.lab[look, members])
        odd = np.flatnonzero(shift.off > shift.limit)
        for place in odd[np.argsort(-shift.off[odd], kind="stable")]:
            yield _odd_finding(looks, look, int(members[place]), shift, int(place))


def fit_shift(base_rgb: NDArray[np.uint8], base_lab: Floats, changed_lab: Floats) -> Shift:
    """Fit the shift of a condition.

    Args:
        base_rgb: `(n, 3)` uint8 sRGB of the base colors, n at least `LEAST_COLORS`.
        base_lab: `(n, 3)` their L*a*b*, D65.
        changed_lab: `(n, 3)` what the condition makes of them, L*a*b* D65.

    Returns:
        The shift of the space whose residuals have the least median.
    """
    codes = base_rgb / 255.0
    changed_linear = _to_linear(changed_lab)
    spaces = (
        ("linear light", srgb_to_linear(codes), changed_linear),
        ("sRGB codes", codes, linear_to_srgb(changed_linear)),
        ("L*a*b*", base_lab, changed_lab),
    )
    shifts = [_fit_in(name, before, after, changed_lab) for name, before, after in spaces]
    return min(shifts, key=lambda shift: float(np.median(shift.off)))


def _fit_in(space: str, before: Floats, after: Floats, changed_lab: Floats) -> Shift:
    design = _design(before)
    solution = _start(design, after)
    for _ in range(_REFITS):
        off = ciede2000(_to_lab(space, _apply(design, solution)), changed_lab)
        follows = off <= _limit(off, design.shape[2])
        solution = _least_squares(design[follows], after[follows])
    lab = _to_lab(space, _apply(design, solution))
    off = ciede2000(lab, changed_lab)
    return Shift(space, lab, off, _limit(off, design.shape[2]))


def _design(before: Floats) -> Floats:
    """Return `(n, 3, p)`: for each channel what it is a sum of; its own value and 1, or all three and 1."""
    count = len(before)
    ones = np.ones((count, 3, 1))
    if count < FULL_FROM:
        return np.concatenate([before[:, :, None], ones], axis=2)
    return np.concatenate([np.repeat(before[:, None, :], 3, axis=1), ones], axis=2)


def _apply(design: Floats, solution: Floats) -> Floats:
    """Return `(..., n, 3)` for solutions `(..., 3, p)`."""
    return np.asarray(np.einsum("ncp,...cp->...nc", design, solution))


def _start(design: Floats, after: Floats) -> Floats:
    """Return the solution through a few colors that has the least median residual over all of them."""
    count, _, unknowns = design.shape
    rng = np.random.default_rng(_SEED)
    chosen = np.argsort(rng.random((_SAMPLES, count)), axis=1)[:, :unknowns]
    square = np.swapaxes(design[chosen], 1, 2)  # (samples, channel, colors, unknowns)
    target = np.swapaxes(after[chosen], 1, 2)[..., None]
    # A whiff of a ridge keeps samples of equal colors solvable; such a sample loses anyway.
    normal = np.swapaxes(square, 2, 3) @ square + 1e-9 * np.eye(unknowns)
    solutions: Floats = np.linalg.solve(normal, np.swapaxes(square, 2, 3) @ target)[..., 0].astype(np.float64)
    residual = np.square(_apply(design, solutions) - after).sum(axis=2)
    return np.asarray(solutions[int(np.median(residual, axis=1).argmin())])


def _least_squares(design: Floats, after: Floats) -> Floats:
    columns = [np.linalg.lstsq(design[:, c], after[:, c], rcond=None)[0] for c in range(3)]
    return np.stack(columns).astype(np.float64)


def _limit(off: Floats, unknowns: int) -> float:
    """Return the ΔE00 beyond which a color does not follow; fewer colors, wider (Rousseeuw's correction)."""
    spare = max(len(off) - unknowns, 1)
    sigma = _TO_SIGMA * (1.0 + 5.0 / spare) * float(np.median(off))
    return max(ODD, TIMES * sigma)


def _to_linear(lab: Floats) -> Floats:
    """Return L*a*b* D65 as linear sRGB; every condition's color is a code, so none is far outside 0 to 1."""
    return np.clip(xyz_d65_to_linear(lab_to_xyz(lab, White.D65)), 0.0, 1.0)


def _to_lab(space: str, values: Floats) -> Floats:
    """Return values of a space as L*a*b* D65; what no picture could hold is clipped."""
    if space == "L*a*b*":
        return np.concatenate([np.clip(values[:, :1], 0.0, 100.0), values[:, 1:]], axis=1)
    inside = np.clip(values, 0.0, 1.0)
    linear = inside if space == "linear light" else srgb_to_linear(inside)
    return xyz_to_lab(linear_to_xyz_d65(linear), White.D65)


def _hex_of(lab: Floats) -> str:
    srgb, _ = lab_to_srgb(lab, White.D65)
    return "#{:02X}{:02X}{:02X}".format(*to_8_bit(srgb).tolist())


def _lacking(looks: Looks) -> Iterator[Finding]:
    """Yield a note for each model that lacks conditions which another has."""
    names = looks.names[1 : looks.conditions + 1]
    for owner, model in enumerate(looks.models):
        mine = np.flatnonzero(looks.owner == owner)
        lacks = tuple(
            name for look, name in enumerate(names, 1) if len(mine) and not looks.has[look, mine].any()
        )
        if lacks:
            listed = ", ".join(lacks[:4]) + (f" and {len(lacks) - 4} more" if len(lacks) > 4 else "")
            yield Finding(
                Severity.NOTE,
                Kind.CONDITION,
                model.key,
                f"{model.character} has no {listed}, which another of these models has.",
                "In such a scene the base colors hold.",
            )


def _odd_finding(looks: Looks, look: int, color: int, shift: Shift, place: int) -> Finding:
    name, off = looks.names[look], float(shift.off[place])
    wanted = _hex_of(shift.lab[place])
    from_shift = (
        f"{off:.1f} ΔE00 from where the other colors' shift takes it (up to {shift.limit:.1f} follows)."
    )
    is_now = looks.hex(look, color)
    if looks.named[look, color]:
        text = f"{looks.name(color)} does not follow in {name}: {is_now} is {from_shift}"
        mend = f"Mend the slip ({wanted} would follow), or confirm that it is meant."
    else:
        text = f"{looks.name(color)} is not named in {name} and stays {is_now}, {from_shift}"
        mend = f"Name it in [condition.{name}] ({wanted} would follow), or confirm that it keeps its color."
    model = looks.colors[color].model
    return Finding(
        Severity.WARNING,
        Kind.ODD_ONE_OUT,
        model,
        text,
        mend,
        (looks.key(color),),
        name,
        off,
        shift.limit,
        "ΔE00",
    )
