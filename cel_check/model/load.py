"""Reads color model files, `palettes/NAME.toml`, and reports everything wrong with them at once."""

import os
import re
from collections.abc import Container, Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from cel_check.color.declared import lab_to_lab_d65, xyz_to_lab_d65
from cel_check.color.spaces import White, lab_to_srgb, srgb8_to_lab, to_8_bit
from cel_check.errors import BadInput, Problem
from cel_check.model.colormodel import ColorModel, DeclaredColor, Lab, Swatch, Use, Variant
from cel_check.model.disagreements import disagreements
from cel_check.model.schema import ColorTable, FileTable, read_shape
from cel_check.model.tomlfile import TomlFile, read_toml

_LIKELY_OF_ONE = 1.1  # Z of the D65 white is 1.09 where its Y is 1


def load_model(path: Path) -> ColorModel:
    """Read one color model file.

    Args:
        path: the file, `NAME.toml`; a byte order mark is accepted.

    Raises:
        BadInput: with one problem for each thing that is wrong.
    """
    model, problems = load_leniently(path)
    if problems:
        raise BadInput(*problems)
    return model


def load_leniently(path: Path) -> tuple[ColorModel, tuple[Problem, ...]]:
    """Read one color model file as far as it makes sense, so that the rest of it can be judged too.

    Args:
        path: the file, as for `load_model`.

    Returns:
        The model without what is wrong only beside the rest of the file (a second color of one id, a color
        with no value or two, an id that no color has, a mix for no level), and one problem for each of those.

    Raises:
        BadInput: where a key itself is wrong, and where no color is left.
    """
    source = read_toml(path, "color model")
    typed, problems = read_shape(source)
    problems = sorted([*problems, *disagreements(source)], key=_line)
    sound = None if typed is None else _sound(typed)
    if sound is None or not sound.color:
        raise BadInput(*problems)
    return _model(path, source, sound), tuple(problems)


def _sound(typed: FileTable) -> FileTable:
    """Return a file's tables without what disagrees with the rest of them."""
    first: dict[str, ColorTable] = {}
    for color in typed.color:
        if sum(value is not None for value in (color.srgb, color.lab, color.xyz)) == 1:
            first.setdefault(color.id, color)
    return typed.model_copy(
        update={
            "color": tuple(first.values()),
            "condition": {name: _known(changed, first) for name, changed in typed.condition.items()},
            "level_mix": {
                level: _known(changed, first)
                for level, changed in typed.level_mix.items()
                if level.isascii() and level.isdigit() and level[0] != "0"
            },
        }
    )


def _known(changed: Mapping[str, str], colors: Container[str]) -> dict[str, str]:
    return {color: value for color, value in changed.items() if color in colors}


def _line(problem: Problem) -> int:
    """Return the line a problem is on (0: the whole file), so that a person mends from the top down."""
    found = re.match(r"line (\d+)", problem.where)
    return int(found.group(1)) if found else 0


def load_models(paths: Iterable[Path]) -> tuple[ColorModel, ...]:
    """Read several color model files, in order.

    Raises:
        BadInput: with the problems of all the files.
    """
    models: list[ColorModel] = []
    problems: list[Problem] = []
    for path in paths:
        try:
            models.append(load_model(path))
        except BadInput as bad:
            problems.extend(bad.problems)
    if problems:
        raise BadInput(*problems)
    return tuple(models)


def _model(path: Path, source: TomlFile, typed: FileTable) -> ColorModel:
    colors = tuple(_declared(color) for color in typed.color)
    references = tuple(_absolute(path.parent, reference) for reference in typed.model.reference)
    return ColorModel(
        key=path.stem,
        file=source.file,
        character=typed.model.character,
        show=typed.model.show,
        tolerance=typed.model.tolerance,
        references=references,
        colors=colors,
        conditions=_variants(typed.condition),
        level_mixes=_variants(typed.level_mix),
        sha256=source.sha256,
        notes=(
            *_gamut_notes(source.file, colors),
            *_scale_notes(source.file, typed.color),
            *_reference_notes(source.file, typed.model.reference, references),
        ),
    )


def _declared(color: ColorTable) -> DeclaredColor:
    return DeclaredColor(color.id, color.name, Use(color.use), _swatch(color), color.tolerance, color.paint)


def _swatch(color: ColorTable) -> Swatch:
    if color.lab is not None:
        lab = color.lab
        return _swatch_of_lab(lab_to_lab_d65((lab.L, lab.a, lab.b), White(lab.illuminant)))
    if color.xyz is not None:
        xyz = color.xyz
        relative = (xyz.X / 100.0, xyz.Y / 100.0, xyz.Z / 100.0)
        return _swatch_of_lab(xyz_to_lab_d65(relative, White(xyz.illuminant)))
    assert color.srgb is not None, "the cross checks let no color without a value pass"
    return _swatch_of_hex(color.srgb)


def _swatch_of_hex(text: str) -> Swatch:
    red, green, blue = bytes.fromhex(text.removeprefix("#"))
    lab = srgb8_to_lab(np.array([red, green, blue], dtype=np.uint8))
    return Swatch((red, green, blue), _triple(lab))


def _swatch_of_lab(lab: Lab) -> Swatch:
    srgb, in_gamut = lab_to_srgb(lab, White.D65)
    red, green, blue = (int(value) for value in to_8_bit(srgb))
    return Swatch((red, green, blue), lab, bool(in_gamut))


def _triple(values: np.ndarray[Any, np.dtype[np.float64]]) -> Lab:
    return float(values[0]), float(values[1]), float(values[2])


def _variants(tables: dict[str, dict[str, str]]) -> tuple[Variant, ...]:
    return tuple(
        Variant(name, tuple((color, _swatch_of_hex(value)) for color, value in changed.items()))
        for name, changed in tables.items()
    )


def _absolute(folder: Path, reference: str) -> Path:
    return Path(os.path.normpath(folder.absolute() / reference))


def _gamut_notes(file: str, colors: Iterable[DeclaredColor]) -> Iterator[str]:
    for color in colors:
        if not color.swatch.in_gamut:
            nearest = "#{:02X}{:02X}{:02X}".format(*color.swatch.srgb)
            yield f"{file}: {color.id} is outside what sRGB can show; pictures can only hold {nearest}."


def _scale_notes(file: str, colors: Iterable[ColorTable]) -> Iterator[str]:
    for color in colors:
        if color.xyz is not None and max(color.xyz.X, color.xyz.Y, color.xyz.Z) <= _LIKELY_OF_ONE:
            yield f"{file}: {color.id} is nearly black, for xyz is read with Y = 100 for the white, not 1."


def _reference_notes(file: str, written: Iterable[str], references: Iterable[Path]) -> Iterator[str]:
    for text, reference in zip(written, references, strict=True):
        if not _is_there(reference):
            yield f"{file}: the reference picture {text} is not there."


def _is_there(reference: Path) -> bool:
    try:
        return reference.is_file()
    except OSError:  # a name too long for any file
        return False
