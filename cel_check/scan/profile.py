"""`scanner.toml`: what a calibration found, written and read again."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from cel_check.errors import BadInput, Problem
from cel_check.model.tomlfile import TomlFile, read_toml
from cel_check.scan.correct import Correction, Kind
from cel_check.scan.curve import Curve, rises
from cel_check.scan.light import Light

Number = Annotated[float, Field(allow_inf_nan=False)]
Share = Annotated[float, Field(ge=0, le=1)]
Knots = tuple[tuple[Share, Annotated[float, Field(gt=0, le=4)]], ...]

_TERMS = {Kind.MATRIX: 3, Kind.AFFINE: 4, Kind.ROOT: 6}
_LIGHT_TERMS = 15


@dataclass(frozen=True)
class Residual:
    """How well the profile predicts a patch that it was not fitted to, in ΔE00."""

    mean: float
    p95: float
    worst: float
    worst_patch: str
    plain_mean: float
    plain_p95: float


@dataclass(frozen=True, eq=False)
class Profile:
    """A scanner's profile.

    Attributes:
        correction: from codes to L*a*b* under D50.
        light: the light on the bed, or None where no blank sheet was scanned.
        residual: how sure it is.
        chart: the reference's edition, or its file's name.
        scan: name of the chart's scan.
        scan_sha256: hex digest of that file.
        date: ISO 8601, UTC.
        software: name and version.
    """

    correction: Correction
    light: Light | None
    residual: Residual
    chart: str
    scan: str
    scan_sha256: str
    date: str
    software: str


def profile_toml(profile: Profile) -> str:
    """Return a profile as the text of `scanner.toml`."""
    residual, correction = profile.residual, profile.correction
    lines = [
        "# A scanner's profile. Made by `cel-check calibrate`; make it again instead of editing it.",
        "schema = 1",
        "",
        "[made]",
        f"chart = {_text(profile.chart)}",
        'illuminant = "D50"',
        "observer = 2",
        f"scan = {_text(profile.scan)}",
        f"scan_sha256 = {_text(profile.scan_sha256)}",
        f"date = {_text(profile.date)}",
        f"software = {_text(profile.software)}",
        "",
        "[residual]  # ΔE00 of each patch as the other 23 predict it; plain: the same for a plain 3x3 fit",
        f"mean = {residual.mean:.3f}",
        f"p95 = {residual.p95:.3f}",
        f"worst = {residual.worst:.3f}",
        f"worst_patch = {_text(residual.worst_patch)}",
        f"plain_mean = {residual.plain_mean:.3f}",
        f"plain_p95 = {residual.plain_p95:.3f}",
        "",
        "[curve]  # code and linear light of the gray row, 0 to 1",
        *(
            f"{name} = [{', '.join(f'[{code:.6f}, {light:.6f}]' for code, light in curve.knots)}]"
            for name, curve in zip(("red", "green", "blue"), correction.curves, strict=True)
        ),
        "",
        "[correction]",
        f"kind = {_text(correction.kind.value)}",
        f"matrix = [{', '.join(_numbers(row) for row in correction.matrix.tolist())}]",
    ]
    if profile.light is not None:
        lines += ["", "[light]", f"size = [{profile.light.width}, {profile.light.height}]"]
        lines += [
            f"{name} = {_numbers(row)}"
            for name, row in zip(("red", "green", "blue"), profile.light.terms, strict=True)
        ]
    return "\n".join(lines) + "\n"


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


def _numbers(row: "list[float] | tuple[float, ...]") -> str:
    return f"[{', '.join(f'{value:.8f}' for value in row)}]"


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _Made(_Table):
    chart: str
    illuminant: Literal["D50"]
    observer: Literal[2]
    scan: str
    scan_sha256: str
    date: str
    software: str


class _Residual(_Table):
    mean: Number
    p95: Number
    worst: Number
    worst_patch: str
    plain_mean: Number
    plain_p95: Number


class _Curves(_Table):
    red: Knots
    green: Knots
    blue: Knots

    @model_validator(mode="after")
    def _rise(self) -> "_Curves":
        for knots in (self.red, self.green, self.blue):
            codes, light = np.array(knots).reshape(-1, 2).T
            if len(knots) < 3 or not rises(codes, light):
                raise ValueError("a curve has three points at least, from dark to light")
        return self


class _Correction(_Table):
    kind: Kind
    matrix: tuple[tuple[Number, ...], ...]

    @model_validator(mode="after")
    def _fits(self) -> "_Correction":
        if len(self.matrix) != 3 or {len(row) for row in self.matrix} != {_TERMS[self.kind]}:
            raise ValueError(f"{self.kind.value} has 3 rows of {_TERMS[self.kind]} numbers")
        return self


class _Light(_Table):
    size: tuple[Annotated[int, Field(gt=0)], Annotated[int, Field(gt=0)]]
    red: tuple[Number, ...] = Field(min_length=_LIGHT_TERMS, max_length=_LIGHT_TERMS)
    green: tuple[Number, ...] = Field(min_length=_LIGHT_TERMS, max_length=_LIGHT_TERMS)
    blue: tuple[Number, ...] = Field(min_length=_LIGHT_TERMS, max_length=_LIGHT_TERMS)


class _File(_Table):
    schema_number: Literal[1] = Field(alias="schema")
    made: _Made
    residual: _Residual
    curve: _Curves
    correction: _Correction
    light: _Light | None = None


def read_profile(path: Path) -> Profile:
    """Read a `scanner.toml`.

    Raises:
        BadInput: where it is missing, no TOML, or not what a calibration writes.
    """
    source = read_toml(path, "scanner profile")
    try:
        file = _File.model_validate(source.table)
    except ValidationError as errors:
        raise BadInput(_problem(source, errors)) from None
    curves = tuple(Curve(knots) for knots in (file.curve.red, file.curve.green, file.curve.blue))
    light = None
    if file.light is not None:
        light = Light((file.light.red, file.light.green, file.light.blue), *file.light.size)
    return Profile(
        correction=Correction(curves, file.correction.kind, np.array(file.correction.matrix)),
        light=light,
        residual=Residual(**file.residual.model_dump()),
        **file.made.model_dump(exclude={"illuminant", "observer"}),
    )


def _problem(source: TomlFile, errors: ValidationError) -> Problem:
    """Return the first slip: whoever edits a profile makes it anew anyway."""
    error = errors.errors(include_url=False)[0]
    where = source.where(error["loc"], f"key {'.'.join(str(step) for step in error['loc'])}")
    wrong = error["msg"].removeprefix("Value error, ")
    return Problem(
        source.file, where, wrong[:1].lower() + wrong[1:], "Make the profile again with calibrate."
    )
