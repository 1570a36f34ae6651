"""The punch: which holes a sheet has, in inches. Shops differ, so every measure is a setting.

The defaults are the common three-pin set: a round hole of 1/4 in, slots of 1/2 by 1/8 in, 4 in between their
middles. They are common practice (an animation-tools author's measured and inferred figures say the same); no
drawing of the maker's was read. How far the row lies from the sheet's edge is common practice, no source.
"""

from dataclasses import dataclass
from enum import StrEnum

MM_PER_INCH = 25.4


class Side(StrEnum):
    """The edge of the scan along which the pegs lie."""

    TOP = "top"
    BOTTOM = "bottom"


@dataclass(frozen=True)
class Punch:
    """A punch's measures in inches.

    Attributes:
        hole: diameter of the round hole in the middle.
        slot_length: of the slots, along the row.
        slot_height: of the slots, across it.
        spacing: from the middle of the round hole to that of a slot.
        edge: from the row to the scan's edge, where the cel lies in register.
        side: the scan's edge at which the row is.
    """

    hole: float = 0.25
    slot_length: float = 0.5
    slot_height: float = 0.125
    spacing: float = 4.0
    edge: float = 0.4
    side: Side = Side.BOTTOM

    @property
    def strip(self) -> float:
        """Inches from the scan's edge within which the holes are looked for: a turn of 3 degrees and more."""
        return self.edge + 0.06 * self.spacing + 0.5 * self.slot_length + 0.35
