"""Retake slips: for each department, scene and drawing, what is to be mended, with the marked place.

Only retakes go on slips: a query waits for a person. What is mended is not on the slips of the next run.
"""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from types import MappingProxyType

from jinja2 import Environment

from cel_check.faults import SendTo, Verdict
from cel_check.report.as_csv import safe_text
from cel_check.report.html import policy_of
from cel_check.report.words import DEPARTMENTS, KIND_TITLES, frames_phrase
from cel_check.scene.names import number_runs
from cel_check.scene.summary import Change, EpisodeSummary, FaultLine, SceneSummary

SLIPS_A_FILE = 250
"""Slips that a browser prints in one go; more are parted into several files."""

COLUMNS = (
    "department", "episode", "scene", "level", "drawing", "file", "frames", "kind", "what", "paint", "model",
    "color", "color_srgb", "x", "y", "width", "height", "seen_before", "picture", "fault",
)  # fmt: skip


@dataclass(frozen=True)
class SlipFault:
    """One fault on a slip: its title, its picture's address, the line itself."""

    title: str
    crop: str
    line: FaultLine


@dataclass(frozen=True)
class Slip:
    """Everything one department has to mend on one drawing.

    Attributes:
        send_to: the department.
        scene: the scene.
        level: the level's name, or None for a fault of the whole scene.
        drawing: the drawing number, or None.
        file: the picture's path in the scene, or None.
        frames: where it shows, in words.
        faults: what is to be mended.
    """

    send_to: SendTo
    scene: SceneSummary
    level: str | None
    drawing: str | None
    file: str | None
    frames: str
    faults: tuple[SlipFault, ...]


@dataclass(frozen=True)
class SlipFile:
    """One file of slips: its name, whose it is, and which part of how many."""

    name: str
    send_to: SendTo
    part: int
    parts: int
    slips: tuple[Slip, ...]


def slips_of(summary: EpisodeSummary) -> Mapping[SendTo, tuple[Slip, ...]]:
    """Return the slips of each department that has any, by scene and drawing."""
    found: dict[SendTo, list[Slip]] = {place: [] for place in SendTo}
    for scene in summary.scenes:
        retakes = [line for line in scene.faults if line.verdict is Verdict.RETAKE]
        for place in SendTo:
            own = [line for line in retakes if line.send_to is place]
            # The lines of a drawing follow one another in a scene's report.
            for (level, drawing), lines in groupby(own, key=lambda line: (line.level, line.drawing)):
                found[place].append(_slip(place, scene, (level, drawing), tuple(lines)))
    return MappingProxyType({place: tuple(slips) for place, slips in found.items() if slips})


def _slip(
    place: SendTo, scene: SceneSummary, cel: tuple[str | None, str | None], lines: tuple[FaultLine, ...]
) -> Slip:
    frames = sorted({frame for line in lines for frame in line.frames})
    faults = tuple(SlipFault(KIND_TITLES[line.kind], picture_of(scene, line), line) for line in lines)
    return Slip(place, scene, *cel, lines[0].file, frames_phrase(frames), faults)


def picture_of(scene: SceneSummary, line: FaultLine) -> str:
    """Return the address of a fault's magnified picture, relative to the episode's report; empty for none."""
    return f"{scene.page.rpartition('/')[0]}/{line.crop.href}" if line.crop and scene.page else ""


def slip_files(slips: Mapping[SendTo, Sequence[Slip]]) -> tuple[SlipFile, ...]:
    """Return the files that hold the slips."""
    files = []
    for place, own in slips.items():
        pieces = [tuple(own[i : i + SLIPS_A_FILE]) for i in range(0, len(own), SLIPS_A_FILE)]
        for number, piece in enumerate(pieces, 1):
            part = f"-{number}" if len(pieces) > 1 else ""
            files.append(SlipFile(f"slips-{place.value}{part}.html", place, number, len(pieces), piece))
    return tuple(files)


def render_slips(environment: Environment, summary: EpisodeSummary, file: SlipFile) -> bytes:
    """Return a file of slips as a page for the printer."""
    text = environment.get_template("slips.html").render(
        episode=summary,
        file=file,
        department=DEPARTMENTS[file.send_to],
        Change=Change,
        policy=policy_of(environment, "slips.css"),
    )
    return text.encode("utf-8")


def slips_csv(summary: EpisodeSummary, slips: Mapping[SendTo, Sequence[Slip]]) -> bytes:
    """Return every slip's faults as a table for a spreadsheet, one row a fault."""
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for place, own in slips.items():
        for slip in own:
            for fault in slip.faults:
                writer.writerow(map(_cell, _row(summary, place, slip, fault)))
    return buffer.getvalue().encode("utf-8-sig")


def _row(summary: EpisodeSummary, place: SendTo, slip: Slip, fault: SlipFault) -> Iterable[str | int | None]:
    line = fault.line
    box = line.box or (None, None, None, None)
    return (
        place.value, summary.number, slip.scene.number, slip.level, slip.drawing, slip.file,
        ", ".join(number_runs(line.frames, dash="-")), line.kind.value, line.text, line.paint, line.model,
        line.color, line.srgb, *box, "yes" if line.change is Change.STILL else "no", fault.crop,
        line.identity,
    )  # fmt: skip


def _cell(value: str | int | None) -> str | int | None:
    return safe_text(value) if isinstance(value, str) else value
