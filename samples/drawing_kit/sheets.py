"""Exposure sheets and scene files."""

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path

Exposure = Mapping[str, Mapping[int, str]]
"""By level: the frame from which a drawing (or `x`) is exposed."""

Table = Mapping[str, str | float]


def write_sheet(
    path: Path, exposure: Exposure, frames: int, remarks: Mapping[str, Mapping[int, str]]
) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["frame", *exposure, *remarks])
        for frame in range(1, frames + 1):
            row = [column.get(frame, "") for column in (*exposure.values(), *remarks.values())]
            writer.writerow([frame, *row])


def frames_of(exposure: Exposure, level: str, drawing: str, frames: int) -> list[int]:
    """The frames on which a drawing is on camera."""
    shown, current = [], "x"
    for frame in range(1, frames + 1):
        current = exposure[level].get(frame, current)
        if current == drawing:
            shown.append(frame)
    return shown


def write_scene(path: Path, scene: Table, models: Mapping[str, Sequence[str]], scan: Table | None) -> None:
    """`scene` and `scan`: keys of these tables. `models`: by level, the stems of its color models."""
    lines = ["schema = 1", "", "[scene]", *_keys(scene)]
    for level, stems in models.items():
        names = ", ".join(f'"../../palettes/{stem}.toml"' for stem in stems)
        lines += ["", f"[level.{level}]", f"models = [{names}]"]
    lines += ["", "[scan]", *_keys(scan)] if scan else []
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def _keys(table: Table) -> list[str]:
    """Strings are quoted, and the signs of equality stand below each other."""
    wide = max(map(len, table))
    return [f"{key:{wide}} = " + (f'"{v}"' if isinstance(v, str) else f"{v:g}") for key, v in table.items()]


def every(start: int, step: int, *drawings: str) -> dict[int, str]:
    """Drawings one after the other, each `step` frames long."""
    return {start + step * i: drawing for i, drawing in enumerate(drawings)}
