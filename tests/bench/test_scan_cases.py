"""A simulated scan's faults come back to the place on the cel where they were put in."""

import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from cases import Case, compose, model_of
from inject import pinhole
from score import judge
from styles import Style

from cel_check.faults import FaultKind, Verdict

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "scan"))
from scan_cases import MM, check_pixels, in_mm, on_cel, scan_of, scanner_of

COAT, SKIN, INK = (190, 60, 50), (226, 196, 140), (20, 18, 24)


def figure() -> Case:
    """A disk of two paints, inked with a pen of 14 px."""
    draw = np.zeros((700, 600), np.uint8)
    cv2.circle(draw, (300, 350), 260, 1, -1)
    draw[:, 300:][draw[:, 300:] == 1] = 2
    cv2.circle(draw, (300, 350), 260, 3, 14)
    cv2.line(draw, (300, 90), (300, 610), 3, 14)
    palette = model_of({COAT: (True, False), SKIN: (True, False), INK: (False, True)})
    colors = tuple(color.srgb for color in palette.colors)
    order = np.array([{COAT: 1, SKIN: 2, INK: 3}[color] for color in colors])[:, None, None]
    shares = np.where(draw == order, 255, 0).astype(np.uint8)
    ink = np.where(order == 3, shares, 0).astype(np.uint8)
    style = Style(False, 14.0, "black", INK, 700, None)
    return Case("figure", "drawn", style, palette, compose(colors, shares - ink, ink), shares - ink, ink)


def test_a_pinhole_is_found_where_it_was_put_in(tmp_path: Path) -> None:
    case = figure()
    scanner = scanner_of(case, 4, False, tmp_path)
    injected = pinhole(case, np.random.default_rng(2), 0.8 * MM)
    assert injected is not None
    rgba, truth = injected
    assert in_mm("pinhole", truth) == pytest.approx(0.8)
    found = check_pixels(scan_of(rgba, case, scanner, tmp_path / "scan.zst"), case, scanner)
    faults = tuple(on_cel(fault, scanner) for fault in found.faults)
    boxed = [fault for fault in faults if fault.box is not None]
    assert [(fault.kind, fault.verdict) for fault in boxed] == [(FaultKind.UNPAINTED, Verdict.RETAKE)]
    assert judge(("pinhole", "drawn"), truth, faults, (), 12).hit
    x, y, w, h = truth.box
    assert boxed[0].point == pytest.approx((x + w / 2, y + h / 2), abs=6)
