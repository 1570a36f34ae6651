"""An injected fault is what its truth says: at that place, of that size and color, and nothing else changed.

Colors are measured with colour-science (`inject` works with scikit-image); shapes by counting pixels.
"""

from collections.abc import Iterator
from dataclasses import asdict, replace

import cases
import colour
import cv2
import numpy as np
import pytest
from art import Color
from cases import Case, compose, model_of, over_card
from inject import KINDS, Injected
from numpy.typing import NDArray
from styles import Style, choose_style

from cel_check.faults import FaultKind

SIZE, FINE = 420, 4
RED, BLUE, SAND, INK = (190, 60, 50), (50, 90, 170), (226, 196, 140), (20, 18, 24)
CARD: Color = (127, 168, 160)
SEEDS = range(4)
DRAWINGS = ("1F34E", "1F41F")
"""An apple and a fish of OpenMoji, which are cels of a few hundred pixels when drawn 240 px high."""

FAULT = {
    "off-model": FaultKind.OFF_MODEL,
    "pinhole": FaultKind.UNPAINTED,
    "clear-part": FaultKind.UNPAINTED,
    "spill": FaultKind.SPILL,
    "stray": FaultKind.STRAY,
    "dirt": FaultKind.STRAY,
    "ink-color": FaultKind.INK_COLOR,
    "open-line": FaultKind.OPEN_LINE,
    "leaked": FaultKind.OPEN_LINE,
    "left-clear": FaultKind.OPEN_LINE,
}
ALIKE = ("leaked", "left-clear")
"""Kinds that paint a whole part besides the place that is wrong."""


def delta_e(first: NDArray[np.uint8] | Color, second: NDArray[np.uint8] | Color) -> float:
    lab = [colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.array(c[:3], float) / 255.0)) for c in (first, second)]
    return float(colour.delta_E(*lab, method="CIE 2000"))


def from_any(color: NDArray[np.uint8], others: tuple[Color, ...]) -> float:
    return min(delta_e(color, other) for other in others)


def shares(draw: NDArray[np.uint8], values: tuple[int, ...]) -> NDArray[np.uint8]:
    """The share of each value in every block of `FINE` x `FINE` pixels."""
    fine = [(draw == value).reshape(SIZE, FINE, SIZE, FINE).mean(axis=(1, 3)) for value in values]
    return np.rint(255 * np.array(fine)).astype(np.uint8)


def drawn(crisp: bool, card: Color | None) -> Case:
    """A disk of two paints and a square of a third, all inked with a pen of 6 px."""
    draw = np.zeros((SIZE * FINE, SIZE * FINE), np.uint8)
    middle, radius, pen = (170 * FINE, 200 * FINE), 110 * FINE, 6 * FINE
    cv2.circle(draw, middle, radius, 1, -1)
    draw[:, middle[0] :][draw[:, middle[0] :] == 1] = 2
    cv2.rectangle(draw, (310 * FINE, 150 * FINE), (370 * FINE, 230 * FINE), 3, -1)
    cv2.circle(draw, middle, radius, 4, pen)
    cv2.line(draw, (middle[0], middle[1] - radius), (middle[0], middle[1] + radius), 4, pen)
    cv2.rectangle(draw, (310 * FINE, 150 * FINE), (370 * FINE, 230 * FINE), 4, pen)
    palette = model_of({RED: (True, False), BLUE: (True, False), SAND: (True, False), INK: (False, True)})
    colors = tuple(color.srgb for color in palette.colors)
    order = tuple({RED: 1, BLUE: 2, SAND: 3, INK: 4}[color] for color in colors)
    both = shares(draw, order)
    if crisp:
        both = ((both == both.max(axis=0)) & (both > 127)).astype(np.uint8) * 255
    ink = both * (np.array(order) == 4)[:, None, None].astype(np.uint8)
    style = Style(crisp, 6.0, "black", INK, 220, card)
    return Case(
        "drawn", "drawn", style, palette, over_card(compose(colors, both - ink, ink), card), both - ink, ink
    )


def small(name: str) -> Case:
    """An outside drawing, 240 px high."""
    recipe = replace(cases.PAINTINGS, style=lambda *words: replace(choose_style(*words), height=240))
    return cases.build(name, "", recipe)


@pytest.fixture(scope="module")
def cels() -> tuple[Case, ...]:
    return (drawn(False, None), drawn(True, None), drawn(False, CARD), *map(small, DRAWINGS))


def injections(cels: tuple[Case, ...], kind: str) -> Iterator[tuple[Case, Injected]]:
    found = 0
    for case in cels:
        for seed in SEEDS:
            result = KINDS[kind](case, np.random.default_rng(seed))
            if result is not None:
                found += 1
                yield case, result
    assert found >= 2 * len(SEEDS), "the cels have hardly a place for it: the test would prove nothing"


def whole(case: Case, injected: Injected) -> NDArray[np.bool_]:
    """The injected pixels as a mask of the whole cel."""
    _, truth = injected
    x, y, width, height = truth.box
    mask = np.zeros(case.rgba.shape[:2], bool)
    mask[y : y + height, x : x + width] = truth.mask
    return mask


def deepest(injected: Injected) -> NDArray[np.uint8]:
    """The color at the truth's point."""
    rgba, truth = injected
    return rgba[truth.point[1], truth.point[0]]


def most(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The color of nearly all pixels; a part's rim may hold one that a faint line blends."""
    colors, counts = np.unique(pixels, axis=0, return_counts=True)
    assert counts.max() >= 0.98 * counts.sum()
    return colors[counts.argmax()]


def around(mask: NDArray[np.bool_], reach: int) -> NDArray[np.bool_]:
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    return cv2.dilate(mask.astype(np.uint8), kernel) > 0


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind not in ALIKE])
def test_nothing_else_changes(cels: tuple[Case, ...], kind: str) -> None:
    for case, injected in injections(cels, kind):
        before = case.rgba.copy()
        changed = (injected[0] != case.rgba).any(axis=2)
        mask = whole(case, injected)
        assert injected[0].dtype == np.uint8
        assert changed[mask].all()
        assert not (changed & ~around(mask, 4)).any()
        assert np.array_equal(before, case.rgba)


@pytest.mark.parametrize("kind", KINDS)
def test_the_truth_agrees_with_itself(cels: tuple[Case, ...], kind: str) -> None:
    for case, injected in injections(cels, kind):
        _, truth = injected
        mask = whole(case, injected)
        rows, columns = np.nonzero(mask)
        assert truth.kind is FAULT[kind]
        assert truth.area == mask.sum() > 0
        assert truth.box == (
            columns.min(), rows.min(), np.ptp(columns) + 1, np.ptp(rows) + 1,
        )  # fmt: skip
        assert mask[truth.point[1], truth.point[0]]


@pytest.mark.parametrize("kind", KINDS)
def test_the_same_seed_gives_the_same_fault(cels: tuple[Case, ...], kind: str) -> None:
    for case in cels[:2]:
        pair = [KINDS[kind](case, np.random.default_rng(7)) for _ in range(2)]
        if pair[0] is not None and pair[1] is not None:
            assert np.array_equal(pair[0][0], pair[1][0])
            first, second = (asdict(truth) for _, truth in pair)
            assert np.array_equal(first.pop("mask"), second.pop("mask"))
            assert first == second
        else:
            assert pair == [None, None]


@pytest.mark.parametrize("kind", KINDS)
def test_an_empty_cel_has_no_place(cels: tuple[Case, ...], kind: str) -> None:
    full = cels[0]
    nothing = replace(
        full, rgba=np.zeros_like(full.rgba), paint=np.zeros_like(full.paint), ink=np.zeros_like(full.ink)
    )
    result = KINDS[kind](nothing, np.random.default_rng(0))
    if kind == "stray":
        return  # dirt can lie on an empty cel
    assert result is None


def test_an_off_model_part_has_one_color_at_the_stated_difference(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "off-model"):
        rgba, truth = injected
        mask = whole(case, injected)
        old, new = most(case.rgba[mask]), most(rgba[mask])
        assert tuple(old[:3]) in case.colors
        assert delta_e(old, new) == pytest.approx(truth.size, abs=0.3)
        assert from_any(new, case.colors) > 2.0


def test_an_off_model_part_is_whole(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "off-model"):
        mask = whole(case, injected)
        same = (case.rgba == most(case.rgba[mask])).all(axis=2).astype(np.uint8)
        _, labels = cv2.connectedComponents(same, connectivity=4)
        label = np.bincount(labels[mask & (same > 0)]).argmax()
        assert (mask ^ (labels == label)).sum() <= max(3, 0.01 * mask.sum())


def test_a_pinhole_is_a_disk_of_ground_in_one_fill(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "pinhole"):
        rgba, truth = injected
        mask = whole(case, injected)
        ground = (0, 0, 0, 0) if case.style.card is None else (*case.style.card, 255)
        assert tuple(deepest(injected)) == ground
        assert truth.area == pytest.approx(np.pi * truth.size**2, rel=0.25)
        assert abs(truth.box[2] - truth.box[3]) <= 1
        ring = around(mask, 3) & ~around(mask, 2)
        assert len(np.unique(rgba[ring], axis=0)) == 1
        assert tuple(rgba[ring][0, :3]) in case.colors


def test_a_clear_part_is_a_whole_fill_shut_in_by_ink(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "clear-part"):
        rgba, truth = injected
        mask = whole(case, injected)
        ground = (0, 0, 0, 0) if case.style.card is None else (*case.style.card, 255)
        assert {tuple(color) for color in rgba[mask]} == {ground}
        assert truth.size == truth.area
        ring = around(mask, 4) & ~around(mask, 3)
        assert (case.ink.sum(axis=0, dtype=int)[ring] > 0).mean() > 0.95


def test_a_spill_reaches_as_far_past_its_line_as_stated(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "spill"):
        _, truth = injected
        mask = whole(case, injected)
        line = case.ink.max(axis=0) >= 128
        past = mask & ~line
        out = cv2.distanceTransform((~line).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        assert 2.5 <= truth.size <= 9
        assert out[past].max() == pytest.approx(truth.size, abs=0.75)
        assert out[past].min() < 2.5
        assert ("over ink" in truth.variant) == bool((mask & line).any())


def test_a_spill_is_paint_of_the_model_on_clear_or_on_other_paint(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "spill"):
        rgba, truth = injected
        x, y = truth.point
        assert tuple(rgba[y, x, :3]) in case.colors
        past = whole(case, injected) & (case.ink.max(axis=0) == 0)
        painted = case.paint.max(axis=0)[past] > 0
        assert painted.all() if "onto paint" in truth.variant else not painted.any()


def test_a_stray_blob_lies_on_the_clear_cel_at_the_stated_distance(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "stray"):
        _, truth = injected
        mask = whole(case, injected)
        art = (case.paint.max(axis=0) > 0) | (case.ink.max(axis=0) > 0)
        gap = cv2.distanceTransform((~art).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)[mask].min()
        near = "near" in truth.variant
        assert gap >= (3 if near else 9)
        assert not near or gap < 9 + truth.size


@pytest.mark.parametrize("kind", ["stray", "dirt"])
def test_a_speck_has_the_stated_diameter_and_color(cels: tuple[Case, ...], kind: str) -> None:
    for case, injected in injections(cels, kind):
        _, truth = injected
        assert 2 * np.sqrt(truth.area / np.pi) == pytest.approx(truth.size, rel=0.25, abs=0.75)
        color = deepest(injected)
        if "dirt" in truth.variant:
            assert from_any(color, case.colors) > 3.5
        else:
            assert tuple(color[:3]) in case.colors


def test_dirt_lies_inside_one_fill_and_can_be_told_from_it(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "dirt"):
        under = np.unique(case.rgba[around(whole(case, injected), 3)], axis=0)
        assert len(under) == 1
        assert delta_e(under[0], deepest(injected)) > 9.5


def test_a_stretch_of_ink_has_its_whole_width_in_the_stated_color(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "ink-color"):
        rgba, truth = injected
        mask = whole(case, injected)
        changed = (rgba != case.rgba).any(axis=2)
        assert (case.ink.max(axis=0)[changed] > 0).all()
        stated = float(truth.variant.split()[1])
        old = case.rgba[truth.point[1], truth.point[0]]
        assert delta_e(old, deepest(injected)) == pytest.approx(stated, abs=0.3)
        assert from_any(deepest(injected), case.colors) > min(stated, 5.0) - 0.5
        pen = truth.area / truth.size
        assert pen == pytest.approx(case.pen_px, rel=0.5)
        assert mask.any()


def test_a_gap_is_as_long_as_stated_and_both_its_sides_reach_into_it(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "open-line"):
        rgba, truth = injected
        mask = whole(case, injected)
        ink = case.ink.sum(axis=0, dtype=int) >= 128
        assert (mask & ~ink).sum() == 0
        assert 2 <= truth.size <= 3.5 * case.pen_px + 12
        if case.name == "drawn":
            assert truth.area / truth.size == pytest.approx(case.pen_px, rel=0.4)
            gone = rgba[mask]
            sides = [(gone[:, :3] == color).all(axis=1) & (gone[:, 3] == 255) for color in case.colors]
            if case.style.card is None:
                sides.append(gone[:, 3] == 0)
            else:
                sides.append((gone[:, :3] == case.style.card).all(axis=1))
            assert sum(bool(side.any()) for side in sides) == 2
            assert sides[-1].any() == (truth.variant == "paint and clear")


def test_the_line_goes_on_past_both_ends_of_a_gap(cels: tuple[Case, ...]) -> None:
    for case, injected in injections(cels, "open-line"):
        rgba, _ = injected
        mask = whole(case, injected)
        ink = case.ink.sum(axis=0, dtype=int) >= 128
        left = ink & around(mask, 6) & ~around(mask, 2) & (rgba == case.rgba).all(axis=2)
        pieces, _ = cv2.connectedComponents(left.astype(np.uint8), connectivity=8)
        assert pieces - 1 == 2


@pytest.mark.parametrize("kind", ALIKE)
def test_a_gap_lies_between_two_parts_that_are_alike_and_apart_but_for_it(
    cels: tuple[Case, ...], kind: str
) -> None:
    for case, injected in injections(cels, kind):
        rgba, truth = injected
        mask = whole(case, injected)
        ink = case.ink.sum(axis=0, dtype=int) >= 128
        assert (mask & ~ink).sum() == 0
        paint = deepest(injected)
        alike = (rgba == paint).all(axis=2) if paint[3] else rgba[..., 3] == 0
        alike &= ~ink | mask
        opened, _ = cv2.connectedComponents(alike.astype(np.uint8), connectivity=4)
        closed, _ = cv2.connectedComponents((alike & ~around(mask, 2)).astype(np.uint8), connectivity=4)
        assert closed > opened or truth.size < 6  # a short soft gap is blended in its middle
