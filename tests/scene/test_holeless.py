"""A scan without holes is aligned on level mates that agree where it belongs, and says so; never silently."""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from cel_check.faults import Fault, FaultKind, SendTo, Verdict
from cel_check.model.colormodel import Palette
from cel_check.picture.thumbnail import decode_thumbnail, encode_thumbnail
from cel_check.scan.punch import Punch
from cel_check.scene.conduct import conduct
from cel_check.scene.holeless import aligned
from cel_check.scene.results import CelResult
from cel_check.scene.scan_terms import ScanTerms
from cel_check.scene.scene import DrawingFile, Level, Scene
from cel_check.settings import DEFAULTS

WIDTH, HEIGHT = 240, 175
DPI, SCALE = 300.0, 15
TERMS = ScanTerms(DPI, "", "", 5.0, None, Punch())
MM = SCALE / DPI * 25.4  # of a thumbnail's pixel
MIDDLE = ((WIDTH - 1) / 2, (HEIGHT - 1) / 2)


def query(verdict=Verdict.QUERY):
    return Fault(FaultKind.OFF_REGISTER, verdict, "No holes.", send_to=SendTo.SCAN, confidence=0.9)


def figure(walk=0, blink=0, turn=0.0, shift_mm=(0.0, 0.0)):
    """A figure with an arm and eyes on a clear cel, drawn four times as large and shrunk."""
    big = np.zeros((4 * HEIGHT, 4 * WIDTH, 4), np.float32)
    x = 4 * walk
    for center, axes, color in (
        ((430 + x, 380), (120, 200), (200, 85, 61)),
        ((450 + x, 170), (80, 90), (226, 180, 150)),
        ((590 + x, 330), (110, 35), (60, 110, 150)),
        ((425 + x, 160), (12, max(2, 14 - blink)), (250, 250, 250)),
        ((475 + x, 160), (12, max(2, 14 - blink)), (250, 250, 250)),
    ):
        cv2.ellipse(big, (center, (2 * axes[0] + 12, 2 * axes[1] + 12), 20.0), (20, 18, 24, 255), -1)
        cv2.ellipse(big, (center, (2 * axes[0], 2 * axes[1]), 20.0), (*color, 255), -1)
    move = cv2.getRotationMatrix2D(((4 * WIDTH - 1) / 2, (4 * HEIGHT - 1) / 2), -turn, 1.0)
    move[:, 2] += np.array(shift_mm) / MM * 4
    big = cv2.warpAffine(big * (big[:, :, 3:] / 255), move, (4 * WIDTH, 4 * HEIGHT))
    small = cv2.resize(big, (WIDTH, HEIGHT), interpolation=cv2.INTER_AREA)
    small[:, :, :3] /= np.maximum(small[:, :, 3:] / 255, 1e-6)
    return np.rint(np.clip(small, 0, 255)).astype(np.uint8)


def cel(number, rgba, *faults):
    size = {"width": WIDTH * SCALE, "height": HEIGHT * SCALE}
    thumbnail = encode_thumbnail(rgba)
    return CelResult("A", str(number), f"A/{number}.tif", Verdict.PASS, faults, thumbnail=thumbnail, **size)


def drawn(cel):
    return decode_thumbnail(cel.thumbnail).astype(int)


@pytest.mark.parametrize(("turn", "shift"), [(0.0, (3.0, -2.0)), (1.2, (-4.5, 1.0)), (-2.0, (5.0, 5.0))])
def test_it_is_laid_where_its_held_mates_lie_and_says_so(turn, shift):
    lost = cel(2, figure(blink=12, turn=turn, shift_mm=shift), query())
    cels = (cel(1, figure()), lost, cel(3, figure(blink=6)))
    done = aligned(cels, TERMS)
    assert done[::2] == cels[::2]
    right = figure(blink=12)
    before, after = (np.abs(drawn(one)[:, :, 3] - right[:, :, 3]).sum() for one in (lost, done[1]))
    assert after < 0.2 * before  # edges are softened by the move itself
    (fault,) = done[1].faults
    assert fault.verdict is Verdict.QUERY
    assert "In frames it is aligned on drawings" in fault.text
    assert f"moved by {-shift[0]:.1f} and" in fault.text or turn  # a turn moves the figure's middle as well
    assert f"turned by {-turn:.1f}" in fault.text or turn == 0


NOT = {
    "its figure moves": [figure(walk=0), figure(walk=8)],
    "too unlike its level mates": [figure()[::-1, ::-1], figure()[::-1]],
    "one level mate that is like it": [figure()],
    "No other drawing of its level shows holes and has its size": [],
    "degrees off": [figure(walk=-16), figure(walk=-16, blink=6)],
}


@pytest.mark.parametrize("why", NOT)
def test_what_mates_do_not_tell_is_left_as_it_lies_and_said(why):
    lost = cel(9, figure(walk=4, shift_mm=(2.0, 0.0)), query())
    cels = (lost, *(cel(number, np.ascontiguousarray(mate)) for number, mate in enumerate(NOT[why])))
    done = aligned(cels, TERMS)
    assert why in done[0].faults[0].text
    assert done[0].faults[0].verdict is Verdict.QUERY
    assert done[0].thumbnail == lost.thumbnail


def test_torn_holes_other_sizes_and_clear_cels_are_no_matter():
    torn = cel(1, figure(shift_mm=(3.0, 0.0)), query(Verdict.RETAKE))
    small = replace(cel(2, figure()), width=100)
    clear = cel(3, np.zeros((HEIGHT, WIDTH, 4), np.uint8), query())
    cels = (torn, small, cel(4, figure()), cel(5, figure()))
    assert aligned(cels, TERMS) == cels
    assert "as it lies" in aligned((clear, *cels), TERMS)[0].faults[0].text


def test_a_scanned_scenes_report_says_it():
    files = tuple(DrawingFile(str(n), f"A/{n}.tif", Path(f"{n}.tif"), 1) for n in (1, 2, 3))
    level = Level("A", files, Palette((), ()))
    scene = Scene(Path(), "s", "1", "scan", None, 24, 12, None, (level,), None, (), scan=TERMS)
    cels = (cel(1, figure()), cel(2, figure(shift_mm=(3.0, 1.0)), query()), cel(3, figure()))
    result = conduct(scene, DEFAULTS, lambda tasks: enumerate(cels))
    (fault,) = [fault for fault in result.faults if fault.kind is FaultKind.OFF_REGISTER]
    assert "aligned on drawings" in fault.text
    assert (fault.drawing, fault.verdict) == ("2", Verdict.QUERY)
