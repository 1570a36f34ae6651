"""`scene.toml`: read, validated, and every problem of it told at once."""

import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from cel_check.errors import BadInput, Problem
from cel_check.scene.names import near_name, same_name
from cel_check.scene.table import bytes_of

FILE_NAME = "scene.toml"
LARGEST_BYTES = 1_000_000
"""A scene.toml is some hundred bytes; anything longer is another file under this name."""

HexColor = Annotated[str, Field(pattern=r"^#[0-9A-Fa-f]{6}$")]


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class SceneTable(_Table):
    """The `[scene]` table."""

    number: str | None = Field(default=None, min_length=1, max_length=100)
    source: Literal["digital", "scan"] = "digital"
    condition: str | None = Field(default=None, min_length=1)
    fps: float = Field(default=24.0, gt=0, le=1000)
    field: float = Field(default=12.0, gt=0, le=1000)
    background: str | None = Field(default=None, min_length=1)
    models: tuple[str, ...] = Field(default=(), strict=False)


class LevelTable(_Table):
    """One `[level.NAME]` table."""

    models: tuple[str, ...] = Field(default=(), strict=False)


class ScanTable(_Table):
    """The `[scan]` table."""

    dpi: float | None = Field(default=None, gt=0, le=100_000)
    profile: str | None = Field(default=None, min_length=1)
    backing: HexColor | None = None


class SceneToml(_Table):
    """A whole `scene.toml`; without a file every key has its default."""

    schema_number: Literal[1] = Field(alias="schema")
    scene: SceneTable = SceneTable()
    level: dict[str, LevelTable] = {}
    scan: ScanTable | None = None

    @model_validator(mode="after")
    def _levels_differ(self) -> Self:
        names = [same_name(name) for name in self.level]
        if len(set(names)) < len(names):
            raise ValueError("two [level] tables name the same level")
        return self


WITHOUT_FILE = SceneToml(schema=1)
"""What holds for a scene that has no `scene.toml`."""

_KEYS: dict[str, type[BaseModel]] = {
    "": SceneToml,
    "scene": SceneTable,
    "level": LevelTable,
    "scan": ScanTable,
}
_MENDS = {
    "missing": "Add it",
    "string_type": "Write it as text in quotes",
    "float_type": "Write a number without quotes",
    "tuple_type": 'Write a list in brackets, as in ["../../palettes/tilda.toml"]',
    "string_pattern_mismatch": "Write a color as #RRGGBB",
}


def read_scene_toml(path: Path) -> SceneToml:
    """Read and validate one `scene.toml`.

    Raises:
        BadInput: with one problem for every key that is wrong.
    """
    name = str(path)
    table = _parse(bytes_of(path, LARGEST_BYTES, "scene.toml of the scene"), name)
    try:
        return SceneToml.model_validate(table)
    except ValidationError as errors:
        raise BadInput(*(_problem(name, error) for error in errors.errors(include_url=False))) from None


def _parse(data: bytes, name: str) -> dict[str, Any]:
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise BadInput(Problem(name, f"line {line}", "it is not UTF-8 text", "Save it as UTF-8")) from None
    except tomllib.TOMLDecodeError as error:
        wrong, _, place = str(error).rpartition(" (at ")
        where = place.rstrip(")") if wrong else ""
        wrong = wrong or str(error)
        raise BadInput(Problem(name, where, f"it is not TOML: {wrong}", "Mend the line")) from None
    except (RecursionError, ValueError):
        # Brackets nested a thousand deep, or a number with more digits than int() takes.
        raise BadInput(Problem(name, "", "it is not TOML that can be read", "Write the file anew")) from None


def _problem(name: str, error: ErrorDetails) -> Problem:
    path = [str(step) for step in error["loc"] if step != "schema_number"]
    where = f"key {'.'.join(path)}" if path else ""
    if error["type"] == "extra_forbidden":
        mend = f"{near_name(path[-1], _known_keys(path))}Known keys: {', '.join(_known_keys(path))}"
        return Problem(name, where, "this key is not known", mend)
    if error["type"] == "missing":
        return Problem(name, where, "the key is missing", "Add the line: schema = 1")
    value = repr(error["input"])
    value = f" ({value})" if len(value) <= 60 else ""
    wrong = error["msg"].removeprefix("Value error, ")
    wrong = f"{wrong[:1].lower()}{wrong[1:]}{value if path else ''}"
    return Problem(name, where, wrong, _MENDS.get(error["type"], "Mend the value"))


def _known_keys(path: list[str]) -> tuple[str, ...]:
    model = _KEYS.get(path[0] if len(path) > 1 else "", SceneToml)
    return tuple(field.alias or key for key, field in model.model_fields.items())
