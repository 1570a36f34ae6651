"""`cel-check scene`: checks scene folders, writes their reports, prints a summary."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from cel_check.cli.options import CheckOptions, check_options
from cel_check.cli.running import Job, check_all
from cel_check.cli.status import ExitStatus
from cel_check.errors import BadInput, Problem
from cel_check.scene.folder import load_scene
from cel_check.scene.scene import Scene

REPORT_FOLDER = "check"

_EPILOG = """\b
Examples:
  cel-check scene sc012
  cel-check scene sc012 --model palettes/tilda.toml --strict
  cel-check scene episode/sc* --out reports --quiet
\b
The report goes to SCENE/check, or with --out to DIR (DIR/SCENE for several scenes).
With --json and several scenes each scene is one line.
"""


@click.command(epilog=_EPILOG)
@click.argument("scenes", nargs=-1, required=True, metavar="SCENE...", type=click.Path(path_type=Path))
@check_options
def command(scenes: tuple[Path, ...], **choices: Any) -> ExitStatus:
    """Check scenes before they go to camera, and write a report for each.

    A SCENE is a folder whose sub-folders are levels of drawings, with an exposure sheet (sheet.csv) and a
    scene.toml that names the color models. Both files may be missing: give the models with --model.
    """
    options = CheckOptions(**choices)
    loaded = load_all(scenes, options)
    jobs = [Job(scene, out) for scene, out in zip(loaded, _outs(loaded, options.out), strict=True)]
    for job in jobs:
        _require_apart(job)
    return check_all(jobs, options)


def load_all(folders: Sequence[Path], options: CheckOptions) -> tuple[Scene, ...]:
    """Load every scene before the first cel is checked, so that all broken files are told at once."""
    scenes: list[Scene] = []
    problems: list[Problem] = []
    for folder in folders:
        try:
            scenes.append(load_scene(folder, options.model))
        except BadInput as error:
            problems += error.problems
    if problems:
        raise BadInput(*dict.fromkeys(problems))
    return tuple(scenes)


def _outs(scenes: Sequence[Scene], out: Path | None) -> tuple[Path, ...]:
    if out is None:
        return tuple(scene.folder / REPORT_FOLDER for scene in scenes)
    if len(scenes) == 1:
        return (out,)
    names = [scene.name for scene in scenes]
    for scene in scenes:
        if names.count(scene.name) > 1:
            wrong = f"two scenes are named {scene.name}, and both reports would go to {out / scene.name}"
            raise BadInput(Problem(str(scene.folder), "", wrong, "Check them one by one, or without --out."))
    return tuple(out / name for name in names)


def _require_apart(job: Job) -> None:
    """Refuse to write a report, with its pictures, where the next run would take them for drawings."""
    folder = job.scene.folder.resolve()
    own = {folder, *(folder / level.name for level in job.scene.levels)}
    if job.out is not None and job.out.resolve() in own:
        mend = f"Give a folder of its own, as in --out {job.scene.folder / REPORT_FOLDER}."
        raise BadInput(Problem(str(job.out), "", "the report would lie among the scene's own files", mend))
