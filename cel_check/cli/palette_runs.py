"""The work behind `cel-check palette`: files in, findings out; nothing is printed here."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from cel_check.episode.folder import load_episode
from cel_check.errors import BadInput, BadPicture, Problem, Refused
from cel_check.model.cels_above import Strip, law_of
from cel_check.model.changes import Change, changes_between
from cel_check.model.colormodel import ColorModel
from cel_check.model.drawdowns import Judged, Lamps, judge
from cel_check.model.finding import Finding, Kind, Severity, worst_first
from cel_check.model.level_looks import Graded, graded
from cel_check.model.load import load_leniently, load_models
from cel_check.model.looks import Looks, looks_of
from cel_check.model.measured import MeasuredSet, read_measured
from cel_check.model.shown import Levels
from cel_check.model.strip_table import read_strips
from cel_check.model.together import Together
from cel_check.model.validate import file_findings, validate
from cel_check.picture.picture import Picture
from cel_check.picture.reader import read_picture
from cel_check.report.palette_json import PaletteResult
from cel_check.scan.profile import read_profile
from cel_check.scan.strip import strip_in
from cel_check.scene.backdrop import find_lost_figures
from cel_check.scene.borders import Figure, figure_of
from cel_check.scene.found_colors import FoundColors, find_colors
from cel_check.scene.model_uses import Stale, model_files, stale_scenes, together_in
from cel_check.scene.names import shown
from cel_check.scene.scene import Scene

_START = 512
"""Bytes at a file's start by which a table is told from a picture."""

_TABLES = frozenset({".txt", ".csv", ".tsv", ".cgats", ".it8"})


@dataclass(frozen=True)
class PaletteRun:
    """What to validate.

    Attributes:
        files: the color models; empty for all that the episode uses.
        episode: its folder, or None.
        drawdowns: files of measurements, the oldest first.
        stack: strips of a chip under cels, tables or pictures.
        profile: the scanner's, for strips that are pictures; or None.
        levels: how a broadcast master takes the codes.
        lamps: illuminants for metamerism, the reference first.
    """

    files: tuple[Path, ...]
    episode: Path | None
    drawdowns: tuple[Path, ...]
    stack: tuple[Path, ...]
    profile: Path | None
    levels: Levels
    lamps: tuple[str, str]


@dataclass(frozen=True)
class Comparison:
    """Two versions of a model, what changed, and which scenes that makes stale."""

    old: ColorModel
    new: ColorModel
    changes: tuple[Change, ...]
    stale: tuple[Stale, ...]


def validated(run: PaletteRun) -> tuple[PaletteResult, Together]:
    """Validate color models.

    Returns:
        What was found, and how the models meet.

    Raises:
        BadInput: with every problem of files that cannot be read at all.
    """
    scenes, notes = _scenes(run.episode)
    files = run.files or model_files(scenes)
    models, findings = _models(files)
    sets = _measured(run.drawdowns)
    looks = looks_of(models)
    keys = {path.resolve(): model.key for path, model in zip(files, models, strict=True)}
    figures = {model.key: figure_of(model) for model in looks.models}
    together = _together(scenes, keys, figures, known=run.episode is not None)
    levels, taken = _graded(run, looks)
    judged = judge(looks, sets, Lamps(*run.lamps)) if sets else Judged((), ())
    found = (
        *findings,
        *validate(looks, together, run.levels),
        *find_lost_figures(scenes, looks, keys, figures),
        *judged.findings,
        *(levels.findings if levels else ()),
        *(_note(note) for figure in figures.values() if figure for note in figure.notes),
        *(_note(note) for note in (*notes, *taken)),
    )
    names = tuple(scene.name for scene in scenes)
    return PaletteResult(looks, worst_first(found), judged.drawdowns, names, levels), together


def _scenes(episode: Path | None) -> tuple[tuple[Scene, ...], tuple[str, ...]]:
    """Return an episode's scenes, and a note for each that cannot be looked at."""
    if episode is None:
        return (), ()
    loaded = load_episode(episode).scenes
    notes = tuple(
        f"Scene {shown(one.name)} was not looked at: {one.problems[0].line()}"
        for one in loaded
        if one.problems
    )
    return tuple(one.scene for one in loaded if one.scene is not None), notes


def _models(files: Sequence[Path]) -> tuple[tuple[ColorModel, ...], tuple[Finding, ...]]:
    """Read models as far as they make sense, and tell everything wrong with all of them at once."""
    models: list[ColorModel] = []
    findings: list[Finding] = []
    broken: list[Problem] = []
    for path in files:
        try:
            model, problems = load_leniently(path)
        except BadInput as bad:
            broken += bad.problems
            continue
        models.append(model)
        findings += file_findings(model, problems)
    if broken:
        raise BadInput(*broken)
    if not models:
        raise BadInput(Problem("the episode", "", "its scenes name no color model", "Give the models."))
    return tuple(models), tuple(findings)


def _measured(files: Sequence[Path]) -> tuple[MeasuredSet, ...]:
    sets: list[MeasuredSet] = []
    broken: list[Problem] = []
    for path in files:
        try:
            sets += read_measured(path)
        except BadInput as bad:
            broken += bad.problems
    if broken:
        raise BadInput(*broken)
    return tuple(sets)


def _graded(run: PaletteRun, looks: Looks) -> tuple[Graded | None, tuple[str, ...]]:
    """Return what the strips tell of the colors, or None without strips; and what was taken for granted."""
    strips: list[Strip] = []
    broken: list[Problem] = []
    uncorrected: list[str] = []
    for path in run.stack:
        try:
            if _is_text(path):
                strips += read_strips(path)
            else:
                strips.append(_strip_of_picture(path, run.profile))
                uncorrected += [] if run.profile else [path.name]
        except BadInput as bad:
            broken += bad.problems
    if broken:
        raise BadInput(*broken)
    notes = tuple(
        f"{shown(name)} was taken as sRGB: a scanner's own curve would tell a false loss. Give its --profile."
        for name in uncorrected
    )
    return (graded(looks, law_of(strips)) if strips else None), notes


def _is_text(path: Path) -> bool:
    """Tell a table from a picture, all of which hold a zero near their start; one that is missing is none."""
    try:
        with path.open("rb") as file:
            start = file.read(_START)
    except OSError:
        return path.suffix.lower() in _TABLES
    return start.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\0" not in start


def _strip_of_picture(path: Path, profile: Path | None) -> Strip:
    try:
        picture = read_picture(path)
    except BadPicture as error:
        raise BadInput(Problem(str(path), "", f"it {error.reason}", error.mend)) from None
    except Refused as error:
        wrong = str(error).removeprefix("is not checked: ")
        raise BadInput(Problem(str(path), "", wrong, "Crop the picture to the chip.")) from None
    return strip_in(picture, str(path), read_profile(profile) if profile else None)


def _together(
    scenes: Sequence[Scene], keys: dict[Path, str], figures: dict[str, Figure | None], known: bool
) -> Together:
    borders = {key: figure.borders for key, figure in figures.items() if figure and figure.areas}
    return together_in(scenes, keys, borders) if known else replace(Together(), borders=borders)


def _note(text: str) -> Finding:
    return Finding(Severity.NOTE, Kind.FILE, "", text, "Mend it, then validate again.")


def start_model(paths: Sequence[Path]) -> tuple[FoundColors, tuple[str, ...]]:
    """Return the flat colors of pictures, and a line for each picture that cannot be read."""
    problems: list[str] = []

    def pictures() -> Iterator[tuple[str, Picture]]:
        for path in paths:
            try:
                yield path.name, read_picture(path)
            except BadPicture as error:
                problems.append(shown(f"{path}: {error}"))
            except (Refused, OSError) as error:
                reason = error.strerror if isinstance(error, OSError) else str(error)
                problems.append(shown(f"{path}: {reason}. Check the path and the picture."))

    found = find_colors(pictures())
    return found, tuple(problems)


def compare(old: Path, new: Path, episode: Path | None) -> Comparison:
    """Return what changed between two versions of a model, and the scenes that use it where it changed."""
    before, after = load_models((old, new))
    scenes, _ = _scenes(episode)
    stale = stale_scenes(scenes, before, after, (old, new))
    return Comparison(before, after, changes_between(before, after), stale)
