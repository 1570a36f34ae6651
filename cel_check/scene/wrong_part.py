"""`wrong-part`: a model color on a part that should carry another, told by a level's drawings together.

What is found by `judge_paint.py` becomes faults here. A fill off the model is told what it should be, and a
part whose cause another fault has found already is no second fault: that one is made sure instead.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from cel_check.checks.common import model_match, named
from cel_check.color.difference import ciede2000
from cel_check.color.spaces import srgb8_to_lab
from cel_check.drawing.place import Place
from cel_check.faults import Box, Fault, FaultKind, FoundColor, ModelMatch, RightPart, SendTo, Verdict
from cel_check.model.colormodel import ModelColor, Palette
from cel_check.scene.art import Art, arts_of
from cel_check.scene.finding import Finding
from cel_check.scene.judge_paint import judge
from cel_check.scene.names import listed, shown
from cel_check.scene.reference_cels import ReferenceCel
from cel_check.scene.results import CelResult

NAMED = 3
"""Drawings that are named as evidence, the nearest."""

SURE, UNSURE = 0.98, 0.5
"""Confidence of a retake and of a query: of the retakes on the benchmark's cases 99 in 100 were real."""

CAUSES = frozenset({FaultKind.SPILL, FaultKind.OPEN_LINE, FaultKind.STRAY})
"""Faults that put a paint on another part: where one explains a part, the part is no fault of its own."""

EXPLAINED = 0.5
"""Share of a part's box that such a fault covers."""


@dataclass(frozen=True)
class _Level:
    """The drawings of a level with places, as columns, with their cels and colors, in one order."""

    cels: tuple[CelResult, ...]
    arts: tuple[Art, ...]
    palette: Palette
    references: tuple[ReferenceCel, ...]
    models: tuple[Art, ...]


def with_wrong_parts(
    cels: Sequence[CelResult], palette: Palette, references: Sequence[ReferenceCel]
) -> tuple[CelResult, ...]:
    """Judge the paint of every part of a level by its other drawings.

    Args:
        cels: a level's cels in number order, each checked alone.
        palette: the level's colors.
        references: its models' reference cels.

    Returns:
        The cels with `wrong-part` faults added, and with what else the other drawings tell.
    """
    colors = len(palette.colors)
    compared = tuple(cel for cel in cels if cel.places)
    arts = arts_of([(cel.drawing, cel.places) for cel in compared], colors)
    models = tuple(cel for cel in references if cel.places)
    known = arts_of([(cel.name, cel.places) for cel in models], colors)
    level = _Level(compared, arts, palette, models, known)
    found: dict[str, list[Finding]] = {}
    for finding in judge(arts, known):
        found.setdefault(compared[finding.art].drawing, []).append(finding)
    return tuple(_with_findings(cel, level, found.get(cel.drawing, ())) for cel in cels)


def _with_findings(cel: CelResult, level: _Level, findings: Sequence[Finding]) -> CelResult:
    """Add one drawing's findings to its faults; those of one paint that should be another are one fault."""
    faults = list(cel.faults)
    groups: dict[tuple[int, int], list[Finding]] = {}
    for finding in findings:
        place = _place(level, finding)
        if place.color < 0:
            faults = [_off_model(fault, place, level, finding) for fault in faults]
        elif _explained(place, faults):
            faults = [_made_sure(fault, place) for fault in faults]
        else:
            groups.setdefault((place.color, finding.color), []).append(finding)
    swapped = {(one, two) for one, two in groups if (two, one) in groups}
    faults += [_fault(level, group, key in swapped) for key, group in groups.items()]
    return replace(cel, faults=tuple(faults))


def _place(level: _Level, finding: Finding) -> Place:
    return level.arts[finding.art].place(finding.part)


def _fault(level: _Level, group: Sequence[Finding], swapped: bool) -> Fault:
    """Describe one paint that should be another, on one drawing."""
    places = [_place(level, finding) for finding in group]
    lead = max(range(len(group)), key=lambda number: (places[number].area, -number))
    finding, place = group[lead], places[lead]
    expected = _expected(place, level, finding)
    sure = any(one.sure for one in group)
    has = _match(level.palette.colors[place.color], place.srgb)
    where = f" in {len(group)} places" if len(group) > 1 else ""
    exchange = " The two paints are exchanged." if swapped else ""
    throughout = ""
    if finding.reference and finding.wrong:
        throughout = f" {len(finding.wrong)} other drawing{'s' * (len(finding.wrong) > 1)} of the level too."
    doubt = "" if sure else " Is it meant?"
    rgb, lab = _measured(place.srgb)
    return Fault(
        kind=FaultKind.WRONG_PART,
        verdict=Verdict.RETAKE if sure else Verdict.QUERY,
        text=f"{named(has)} is on a part{where} that should be {named(expected)}: {expected.because}."
        f"{throughout}{exchange}{doubt}",
        send_to=SendTo.PAINT,
        confidence=SURE if sure else UNSURE,
        box=_around(places),
        point=place.point,
        area_px=sum(one.area for one in places),
        found=FoundColor(rgb, lab),
        nearest=has,
        expected=expected,
        contrast=expected.delta_e,
        right=_right(level, finding),
    )


def _expected(place: Place, level: _Level, finding: Finding) -> ModelMatch:
    return _match(level.palette.colors[finding.color], place.srgb, _because(level, finding))


def _right(level: _Level, finding: Finding) -> RightPart | None:
    """Return the part where it is right, on the nearest drawing or on the reference cel."""
    if finding.right:
        art, part = finding.right[0]
        cel, place = level.cels[art], level.arts[art].place(part)
        return RightPart(f"drawing {shown(cel.drawing)}", cel.file, cel.sha256 or "", place.box, place.point)
    if finding.cel is None:
        return None
    number, part = finding.cel
    model, place = level.references[number], level.models[number].place(part)
    return RightPart(f"reference cel {model.name}", model.file, "", place.box, place.point)


def _because(level: _Level, finding: Finding) -> str:
    """Say which drawings have the part right."""
    if finding.reference:
        name = f" {level.references[0].name}" if len(level.references) == 1 else ""
        return f"same part on the reference cel{name}"
    drawings = [shown(level.cels[art].drawing) for art, _ in finding.right]
    if len(drawings) > NAMED + 1:
        drawings = [*drawings[:NAMED], f"{len(drawings) - NAMED} more"]
    return f"same part on drawing{'s' * (len(finding.right) > 1)} {listed(tuple(drawings))}"


def _match(color: ModelColor, srgb: str, because: str = "") -> ModelMatch:
    delta_e = float(ciede2000(np.array(_measured(srgb)[1]), np.array(color.lab)))
    return model_match(color, delta_e, because)


def _measured(srgb: str) -> tuple[str, tuple[float, float, float]]:
    rgb = np.frombuffer(bytes.fromhex(srgb[1:]), np.uint8).reshape(1, 3)
    lightness, a, b = (round(float(value), 2) for value in srgb8_to_lab(rgb)[0])
    return srgb, (lightness, a, b)


def _around(places: Sequence[Place]) -> Box:
    left, top = (min(place.box[axis] for place in places) for axis in (0, 1))
    right, bottom = (max(place.box[axis] + place.box[axis + 2] for place in places) for axis in (0, 1))
    return left, top, right - left, bottom - top


def _off_model(fault: Fault, place: Place, level: _Level, finding: Finding) -> Fault:
    """Say on a fill off the model what it should be, where the other drawings know the part."""
    if fault.kind is not FaultKind.OFF_MODEL or not _covers(fault.box, place.box):
        return fault
    if fault.found is None or fault.found.srgb != place.srgb:
        return fault
    expected = _expected(place, level, finding)
    text = fault.text
    if fault.nearest is not None and (fault.nearest.model, fault.nearest.color) != (
        expected.model,
        expected.color,
    ):
        start = text.rsplit("Repaint with ", 1)[0]
        text = f"{start}Repaint with {named(expected)}: {expected.because}."
    return replace(fault, text=text, expected=expected, contrast=expected.delta_e)


def _explained(place: Place, faults: Sequence[Fault]) -> bool:
    return any(fault.kind in CAUSES and _covers(fault.box, place.box) for fault in faults)


def _made_sure(fault: Fault, place: Place) -> Fault:
    """Make a retake of a spill whose paint the other drawings do not have there."""
    spilt = fault.kind is FaultKind.SPILL and _covers(fault.box, place.box)
    if not spilt or fault.verdict is Verdict.RETAKE:
        return fault
    return replace(fault, verdict=Verdict.RETAKE, confidence=0.85)


def _covers(outer: Box | None, inner: Box) -> bool:
    """Return whether a fault's box covers a part's."""
    if outer is None:
        return False
    wide = min(outer[0] + outer[2], inner[0] + inner[2]) - max(outer[0], inner[0])
    high = min(outer[1] + outer[3], inner[1] + inner[3]) - max(outer[1], inner[1])
    return max(0, wide) * max(0, high) >= EXPLAINED * inner[2] * inner[3]
