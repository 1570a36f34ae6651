"""`scene.toml`: read, validated, and every problem of it told at once."""

from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator
from pydantic_core import ErrorDetails

from cel_check.errors import BadInput, Problem
from cel_check.model.tomlfile import Location, TomlFile, near, read_toml, shown
from cel_check.scene.names import same_name

FILE_NAME = "scene.toml"

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


class PunchTable(_Table):
    """The `[scan.punch]` table: the punch's measures in inches."""

    hole: float = Field(default=0.25, gt=0, le=2)
    slot_length: float = Field(default=0.5, gt=0, le=4)
    slot_height: float = Field(default=0.125, gt=0, le=2)
    spacing: float = Field(default=4.0, gt=0, le=20)
    edge: float = Field(default=0.4, gt=0, le=4)


class ScanTable(_Table):
    """The `[scan]` table."""

    dpi: float | None = Field(default=None, gt=0, le=100_000)
    profile: str | None = Field(default=None, min_length=1)
    backing: HexColor | None = None
    pegs: Literal["top", "bottom"] = "bottom"
    punch: PunchTable = PunchTable()


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


def over(keys: SceneToml, defaults: SceneToml) -> SceneToml:
    """Return a scene's keys with an episode's in place of those that it does not name."""
    scene = defaults.scene.model_copy(
        update={name: getattr(keys.scene, name) for name in keys.scene.model_fields_set}
    )
    return keys.model_copy(update={"scene": scene, "scan": keys.scan or defaults.scan})


_SHAPES: dict[str, type[BaseModel]] = {"scene": SceneTable, "level": LevelTable, "scan": ScanTable}
_MENDS = {
    "missing": "Add the line: schema = 1.",
    "string_type": "Write it as text in quotes.",
    "float_type": "Write a number without quotes.",
    "tuple_type": 'Write a list in brackets, as in ["../../palettes/tilda.toml"].',
    "string_pattern_mismatch": "Write a color as #RRGGBB.",
}


def read_scene_toml(path: Path) -> SceneToml:
    """Read and validate one `scene.toml`.

    Raises:
        BadInput: with one problem for every key that is wrong, each with its line.
    """
    if path.exists() and not path.is_file():
        raise BadInput(Problem(str(path), "", "it is no plain file", "Put the scene's own file there."))
    source = read_toml(path, "scene.toml")
    try:
        return SceneToml.model_validate(source.table)
    except ValidationError as errors:
        raise BadInput(*(_problem(source, error) for error in errors.errors(include_url=False))) from None


def _problem(source: TomlFile, error: ErrorDetails) -> Problem:
    location = error["loc"]
    names = [shown(step)[1:-1] if isinstance(step, str) else str(step) for step in location]
    where = source.where(location, f"key {'.'.join(names)}" if names else "")
    if error["type"] == "extra_forbidden":
        known = _known_keys(location)
        mend = f"{near(str(location[-1]), known)}The keys here are {', '.join(known)}."
        return Problem(source.file, where, "this key is not known", mend)
    if error["type"] == "missing":
        return Problem(source.file, where, "the key is missing", _MENDS["missing"])
    wrong = error["msg"].removeprefix("Value error, ")
    value = f" (found {shown(error['input'])})" if location else ""
    mend = _MENDS.get(error["type"], "Mend the value.")
    return Problem(source.file, where, f"{wrong[:1].lower()}{wrong[1:]}{value}", mend)


def _known_keys(location: Location) -> tuple[str, ...]:
    shape = _SHAPES.get(str(location[0]), SceneToml) if len(location) > 1 else SceneToml
    return tuple(field.alias or key for key, field in shape.model_fields.items())
