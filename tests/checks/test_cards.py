"""A clean cel that was flattened onto a card, of whatever color, is not sent back."""

import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest
from cel_art import CARD, faults_of, kinds, known

from cel_check.faults import Verdict
from cel_check.model.load import load_model
from cel_check.model.resolve import palette_for
from cel_check.picture.reader import read_picture
from cel_check.settings import DEFAULTS

ROOT = Path(__file__).resolve().parents[2]
CARDS = {"ivory": CARD, "white": (255, 255, 255), "gray": (128, 128, 128), "green": (200, 215, 205)}
CELS = ("A-0001", "B-0001", "B-0003", "C-0003", "D-0001", "D-0005")
SAME = (
    "bare paint of the card's own color is cut away with the card, and what it parts from the art is a speck"
)
KNOWN = {
    ("D-0005", "ivory"): SAME,
}


def on_card(name, card):
    """A sample of the clean scene on a card, and its palette."""
    level = name[0]
    rgba = read_picture(ROOT / "samples" / "sc012" / level / f"{name}.png", DEFAULTS).rgba
    x, y, w, h = cv2.boundingRect(np.ascontiguousarray(rgba[..., 3]))
    art = np.pad(rgba[y : y + h, x : x + w], ((9, 9), (9, 9), (0, 0))).astype(np.float64)
    share = art[..., 3:] / 255.0
    flat = np.rint(art[..., :3] * share + (1.0 - share) * np.array(card)).astype(np.uint8)
    table = tomllib.loads((ROOT / "samples" / "sc012" / "scene.toml").read_text(encoding="utf-8"))
    models = [load_model(ROOT / "palettes" / Path(file).name) for file in table["level"][level]["models"]]
    return np.dstack([flat, np.full(flat.shape[:2], 255, np.uint8)]), palette_for(
        models, None, "ABCD".index(level) + 1
    )


@pytest.mark.parametrize("card", CARDS)
@pytest.mark.parametrize("name", CELS)
def test_a_clean_sample_on_a_card_is_not_sent_back(name, card, request):
    known(request, (name, card) in KNOWN, KNOWN.get((name, card), ""))
    faults = faults_of(*on_card(name, CARDS[card]))
    assert kinds([fault for fault in faults if fault.verdict is Verdict.RETAKE]) == []
