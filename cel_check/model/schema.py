"""What may stand in a color model file, and what is said where something else does."""

from collections.abc import Iterable
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, ValidationError
from pydantic_core import ErrorDetails

from cel_check.errors import Problem
from cel_check.model.tomlfile import Location, TomlFile, bare, nearest, shown

Text = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1)]
Id = Annotated[str, StringConstraints(pattern=r"^[a-z0-9-]+$")]
Hex = Annotated[str, StringConstraints(pattern=r"^#[0-9A-Fa-f]{6}$")]
Tolerance = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Lightness = Annotated[float, Field(ge=0, le=100, allow_inf_nan=False)]
Opponent = Annotated[float, Field(ge=-200, le=200, allow_inf_nan=False)]
Tristimulus = Annotated[float, Field(ge=0, le=200, allow_inf_nan=False)]  # above 100: fluorescent paint
Illuminant = Literal["D50", "D65"]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class LabTable(_Table):
    """`lab = { L, a, b, illuminant }`, 2 degree observer."""

    L: Lightness
    a: Opponent
    b: Opponent
    illuminant: Illuminant


class XyzTable(_Table):
    """`xyz = { X, Y, Z, illuminant }`, 2 degree observer, Y = 100 for the white as in ASTM E308."""

    X: Tristimulus
    Y: Tristimulus
    Z: Tristimulus
    illuminant: Illuminant


class ColorTable(_Table):
    """One `[[color]]`; that exactly one of srgb, lab and xyz is there is checked by the loader."""

    id: Id
    name: Text
    use: Literal["paint", "ink", "both"]
    srgb: Hex | None = None
    lab: LabTable | None = None
    xyz: XyzTable | None = None
    paint: Text | None = None
    tolerance: Tolerance | None = None


class HeaderTable(_Table):
    """`[model]`."""

    character: Text
    show: Text | None = None
    tolerance: Tolerance | None = None
    reference: tuple[Text, ...] = Field(default=(), strict=False)


class FileTable(_Table):
    """A whole color model file."""

    version: Literal[1] = Field(alias="schema")
    model: HeaderTable
    color: tuple[ColorTable, ...] = Field(strict=False)
    condition: dict[str, dict[str, Hex]] = {}
    level_mix: dict[str, dict[str, Hex]] = Field(default={}, alias="level-mix")


_MEANING = {
    "schema": ("a schema number that this version reads", "Write schema = 1."),
    "model": ("a table", 'Write [model] and below it character = "..." with the name.'),
    "character": ("a character's name", 'Write character = "..." with the name.'),
    "show": ("a show's name", "Write the name in quotes, or leave the key out."),
    "tolerance": ("a tolerance", "Write a ΔE00 from 0 to 100, as in 2.0."),
    "reference": ("a list of pictures", 'Write paths in brackets, as in ["../samples/tilda-model.png"].'),
    "color": (
        "a list of colors",
        "Write [[color]] and below it id, name, use and srgb, once for each color.",
    ),
    "id": ("a color id", 'Use only a-z, 0-9 and -, as in id = "coat".'),
    "name": ("a color's name", 'Write what the shop calls it, as in name = "Coat".'),
    "use": ("a use", 'Write use = "paint", "ink" or "both".'),
    "srgb": ("an sRGB color", 'Write # and six digits of 0-9 and A-F, as in "#C8553D".'),
    "lab": ("an L*a*b* color", 'Write lab = { L = 16.2, a = 1.1, b = -0.4, illuminant = "D50" }.'),
    "xyz": ("an XYZ color", 'Write xyz = { X = 2.11, Y = 2.14, Z = 1.80, illuminant = "D50" }.'),
    "paint": ("a paint number", 'Write it in quotes, as in paint = "R-31".'),
    "illuminant": ("an illuminant that is known here", 'Write illuminant = "D50" or "D65".'),
    "L": ("a lightness", "Write a number from 0 to 100."),
    "a": ("an a* value", "Write a number from -200 to 200."),
    "b": ("a b* value", "Write a number from -200 to 200."),
    "condition": ("a table of conditions", "Write [condition.night] and below it colors by id."),
    "level-mix": ("a table of level mixes", "Write [level-mix.2] and below it colors by id."),
}
_OTHER_WORDS = {"color": "srgb", "colour": "srgb", "hex": "srgb", "rgb": "srgb"}
_TRISTIMULUS = ("a tristimulus value", "Write a number from 0 to 200; the white has Y = 100.")
_CHANGED_COLORS = ("a table of colors", 'Write colors by id below it, as in coat = "#5A2E3A".')


def read_shape(source: TomlFile) -> tuple[FileTable | None, list[Problem]]:
    """Hold a file against the shapes above: return it typed, or None with every problem found."""
    version = source.table.get("schema", 1)
    if (
        type(version) is not int or version != 1
    ):  # the rest would only repeat that the file is another version's
        wrong = f"schema {shown(version)} is not one that this version reads"
        where = source.where(("schema",), "schema")
        return None, [Problem(source.file, where, wrong, "Update cel-check, or write schema = 1.")]
    try:
        return FileTable.model_validate(source.table), []
    except ValidationError as error:
        details = error.errors(include_url=False, include_context=False)
    meant = _meant_keys(details)
    return None, [_problem(source, detail) for detail in details if not _is_meant(detail, meant)]


def words_for(table: dict[str, Any], location: Location) -> str:
    """Return the words for a place in a model file: `color 2 (coat), lab.L` or `[condition.night] coat`."""
    first, rest = str(location[0]), location[1:]
    if first == "color" and rest:
        number = int(rest[0])
        keys = ".".join(_word(key) for key in rest[1:])
        return ", ".join(filter(None, (f"color {number + 1}{_id_in_brackets(table, number)}", keys)))
    tables = {"model": 1, "condition": 2, "level-mix": 2}.get(first, 0)
    if len(location) < tables or not tables:
        return ".".join(_word(key) for key in location)
    header = ".".join(_word(key) for key in location[:tables])
    return " ".join((f"[{header}]", *(_word(key) for key in location[tables:])))


def _word(part: str | int) -> str:
    return str(part + 1) if isinstance(part, int) else bare(part)


def _id_in_brackets(table: dict[str, Any], number: int) -> str:
    color = table["color"][number]
    name = color.get("id") if isinstance(color, dict) else None
    return f" ({bare(name)})" if isinstance(name, str) and name else ""


def _keys_at(location: Location) -> Iterable[str]:
    """Return the keys that are known inside the table at a location."""
    shapes: dict[str, type[BaseModel]] = {"lab": LabTable, "xyz": XyzTable, "model": HeaderTable}
    names = [part for part in location if isinstance(part, str)]
    shape = shapes.get(names[-1], ColorTable) if names else FileTable
    return [field.alias or name for name, field in shape.model_fields.items()]


def meant_key(key: str, table: Location) -> str | None:
    """Return the key that an unknown key of the table at a location was probably meant to be, or None."""
    known = list(_keys_at(table))
    other_word = _OTHER_WORDS.get(key.lower())
    return other_word if other_word in known else nearest(key, known)


def _meant_keys(details: list[ErrorDetails]) -> set[Location]:
    """Return what unknown keys were probably meant to be, so that it is not called missing too."""
    unknown = [detail["loc"] for detail in details if detail["type"] == "extra_forbidden"]
    return {(*at[:-1], meant_key(str(at[-1]), at[:-1]) or "") for at in unknown}


def _is_meant(detail: ErrorDetails, meant: set[Location]) -> bool:
    return detail["type"] == "missing" and detail["loc"] in meant


def _problem(source: TomlFile, detail: ErrorDetails) -> Problem:
    location = detail["loc"]
    if detail["type"] == "extra_forbidden":
        return _unknown_key(source, location)
    if detail["type"] == "missing":
        return _missing(source, location)
    noun, mend = _meaning(location)
    wrong = f"{shown(detail['input'])} is not {noun}"
    return Problem(source.file, source.where(location, words_for(source.table, location)), wrong, mend)


def _unknown_key(source: TomlFile, location: Location) -> Problem:
    known = list(_keys_at(location[:-1]))
    meant = meant_key(str(location[-1]), location[:-1])
    hint = f"Did you mean {shown(meant)}? " if meant else ""
    mend = f"{hint}The keys here are {', '.join(known)}."
    place = source.where(location, words_for(source.table, location[:-1]) if location[:-1] else "")
    return Problem(source.file, place, f"the key {bare(str(location[-1]))} is not known", mend)


def _missing(source: TomlFile, location: Location) -> Problem:
    _, mend = _meaning(location)
    place = source.where(location[:-1], words_for(source.table, location[:-1])) if location[:-1] else ""
    return Problem(source.file, place, f"the key {bare(str(location[-1]))} is missing", mend)


def _meaning(location: Location) -> tuple[str, str]:
    """Return what should stand at a location and how to write it."""
    if location[0] in {"condition", "level-mix"} and len(location) > 1:
        return _MEANING["srgb"] if len(location) > 2 else _CHANGED_COLORS
    if location[0] == "model" and len(location) > 2:
        return "a picture's path", _MEANING["reference"][1]
    if isinstance(location[-1], int):
        return "a color", _MEANING["color"][1]
    return _MEANING.get(location[-1], _TRISTIMULUS)
