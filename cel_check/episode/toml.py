"""`episode.toml`: read, validated, and every problem of it told at once."""

import os
from datetime import date
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from cel_check.errors import BadInput, Problem
from cel_check.model.tomlfile import TomlFile, near, read_toml, shown
from cel_check.scene.toml import ScanTable, SceneTable, SceneToml

FILE_NAME = "episode.toml"


def _a_date(value: object) -> object:
    """Take a date in quotes as one without: both are ISO 8601."""
    return date.fromisoformat(value) if isinstance(value, str) else value


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, strict=True, allow_inf_nan=False)


class EpisodeTable(_Table):
    """The `[episode]` table."""

    number: str | None = Field(default=None, min_length=1, max_length=100)
    title: str | None = Field(default=None, min_length=1, max_length=300)
    camera_date: Annotated[date | None, BeforeValidator(_a_date)] = None


class EpisodeToml(_Table):
    """A whole `episode.toml`; every key is optional.

    `sequences` names runs of scenes in which conditions and models should go on, by folder; without it the
    whole episode is one.
    """

    schema_number: int = Field(default=1, alias="schema", ge=1, le=1)
    episode: EpisodeTable = EpisodeTable()
    scene: SceneTable = SceneTable()
    scan: ScanTable | None = None
    sequences: dict[str, Annotated[tuple[str, ...], Field(strict=False)]] = {}


_SHAPES: dict[str, type[BaseModel]] = {"episode": EpisodeTable, "scene": SceneTable, "scan": ScanTable}


def read_episode_toml(folder: Path) -> EpisodeToml:
    """Read and validate an episode's `episode.toml`; without one every key has its default.

    Raises:
        BadInput: with one problem for every key that is wrong, each with its line.
    """
    path = folder / FILE_NAME
    if not os.path.lexists(path):
        return EpisodeToml()
    source = read_toml(path, FILE_NAME)
    try:
        keys = EpisodeToml.model_validate(source.table)
    except ValidationError as errors:
        raise BadInput(*(_problem(source, error) for error in errors.errors(include_url=False))) from None
    if "number" in keys.scene.model_fields_set:
        where = source.where(("scene", "number"), "key scene.number")
        mend = "Put it into that scene's scene.toml."
        raise BadInput(Problem(source.file, where, "no two scenes have one number", mend))
    return keys


def defaults_for(keys: EpisodeToml, episode: Path, scene: Path) -> SceneToml:
    """Return an episode's keys as the defaults of one scene, paths made relative to the scene."""
    moved: dict[str, object] = {}
    if keys.scene.models:
        moved["models"] = tuple(_seen_from(scene, episode / model) for model in keys.scene.models)
    if keys.scene.background is not None:
        moved["background"] = _seen_from(scene, episode / keys.scene.background)
    scan = keys.scan
    if scan is not None and scan.profile is not None:
        scan = scan.model_copy(update={"profile": _seen_from(scene, episode / scan.profile)})
    return SceneToml(schema=1, scene=keys.scene.model_copy(update=moved), scan=scan)


def _seen_from(scene: Path, file: Path) -> str:
    try:
        return Path(os.path.relpath(file, scene)).as_posix()
    except ValueError:  # another drive
        return file.absolute().as_posix()


def _problem(source: TomlFile, error: ErrorDetails) -> Problem:
    location = error["loc"]
    where = source.where(location, f"key {'.'.join(map(str, location))}" if location else "")
    if error["type"] == "extra_forbidden":
        shape = _SHAPES.get(str(location[0]), EpisodeToml) if len(location) > 1 else EpisodeToml
        known = tuple(field.alias or key for key, field in shape.model_fields.items())
        mend = f"{near(str(location[-1]), known)}The keys here are {', '.join(known)}."
        return Problem(source.file, where, "this key is not known", mend)
    wrong = error["msg"].removeprefix("Value error, ")
    mend = "Write a date as in 2027-03-01." if "camera_date" in location else "Mend the value."
    return Problem(
        source.file, where, f"{wrong[:1].lower()}{wrong[1:]} (found {shown(error['input'])})", mend
    )
