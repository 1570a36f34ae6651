"""Colors that a color model declares in CIE L*a*b* or XYZ, brought to L*a*b* under D65.

The one module that imports colormath. Its conversions and its adaptation are sound; what is not is kept
out: its scalar color differences fail since NumPy 1.23, and `convert_color` from Lab to Lab leaves a D50
color as it is whatever target white it is given, so the way here goes through XYZ. It also rounds a constant
of the Lab formula to 7.787, which moves very dark colors by less than 0.001 in L*, a* or b*.
"""

import warnings
from functools import cache
from types import ModuleType
from typing import cast

from cel_check.color.spaces import White

Triple = tuple[float, float, float]


@cache
def _colormath() -> tuple[ModuleType, ModuleType]:
    """Import colormath when a color first needs it: with networkx it costs a third of a second.

    Its sources hold invalid escape sequences, of which Python warns while it compiles them.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colormath import color_conversions, color_objects  # noqa: PLC0415
    return color_objects, color_conversions


def lab_to_lab_d65(lab: Triple, white: White) -> Triple:
    """Convert one L*a*b* relative to `white` (2 degree observer) to L*a*b* under D65 (Bradford)."""
    if white is White.D65:
        return lab
    objects, conversions = _colormath()
    xyz = conversions.convert_color(objects.LabColor(*lab, illuminant=white.value.lower()), objects.XYZColor)
    return _to_lab_d65(xyz)


def xyz_to_lab_d65(xyz: Triple, white: White) -> Triple:
    """Convert one XYZ seen under `white` (2 degree observer, Y = 1 for the white) to L*a*b* under D65."""
    objects, _ = _colormath()
    return _to_lab_d65(objects.XYZColor(*xyz, illuminant=white.value.lower()))


def _to_lab_d65(xyz: object) -> Triple:
    objects, conversions = _colormath()
    xyz.apply_adaptation("d65")  # type: ignore[attr-defined]
    lab = conversions.convert_color(xyz, objects.LabColor)
    return cast(Triple, lab.get_value_tuple())
