"""What is judged from measurements alone is what a fresh check of the picture would say."""

from dataclasses import replace

import numpy as np
import pytest
from cel_art import COAT, PALETTE, SKIN, figure, jpeg, off, picture

from cel_check.checks.run import check_drawing
from cel_check.drawing.places import places_of
from cel_check.drawing.separate import take_apart
from cel_check.episode.codec import decode, encode
from cel_check.episode.keys import terms_of
from cel_check.episode.rejudge import still_holds
from cel_check.faults import Verdict
from cel_check.scene.measure import measured
from cel_check.scene.results import CelResult
from cel_check.settings import DEFAULTS

CARD = (230, 226, 214)
CELS = {
    "clean": figure().rgba(),
    "a coat mixed wrong": figure(coat=off(COAT, 3.0)).rgba(),
    "near the tolerance": figure(coat=off(COAT, 1.8)).rgba(),
    "a wrong ink": figure(ink=(70, 30, 90)).rgba(),
    "a thin line": figure(pen=2.5).rgba(),
    "on a card": figure().rgba(card=CARD),
    "compressed": jpeg(figure(coat=off(COAT, 1.5)).rgba(card=CARD)),
    "a soft speck": figure().disk((20, 180), 1.6, off(SKIN, 2.5)).rgba(),
    "empty": np.zeros((40, 40, 4), np.uint8),
}
FACTORS = (0.4, 0.7, 0.9, 1.1, 1.4, 2.5)


def check(rgba, palette):
    drawing = take_apart(picture(rgba), palette, DEFAULTS)
    faults = check_drawing(drawing, DEFAULTS)
    return CelResult(
        "A", "1", "A/1.png", Verdict.PASS, faults, "0" * 64, 9, 9, places=places_of(drawing),
        measured=measured(drawing),
    )  # fmt: skip


def palettes():
    """The palette with one color's tolerance changed, and with all of them changed."""
    for factor in FACTORS:
        for place, color in enumerate(PALETTE.colors):
            changed = replace(color, tolerance=color.tolerance * factor)
            yield replace(PALETTE, colors=(*PALETTE.colors[:place], changed, *PALETTE.colors[place + 1 :]))
        yield replace(
            PALETTE, colors=tuple(replace(c, tolerance=c.tolerance * factor) for c in PALETTE.colors)
        )


@pytest.mark.parametrize("name", CELS)
def test_where_it_holds_a_fresh_check_says_the_same(name):
    before = check(CELS[name], PALETTE)
    stored = decode(encode(before))
    terms = terms_of(PALETTE).text
    assert still_holds(stored, terms, PALETTE)
    for palette in palettes():
        if still_holds(stored, terms, palette):
            assert check(CELS[name], palette) == before


def test_it_holds_for_most_changes_and_not_for_those_that_change_an_answer():
    held = []
    for rgba in (CELS["clean"], CELS["near the tolerance"]):
        stored = decode(encode(check(rgba, PALETTE)))
        held += [still_holds(stored, terms_of(PALETTE).text, palette) for palette in palettes()]
    assert sum(held) >= 0.6 * len(held)
    tight = tuple(replace(color, tolerance=1.0) for color in PALETTE.colors)
    stored = decode(encode(check(CELS["near the tolerance"], PALETTE)))
    assert not still_holds(stored, terms_of(PALETTE).text, replace(PALETTE, colors=tight))


def test_a_fault_that_names_a_changed_color_is_said_anew():
    stored = decode(encode(check(CELS["a coat mixed wrong"], PALETTE)))
    (named,) = {fault.nearest.color for fault in stored.faults if fault.nearest}
    for color in PALETTE.colors:
        colors = tuple(replace(c, paint="R-99") if c is color else c for c in PALETTE.colors)
        holds = still_holds(stored, terms_of(PALETTE).text, replace(PALETTE, colors=colors))
        assert holds == (color.id != named)


def test_other_colors_are_never_judged_from_these_measurements():
    stored = decode(encode(check(CELS["clean"], PALETTE)))
    fewer = replace(PALETTE, colors=PALETTE.colors[1:])
    assert not still_holds(stored, terms_of(PALETTE).text, fewer)
