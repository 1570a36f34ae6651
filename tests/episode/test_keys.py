"""A result's key changes with whatever it depends on, and with nothing else."""

from dataclasses import fields, replace
from pathlib import Path

import pytest
from cel_art import PALETTE

from cel_check.episode.keys import (
    LIMITS,
    checking_program,
    colors_of,
    concluding_program,
    judging,
    key_of,
    terms_of,
    within_limits,
)
from cel_check.scene.tasks import CelTask
from cel_check.settings import DEFAULTS, Settings

COLOR = PALETTE.colors[0]


def changed(**more):
    return replace(PALETTE, colors=(replace(COLOR, **more), *PALETTE.colors[1:]))


def test_colors_and_their_order_are_one_thing_tolerances_and_names_another():
    for palette in (changed(srgb=(1, 2, 3)), changed(lab=(1.0, 2.0, 3.0)), changed(id="other")):
        assert colors_of(palette) != colors_of(PALETTE)
    assert colors_of(replace(PALETTE, colors=PALETTE.colors[::-1])) != colors_of(PALETTE)
    for palette in (changed(tolerance=9.0), changed(name="Other"), changed(paint="X-1")):
        assert colors_of(palette) == colors_of(PALETTE)
        assert terms_of(palette).digest != terms_of(PALETTE).digest


@pytest.mark.parametrize("field", [field.name for field in fields(Settings)])
def test_every_setting_counts_but_the_limits(field):
    other = replace(DEFAULTS, **{field: type(getattr(DEFAULTS, field))(getattr(DEFAULTS, field) * 2)})
    assert (judging(other) == judging(DEFAULTS)) == (field in LIMITS)


def test_the_limits_are_held_against_the_stored_size():
    settings = replace(DEFAULTS, max_megapixels=2.0, max_side=2000)
    assert within_limits((1920, 1000), settings)
    assert not within_limits((1920, 1080), settings)
    assert not within_limits((2001, 10), settings)


def test_the_ending_counts_and_the_rest_of_the_name_does_not():
    def key(file):
        return key_of(CelTask("A", "1", file, Path(file), PALETTE, DEFAULTS, 60.0), "0" * 64)

    assert key("A/A-0001.png") == key("B/other.PNG")
    assert key("A/A-0001.png") != key("A/A-0001.tif")


def test_a_program_is_its_code_and_its_libraries(monkeypatch):
    assert checking_program() == checking_program()
    assert len({checking_program(), concluding_program()}) == 2
    checking_program.cache_clear()
    before = checking_program()
    monkeypatch.setattr("cel_check.episode.keys._version", lambda name: "0")
    checking_program.cache_clear()
    assert checking_program() != before
    checking_program.cache_clear()
