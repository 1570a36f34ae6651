"""Finds what disagrees inside a color model file: things that are only wrong beside each other.

These rules look at the raw table, so that they speak even where other keys of the file are wrong.
"""

from collections.abc import Iterator, Sequence
from typing import Any

from cel_check.errors import Problem
from cel_check.model.schema import meant_key, words_for
from cel_check.model.tomlfile import Location, TomlFile, near, shown

_NOTATIONS = ("srgb", "lab", "xyz")


def disagreements(source: TomlFile) -> Iterator[Problem]:
    """Yield ids alike, colors with no value or two, undefined ids, and mixes for no level."""
    if source.table.get("schema", 1) != 1:
        return
    colors = _raw_colors(source.table)
    if source.table.get("color") == []:
        yield _at(source, ("color",), "the list of colors is empty", "Write a [[color]] for each color.")
    yield from _ids_alike(source, colors)
    yield from _wrong_notations(source, colors)
    ids = {color["id"] for _, color in colors if isinstance(color.get("id"), str)}
    for kind in ("condition", "level-mix"):
        yield from _undefined_ids(source, kind, ids)
    yield from _bad_levels(source)


def _raw_colors(table: dict[str, Any]) -> list[tuple[int, dict[str, Any]]]:
    listed = table.get("color")
    if not isinstance(listed, list):
        return []
    return [(number, color) for number, color in enumerate(listed) if isinstance(color, dict)]


def _raw_tables(table: dict[str, Any], kind: str) -> dict[str, Any]:
    found = table.get(kind)
    return found if isinstance(found, dict) else {}


def _at(source: TomlFile, location: Location, wrong: str, mend: str) -> Problem:
    return Problem(source.file, source.where(location, words_for(source.table, location)), wrong, mend)


def _ids_alike(source: TomlFile, colors: Sequence[tuple[int, dict[str, Any]]]) -> Iterator[Problem]:
    first: dict[str, int] = {}
    for number, color in colors:
        name = color.get("id")
        if not isinstance(name, str):
            continue
        if name in first:
            wrong = f"the id {shown(name)} is already that of color {first[name] + 1}"
            yield _at(source, ("color", number, "id"), wrong, "Give each color its own id.")
        first.setdefault(name, number)


def _wrong_notations(source: TomlFile, colors: Sequence[tuple[int, dict[str, Any]]]) -> Iterator[Problem]:
    for number, color in colors:
        used = [notation for notation in _NOTATIONS if notation in color]
        if not used and not any(_is_meant_as_value(key, number) for key in color):
            mend = 'Add one of srgb, lab and xyz, as in srgb = "#C8553D".'
            yield _at(source, ("color", number), "the color has no value", mend)
        if len(used) > 1:
            wrong = f"the color has {len(used)} values: {' and '.join(used)}"
            yield _at(source, ("color", number), wrong, "Keep the one that was measured or mixed.")


def _is_meant_as_value(key: str, number: int) -> bool:
    return meant_key(key, ("color", number)) in _NOTATIONS


def _undefined_ids(source: TomlFile, kind: str, ids: set[str]) -> Iterator[Problem]:
    for name, changed in _raw_tables(source.table, kind).items():
        if not isinstance(changed, dict):
            continue
        for color in changed:
            if color not in ids:
                mend = f"{near(color, ids)}Name a color of this file by its id."
                yield _at(source, (kind, name, color), f"no color has the id {shown(color)}", mend)


def _bad_levels(source: TomlFile) -> Iterator[Problem]:
    for level in _raw_tables(source.table, "level-mix"):
        if not (level.isascii() and level.isdigit() and level[0] != "0"):
            mend = "Count the levels from the bottom: 1 is the bottom level, as in [level-mix.2]."
            yield _at(source, ("level-mix", level), f"{shown(level)} is not a level's number", mend)
