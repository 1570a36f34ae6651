"""Brings a scan to register: three holes tell its turn and shift, and how well they agree is the residual.

The round hole alone locates the sheet along the row and across; the slots, cut wider than their pins, give
the turn. So the sheet is turned by the slots' line and moved by the round hole.
"""

from dataclasses import dataclass, replace
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.picture.picture import Picture
from cel_check.scan.holes import Candidates, cover_holes, find_holes
from cel_check.scan.punch import MM_PER_INCH, Punch, Side

_FAR = 0.06
"""Inches by which a hole may lie off its place among the three to be taken for it at all."""

WORST_RESIDUAL = 10.0
"""Thousandths of an inch from which holes disagree so much that one is worn or torn (0.25 mm; a punched hole
is some 0.1 mm wider than its pin: common practice, no source)."""

MOST_TURN, MOST_SHIFT = 3.0, 0.4
"""Degrees and inches from which a cel did not lie on its pegs; 5 mm and 2 degrees are usual on a flatbed."""

_NAMES = ("the left slot", "the round hole", "the right slot")


@dataclass(frozen=True, eq=False)
class Registration:
    """How a scan is brought to register.

    Attributes:
        move: `(2, 3)` takes x, y of the scan to x, y in register.
        turn: degrees that the scan is turned, clockwise on screen.
        shift: millimeters that its round hole is off its place, right and down.
        residual: thousandths of an inch: root mean square of the holes from where the punch has them.
    """

    move: NDArray[np.float64]
    turn: float
    shift: tuple[float, float]
    residual: float

    def sentence(self) -> str:
        """Return what was done, for a cel's notes."""
        right, down = self.shift
        return (
            f"The scan was turned by {-self.turn:.2f} degrees and moved by {-right:.2f} and {-down:.2f} mm "
            f"to register; its holes agree within {self.residual:.1f} thousandths of an inch."
        )


@dataclass(frozen=True)
class OffRegister:
    """Why a scan cannot be brought to register.

    Attributes:
        wrong: what is wrong.
        mend: the mend.
        holeless: whether no hole at all was found, so that none can be torn.
        holes: x, y of the middles of those that were, or of where a torn one should be.
        side: the edge along which these are.
    """

    wrong: str
    mend: str
    holeless: bool = False
    holes: tuple[tuple[float, float], ...] = ()
    side: Side = Side.BOTTOM


def register(picture: Picture, dpi: float, punch: Punch) -> Registration | OffRegister:
    """Find the holes of a scan and how to bring it to register.

    Args:
        picture: the scan.
        dpi: its pixels an inch.
        punch: the holes' measures and side.
    """
    rgb = picture.rgba
    found = find_holes(rgb, dpi, punch, punch.side)
    three = _three(found, dpi, punch)
    if three is None:
        return _why(rgb, found, dpi, punch)
    registration = _registration(three, (picture.width, picture.height), dpi, punch)
    off = _too_far(registration)
    return registration if off is None else replace(off, holes=_spots(three), side=punch.side)


def cover_punched(pixels: NDArray[np.uint8], move: NDArray[np.float64], dpi: float, punch: Punch) -> None:
    """Cover the holes of a scan whose register is known with the median color around each, in place.

    Args:
        pixels: `(h, w, channels)`, as the sheet lay.
        move: `(2, 3)` takes x, y of it to x, y in register.
        dpi: its pixels an inch.
        punch: the holes' measures and side.
    """
    middle = _place((pixels.shape[1], pixels.shape[0]), dpi, punch)
    back = cv2.invertAffineTransform(move)
    lean = abs(back[1, 0])  # the sine of the turn
    for step, length, height in (
        (-1, punch.slot_length, punch.slot_height),
        (0, punch.hole, punch.hole),
        (1, punch.slot_length, punch.slot_height),
    ):
        spot = back @ [middle[0] + step * punch.spacing * dpi, middle[1], 1.0]
        x, y = np.rint(spot).astype(int).tolist()
        half = [(0.5 * size + 0.04) * dpi for size in (length + lean * height, height + lean * length)]
        _cover(pixels, (x, y), (round(half[0]), round(half[1])), round(0.04 * dpi) + 1)


def _cover(pixels: NDArray[np.uint8], middle: tuple[int, int], half: tuple[int, int], rim: int) -> None:
    """Cover a box with the median color of the rows above and below it, in place."""
    (x, y), (half_w, half_h) = middle, half
    around = pixels[max(0, y - half_h - rim) : y + half_h + rim, max(0, x - half_w - rim) : x + half_w + rim]
    if not around.size:
        return
    edge = np.concatenate([part.reshape(-1, pixels.shape[2]) for part in (around[:rim], around[-rim:])])
    hole = pixels[max(0, y - half_h) : y + half_h + 1, max(0, x - half_w) : x + half_w + 1]
    hole[:] = np.median(edge, axis=0).astype(pixels.dtype)


def cover_found(pixels: NDArray[np.uint8], off: OffRegister, scale: float, dpi: float, punch: Punch) -> None:
    """Cover the holes of a scan that is not in register, in place: they are no painting.

    Args:
        pixels: `(h, w, channels)`, the scan or a smaller one.
        off: what was found on the scan.
        scale: the picture's size over the scan's.
        dpi: the picture's pixels an inch.
        punch: the holes' measures.
    """
    if off.holes:
        cover_holes(pixels, dpi, punch, off.side, (np.array(off.holes) + 0.5) * scale - 0.5)


def _place(size: tuple[int, int], dpi: float, punch: Punch) -> tuple[float, float]:
    """Return where the round hole's middle lies in register."""
    from_edge = punch.edge * dpi
    return (size[0] - 1) / 2, from_edge if punch.side is Side.TOP else size[1] - 1 - from_edge


def _three(found: Candidates, dpi: float, punch: Punch) -> NDArray[np.float64] | None:
    """Return the `(3, 2)` left slot, round hole and right slot that agree best, or None."""
    best, least = None, _FAR * dpi
    for middle, left, right in product(found.round, found.slots, found.slots):
        if left[0] >= right[0]:
            continue
        three = np.array([left, middle, right])
        off = float(np.abs(three - _fitted(three, dpi, punch)).max())
        if off < least:
            best, least = three, off
    return best


def _fitted(three: NDArray[np.float64], dpi: float, punch: Punch) -> NDArray[np.float64]:
    """Return where a punch of this size, laid over three holes as well as it goes, has them."""
    along = three[2] - three[0]
    along = along / np.hypot(*along)
    steps = np.array([-1.0, 0.0, 1.0])[:, None] * punch.spacing * dpi
    fitted: NDArray[np.float64] = three.mean(axis=0) + steps * along
    return fitted


def _registration(
    three: NDArray[np.float64], size: tuple[int, int], dpi: float, punch: Punch
) -> Registration:
    along = three[2] - three[0]
    turn = float(np.arctan2(along[1], along[0]))
    c, s = np.cos(-turn), np.sin(-turn)
    rotation = np.array([[c, -s], [s, c]])
    place = np.array(_place(size, dpi, punch))
    move = np.column_stack([rotation, place - rotation @ three[1]])
    off = three - _fitted(three, dpi, punch)
    residual = float(np.sqrt((off**2).sum(axis=1).mean())) / dpi * 1000.0
    shift = (three[1] - place) / dpi * MM_PER_INCH
    return Registration(move, float(np.degrees(turn)), (float(shift[0]), float(shift[1])), residual)


def _too_far(registration: Registration) -> OffRegister | None:
    far = max(abs(v) for v in registration.shift) / MM_PER_INCH
    if registration.residual > WORST_RESIDUAL:
        off = f"{registration.residual:.0f} thousandths of an inch"
        wrong = f"its peg holes disagree by {off}: one is worn or torn"
        return OffRegister(wrong, "Mend the holes with a punched strip and scan again")
    if abs(registration.turn) > MOST_TURN or far > MOST_SHIFT:
        off = f"{far * MM_PER_INCH:.1f} mm and {abs(registration.turn):.1f} degrees"
        wrong = f"its peg holes lie {off} off their place"
        return OffRegister(
            wrong, "Lay the cel on its pegs and scan again, or give the [scan] table the right dpi"
        )
    return None


def _why(rgb: NDArray[np.uint8], found: Candidates, dpi: float, punch: Punch) -> OffRegister:
    """Return why three holes were not found, naming the one that is missing where two agree."""
    other = Side.TOP if punch.side is Side.BOTTOM else Side.BOTTOM
    three = _three(find_holes(rgb, dpi, replace(punch, side=other), other), dpi, punch)
    if three is not None:
        wrong = f"its peg holes are along the {other.value} edge"
        mend = f'Scan it the other way up, or write pegs = "{other.value}" into [scan]'
        return OffRegister(wrong, mend, holes=_spots(three), side=other)
    missing = _missing(found, dpi, punch)
    if missing is None:
        wrong = f"no row of peg holes is along its {punch.side.value} edge"
        mend = "Scan the whole sheet with its holes, and check dpi and punch in [scan]"
        return OffRegister(wrong, mend, holeless=not len(found.torn))
    name, spot, pair = missing
    near = bool(len(found.torn)) and bool((np.hypot(*(found.torn - spot).T) < 0.4 * dpi).any())
    wrong = f"{name} of its peg holes is {'torn or covered' if near else 'missing'}"
    holes = _spots(np.vstack([pair, spot]))
    return OffRegister(
        wrong, "Mend the holes with a punched strip and scan again", holes=holes, side=punch.side
    )


def _spots(holes: NDArray[np.float64]) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in holes)


def _missing(
    found: Candidates, dpi: float, punch: Punch
) -> tuple[str, NDArray[np.float64], NDArray[np.float64]] | None:
    """Return which hole is missing, where it should be, and the two that are there and tell so."""
    step, slack = punch.spacing * dpi, 3 * _FAR * dpi
    for left, right in product(found.slots, found.slots):
        if left[0] < right[0] and abs(np.hypot(*(right - left)) - 2 * step) < slack:
            return _NAMES[1], (left + right) / 2, np.array([left, right])
    for middle, slot in product(found.round, found.slots):
        if abs(np.hypot(*(slot - middle)) - step) < slack:
            return _NAMES[0 if slot[0] > middle[0] else 2], 2 * middle - slot, np.array([middle, slot])
    return None
