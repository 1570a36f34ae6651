"""A condition is one smooth shift of all colors, and the color that does not follow is named."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from looks_art import color, condition, looks, model_of

from cel_check.color.spaces import linear_to_srgb, srgb8_to_lab, srgb_to_linear, to_8_bit
from cel_check.model.conditions import ODD, find_odd, fit_shift
from cel_check.model.finding import Kind, Severity

RNG = np.random.default_rng(12)
COLORS = RNG.integers(20, 240, (24, 3)).astype(np.uint8)


def hexes(rgb):
    return ["#{:02X}{:02X}{:02X}".format(*one) for one in np.asarray(rgb).tolist()]


def night(rgb):
    """Linear light through a filter, plus the air's own light."""
    return to_8_bit(linear_to_srgb(srgb_to_linear(rgb / 255.0) * (0.36, 0.44, 0.66) + (0.004, 0.008, 0.026)))


def multiplied(rgb):
    """A layer of color multiplied over the codes, as painters do it."""
    return to_8_bit(rgb / 255.0 * (0.5, 0.6, 0.8))


def grayed(rgb):
    """Half the color taken out, then a filter: channels mix."""
    linear = srgb_to_linear(rgb / 255.0)
    gray = linear @ np.array([0.2126, 0.7152, 0.0722])
    return to_8_bit(linear_to_srgb((0.5 * linear + 0.5 * gray[:, None]) * (0.4, 0.5, 0.7)))


def findings(tmp_path, base, changed, name="night"):
    names = [f"c{i}" for i in range(len(base))]
    parts = [color(n, h) for n, h in zip(names, hexes(base), strict=True)]
    named = {n: h for n, h in zip(names, hexes(changed), strict=True) if h}
    model = model_of(tmp_path, *parts, condition(name, **named))
    return [one for one in find_odd(looks(model)) if one.kind is Kind.ODD_ONE_OUT]


@pytest.mark.parametrize("law", [night, multiplied, grayed])
def test_colors_that_follow_one_law_are_quiet(tmp_path, law):
    assert findings(tmp_path, COLORS, law(COLORS)) == []


@pytest.mark.parametrize(
    ("law", "count"),  # channels that mix need 14 colors
    [(night, 12), (night, 24), (multiplied, 12), (multiplied, 24), (grayed, 24)],
)
def test_the_odd_one_is_named_and_no_other(tmp_path, law, count):
    changed = law(COLORS[:count])
    changed[5] = (210, 170, 60)
    (one,) = findings(tmp_path, COLORS[:count], changed)
    assert (one.severity, one.colors, one.condition) == (Severity.WARNING, (("tilda", "c5"),), "night")
    wanted = one.mend.split("(")[1][:7]
    near = srgb8_to_lab(np.array([list(bytes.fromhex(wanted[1:]))], np.uint8))
    assert np.abs(near - srgb8_to_lab(law(COLORS[5:6]))).max() < 2.0


def test_one_in_three_may_be_odd(tmp_path):
    changed = night(COLORS)
    odd = [1, 4, 7, 10, 13, 16, 19]
    changed[odd] = RNG.integers(150, 250, (7, 3))
    assert {one.colors[0][1] for one in findings(tmp_path, COLORS, changed)} == {f"c{i}" for i in odd}


def test_a_hand_that_paints_loosely_widens_what_follows(tmp_path):
    loose = np.clip(night(COLORS).astype(int) + RNG.integers(-12, 13, COLORS.shape), 0, 255)
    assert findings(tmp_path, COLORS, loose) == []


def test_a_color_that_the_condition_forgets_is_told_as_such(tmp_path):
    names = [f"c{i}" for i in range(len(COLORS))]
    named = dict(zip(names[1:], hexes(night(COLORS))[1:], strict=True))
    parts = [color(n, h) for n, h in zip(names, hexes(COLORS), strict=True)]
    (one,) = find_odd(looks(model_of(tmp_path, *parts, condition("night", **named))))
    assert one.text.startswith(f"C0 is not named in night and stays {hexes(COLORS)[0]}")
    assert one.mend.startswith("Name it in [condition.night] (#")


def test_too_few_colors_are_not_judged(tmp_path):
    changed = night(COLORS[:5])
    changed[0] = 255 - changed[0]
    assert findings(tmp_path, COLORS[:5], changed) == []


def test_colors_of_several_models_are_judged_together(tmp_path):
    half = len(COLORS) // 2
    models = []
    for key, some in (("tilda", slice(0, half)), ("rook", slice(half, None))):
        changed = hexes(night(COLORS[some]))
        if key == "rook":
            changed[0] = "#F0F010"
        parts = [color(f"c{i}", text) for i, text in enumerate(hexes(COLORS[some]))]
        models.append(
            model_of(
                tmp_path, *parts, condition("night", **{f"c{i}": t for i, t in enumerate(changed)}), key=key
            )
        )
    (one,) = find_odd(looks(*models))
    assert one.colors == (("rook", "c0"),)


def test_a_model_without_a_condition_is_a_note(tmp_path):
    tilda = model_of(tmp_path, color("coat", "#804020"), condition("night", coat="#402020"))
    rook = model_of(tmp_path, color("wing", "#8090A0"), key="rook", who="Rook")
    (one,) = find_odd(looks(tilda, rook))
    assert (one.severity, one.kind, one.model) == (Severity.NOTE, Kind.CONDITION, "rook")
    assert one.text == "Rook has no night, which another of these models has."


def test_without_odd_ones_the_fit_is_that_of_least_squares():
    base, changed = COLORS, night(COLORS)
    shift = fit_shift(base, srgb8_to_lab(base), srgb8_to_lab(changed))
    assert shift.space == "linear light"
    design = np.concatenate([srgb_to_linear(base / 255.0), np.ones((len(base), 1))], axis=1)
    target = srgb_to_linear(changed / 255.0)
    solution, *_ = np.linalg.lstsq(design, target, rcond=None)
    want = srgb8_to_lab(to_8_bit(linear_to_srgb(np.clip(design @ solution, 0, 1))))
    assert np.abs(shift.lab - want).max() < 0.6  # half a code, which the oracle rounds


@given(st.lists(st.tuples(*[st.integers(0, 255)] * 3), min_size=6, max_size=20), st.integers(0, 2**16))
def test_any_colors_give_a_finite_shift(colors, seed):
    base = np.array(colors, np.uint8)
    changed = np.random.default_rng(seed).integers(0, 256, base.shape).astype(np.uint8)
    shift = fit_shift(base, srgb8_to_lab(base), srgb8_to_lab(changed))
    assert np.isfinite(shift.lab).all()
    assert np.isfinite(shift.off).all()
    assert shift.limit >= ODD
