"""Aligns scans that show no peg holes on their level mates that do, and says so in the query they carry.

The drawings themselves tell the turn and shift: phase correlation finds a start at each of a few turns
(Kuglin and Hines, "The phase correlation image alignment method", IEEE Conf. on Cybernetics and Society,
1975), and the enhanced correlation coefficient is made as high as it goes from there (Evangelidis and
Psarakis, "Parametric Image Alignment Using Enhanced Correlation Coefficient Maximization", IEEE Trans. PAMI
30(10), 2008, doi:10.1109/TPAMI.2008.113). Thumbnails are worked on, as frames are laid from them; a
pixel there is 1.3 mm on a 12 field, and a tenth of it is found. What the figure itself moved looks like what
the sheet did, and is more than that on most levels. So a drawing is aligned only where two mates agree where
it belongs: of a figure that moves on they do not. It stays a query, as the figure may have moved on it alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import cv2
import numpy as np
from numpy.typing import NDArray

from cel_check.faults import Fault, FaultKind, Verdict
from cel_check.picture.thumbnail import decode_thumbnail, encode_thumbnail
from cel_check.scan.punch import MM_PER_INCH
from cel_check.scan.register import MOST_SHIFT, MOST_TURN
from cel_check.scene.names import shown
from cel_check.scene.results import CelResult
from cel_check.scene.scan_terms import ScanTerms

Rgba = NDArray[np.uint8]
Gray = NDArray[np.float32]
Move = NDArray[np.float32]
Floats = NDArray[np.float64]

MATES = 3
"""Nearest drawings in register that are asked."""

LEAST = 0.8
"""Correlation from which two drawings are alike enough: drawings of one figure on our samples have
0.73 to 0.98, two figures 0.76 at most."""

APART = 0.5
"""Millimeters by which the two mates that agree best may disagree about where the art lies (house choice)."""

_TURNS = (0.0, -1.0, 1.0, -2.0, 2.0, -3.0, 3.0)
_STARTS = 2
_STEPS = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 100, 1e-5)
_BLUR = 5


@dataclass(frozen=True, eq=False)
class _Laid:
    """How a cel lies beside one mate: `move` takes x, y in register to x, y of the cel's thumbnail."""

    mate: str
    move: Move
    alike: float


def aligned(cels: Sequence[CelResult], terms: ScanTerms) -> tuple[CelResult, ...]:
    """Return a scene's cels with those without holes aligned on mates of their level.

    Args:
        cels: each checked alone, in number order within a level.
        terms: how the scene is scanned.

    Returns:
        The cels in the same order. The query of one without holes says what was done, or why nothing was; of
        one that was aligned the thumbnail lies as in register.
    """
    return tuple(_aligned(cels, number, terms) if _holeless(cels[number]) else cels[number]
                 for number in range(len(cels)))  # fmt: skip


def _off(fault: Fault) -> bool:
    return fault.kind is FaultKind.OFF_REGISTER


def _holeless(cel: CelResult) -> bool:
    """Tell a scan without holes, whose register is a query, from one with torn ones, a retake."""
    return any(_off(fault) and fault.verdict is Verdict.QUERY for fault in cel.faults)


def _aligned(cels: Sequence[CelResult], number: int, terms: ScanTerms) -> CelResult:
    cel = cels[number]
    art = decode_thumbnail(cel.thumbnail)
    dpi = terms.dpi or cel.dpi
    if art is None or not dpi or not cel.width:
        return cel
    mates = _mates(cels, number)
    millimeter = cel.width / art.shape[1] / dpi * MM_PER_INCH  # of a thumbnail's pixel
    if not mates:
        return _told(
            cel, "No other drawing of its level shows holes and has its size: it is taken as it lies."
        )
    gray = _gray(art)
    laid = [_laid(mate, gray) for mate in mates]
    laid = [one for one in laid if one.alike >= LEAST] or laid
    box = _corners(art)
    pair = _agreeing(laid, box)
    why = _doubt(pair, laid, box, millimeter)
    if why:
        return _told(cel, f"It is taken as it lies: {why}.")
    thumbnail = encode_thumbnail(_moved(art, pair[0].move))
    return replace(_told(cel, _sentence(pair, box, millimeter)), thumbnail=thumbnail)


def _mates(cels: Sequence[CelResult], number: int) -> list[CelResult]:
    """Return the nearest drawings of a cel's level that are in register and of its size."""
    cel = cels[number]
    others = [
        (abs(place - number), one)
        for place, one in enumerate(cels)
        if one.level == cel.level
        and one.thumbnail
        and one.error is None
        and (one.width, one.height) == (cel.width, cel.height)
        and not any(_off(fault) for fault in one.faults)
    ]
    return [one for _, one in sorted(others, key=lambda other: other[0])[:MATES]]


def _gray(rgba: Rgba) -> Gray:
    """Return the art on white, `(h, w)`: lines and fills are dark, what is clear is light."""
    alpha = rgba[:, :, 3].astype(np.float32) / 255.0
    luma = np.asarray(cv2.cvtColor(rgba[:, :, :3], cv2.COLOR_RGB2GRAY), np.float32)
    return np.asarray(255.0 - alpha * (255.0 - luma), np.float32)


def _laid(mate: CelResult, gray: Gray) -> _Laid:
    art = decode_thumbnail(mate.thumbnail)
    still = np.eye(2, 3, dtype=np.float32)
    if art is None or art.shape[:2] != gray.shape:
        return _Laid(mate.drawing, still, 0.0)
    target = _gray(art)
    best = _Laid(mate.drawing, still, 0.0)
    if np.ptp(target) == 0 or np.ptp(gray) == 0:
        return best
    for start in _starts(target, gray):
        try:
            alike, move = cv2.findTransformECC(
                target, gray, start, cv2.MOTION_EUCLIDEAN, _STEPS, np.full(gray.shape, 255, np.uint8), _BLUR
            )
        except cv2.error:  # it did not converge from there
            continue
        if alike > best.alike:
            best = _Laid(mate.drawing, np.asarray(move, np.float32), float(alike))
    return best


def _starts(target: Gray, gray: Gray) -> list[Move]:
    """Return the likeliest starts: for each turn the shift by phase correlation, the best few of them."""
    height, width = gray.shape
    window = np.asarray(cv2.createHanningWindow((width, height), cv2.CV_32F), np.float32)
    found = []
    for degrees in _TURNS:
        turn = np.asarray(cv2.getRotationMatrix2D(((width - 1) / 2, (height - 1) / 2), degrees, 1.0))
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        laid = cv2.warpAffine(gray, turn, (width, height), flags=flags, borderValue=255.0)
        shift, response = cv2.phaseCorrelate(255.0 - target, 255.0 - np.asarray(laid, np.float32), window)
        move = np.column_stack([turn[:, :2], turn[:, 2] + turn[:, :2] @ np.array(shift)])
        found.append((float(response), move.astype(np.float32)))
    found.sort(key=lambda one: -one[0])
    return [move for _, move in found[:_STARTS]]


def _agreeing(laid: Sequence[_Laid], box: Floats) -> tuple[_Laid, ...]:
    """Return the two mates that agree best, the more alike first; fewer where there are not two."""
    pairs = sorted(combinations(laid, 2), key=lambda pair: _apart(pair, box))
    return tuple(sorted(pairs[0] if pairs else laid, key=lambda one: -one.alike))


def _doubt(pair: Sequence[_Laid], laid: Sequence[_Laid], box: Floats, millimeter: float) -> str:
    """Return why an alignment is not to be trusted; empty where it is."""
    most = max(one.alike for one in laid)
    if most < LEAST:
        return f"its drawing is too unlike its level mates (correlation {most:.2f}, {LEAST:.2f} is needed)"
    if len(pair) < 2:
        return "one level mate that is like it cannot tell what the sheet moved from what the figure did"
    apart = _apart(pair, box) * millimeter
    if apart > APART:
        return f"its figure moves (level mates put it {apart:.1f} mm apart), which hides what the sheet did"
    turn, shift = _terms(pair[0].move, box, millimeter)
    if abs(turn) > MOST_TURN or max(map(abs, shift)) > MOST_SHIFT * MM_PER_INCH:
        return f"by its level mates it lies {max(map(abs, shift)):.1f} mm and {abs(turn):.1f} degrees off"
    return ""


def _corners(art: Rgba) -> Floats:
    """Return the corners `(4, 3)` of the art's rectangle as x, y, 1."""
    x, y, w, h = cv2.boundingRect(np.ascontiguousarray(art[:, :, 3]))
    return np.array([[x, y, 1], [x + w, y, 1], [x, y + h, 1], [x + w, y + h, 1]], np.float64)


def _apart(pair: Sequence[_Laid], box: Floats) -> float:
    """Return how far two mates put the art's corners from each other, in pixels of a thumbnail."""
    off = box @ (pair[0].move - pair[1].move).astype(np.float64).T
    return float(np.hypot(*off.T).max())


def _terms(move: Move, box: Floats, millimeter: float) -> tuple[float, tuple[float, float]]:
    """Return degrees, clockwise on screen, and millimeters right and down by which a cel's art lies off."""
    middle = box.mean(axis=0)
    right, down = (move @ middle - middle[:2]) * millimeter
    return float(np.degrees(np.arctan2(move[1, 0], move[0, 0]))), (float(right), float(down))


def _moved(rgba: Rgba, move: Move) -> Rgba:
    """Return a thumbnail moved into register; colors are weighted by their alpha, so that no rim darkens."""
    alpha = rgba[:, :, 3:].astype(np.float32) / 255.0
    laid = np.concatenate([rgba[:, :, :3] * alpha, alpha], axis=2).astype(np.float32)
    size, flags = (rgba.shape[1], rgba.shape[0]), cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    laid = np.asarray(cv2.warpAffine(laid, move, size, flags=flags), np.float32)
    color = laid[:, :, :3] / np.maximum(laid[:, :, 3:], 1e-6)
    out = np.dstack([np.where(laid[:, :, 3:] > 0, color, 0.0), 255.0 * laid[:, :, 3]])
    return np.asarray(np.rint(np.clip(out, 0, 255)), np.uint8)


def _sentence(pair: Sequence[_Laid], box: Floats, millimeter: float) -> str:
    turn, (right, down) = _terms(pair[0].move, box, millimeter)
    one, two = (shown(mate.mate) for mate in pair)
    apart = _apart(pair, box) * millimeter
    return (
        f"In frames it is aligned on drawings {one} and {two} of its level, which agree within {apart:.1f} "
        f"mm: turned by {-turn:.1f} degrees and moved by {-right:.1f} and {-down:.1f} mm. What its figure "
        "did on this drawing alone is taken off too."
    )


def _told(cel: CelResult, sentence: str) -> CelResult:
    faults = tuple(
        replace(fault, text=f"{fault.text} {sentence}") if _off(fault) else fault for fault in cel.faults
    )
    return replace(cel, faults=faults)
