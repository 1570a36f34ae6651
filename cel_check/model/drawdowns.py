"""Do the paints match the model: measured drawdowns held against their targets, batch by batch."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from cel_check.color.declared import lab_to_lab_d65, xyz_to_lab_d65
from cel_check.color.difference import ciede2000
from cel_check.color.spaces import White
from cel_check.errors import BadInput, Problem
from cel_check.model.finding import Finding, Kind, Severity
from cel_check.model.looks import Looks
from cel_check.model.measured import MeasuredSet, Sample, Spectrum, Triple
from cel_check.model.move import change_words
from cel_check.model.paint_numbers import plain_number
from cel_check.model.spectra import EXTRA, NoSpectra, lab_of_spectra, metamerism_index

Floats = NDArray[np.float64]

_NO_COLOR = "Export L*a*b*, XYZ, or a spectrum of 6 points or more from 420 to 680 nm at least."

METAMERIC = 1.0
"""ΔE00 of metamerism from which two batches part company under another lamp: a house choice."""


@dataclass(frozen=True)
class Drawdown:
    """One measured drawdown of one color's paint.

    Attributes:
        model: key of the model.
        color: id of the color.
        paint: the paint number, as the model has it.
        batch: the batch's name.
        file: where it was read.
        line: in that file.
        lab: as measured, L*a*b* D65.
        delta_e: ΔE00 to the color's base value.
        tolerance: ΔE00 allowed.
        drift: ΔE00 to the batch before it; None for the first.
        metamerism: index against the first batch, where both have spectra; else None.
    """

    model: str
    color: str
    paint: str
    batch: str
    file: str
    line: int
    lab: Triple
    delta_e: float
    tolerance: float
    drift: float | None = None
    metamerism: float | None = None

    @property
    def passes(self) -> bool:
        """Whether the batch is within its color's tolerance."""
        return self.delta_e <= self.tolerance


@dataclass(frozen=True)
class Lamps:
    """The illuminants between which metamerism is looked at: the reference first."""

    reference: str = "D50"
    test: str = "A"


@dataclass(frozen=True)
class Judged:
    """Every drawdown that a model has a color for, in the order of measurement, with its findings."""

    drawdowns: tuple[Drawdown, ...]
    findings: tuple[Finding, ...]


def judge(looks: Looks, sets: Sequence[MeasuredSet], lamps: Lamps) -> Judged:
    """Hold drawdowns against the base colors of their paints.

    Args:
        looks: the models' colors.
        sets: what was measured, the older batches first.
        lamps: the illuminants for metamerism.

    Raises:
        BadInput: where a sample has nothing but a spectrum, and spectra cannot be used.
    """
    numbers = _numbers(looks)
    rows: list[tuple[int, Drawdown, Spectrum]] = []
    strangers: list[str] = []
    notes = [note for measured in sets for note in measured.notes]
    for measured in sets:
        for sample in measured.samples:
            colors = _colors_of(sample, numbers)
            if not colors:
                strangers.append(sample.names[0] or f"line {sample.line}")
                continue
            lab = lab_d65_of(measured, sample)
            rows += [
                (color, _drawdown(looks, color, measured, sample, lab), sample.spectrum) for color in colors
            ]
    drawdowns, missing = _with_metamerism(_with_drift(rows), rows, lamps)
    findings = (
        *_findings(looks, rows, drawdowns, lamps),
        *_notes(looks, drawdowns, strangers, notes, missing),
    )
    return Judged(drawdowns, findings)


def _numbers(looks: Looks) -> dict[str, list[int]]:
    found: dict[str, list[int]] = {}
    for number, color in enumerate(looks.colors):
        if color.paint is not None:
            found.setdefault(plain_number(color.paint), []).append(number)
    return found


def _colors_of(sample: Sample, numbers: dict[str, list[int]]) -> list[int]:
    """Return the colors whose paint a sample is: by a whole name, else by one word of a name."""
    for name in sample.names:
        if plain_number(name) in numbers:
            return numbers[plain_number(name)]
    words = [plain_number(word) for name in sample.names for word in name.replace(",", " ").split()]
    return next((numbers[word] for word in words if word in numbers), [])


def lab_d65_of(measured: MeasuredSet, sample: Sample) -> Triple:
    """Return a sample's L*a*b* under D65: as measured, or else from its spectrum under D50.

    Raises:
        BadInput: where it has no color, or a spectrum alone and spectra cannot be used.
    """
    if sample.lab is not None:
        return lab_to_lab_d65(sample.lab, measured.white)
    if sample.xyz is not None:
        x, y, z = sample.xyz
        return xyz_to_lab_d65((x / 100.0, y / 100.0, z / 100.0), measured.white)
    place = f"line {sample.line}"
    if not sample.spectrum:
        raise BadInput(
            Problem(measured.file, place, "the row has no color", "Measure it, or remove the row.")
        )
    try:
        lab = lab_of_spectra((sample.spectrum,), White.D50.value)[0]
    except NoSpectra:
        mend = f"Install what they need ({EXTRA}), or export L*a*b*."
        raise BadInput(Problem(measured.file, place, "there are spectra alone", mend)) from None
    return lab_to_lab_d65((float(lab[0]), float(lab[1]), float(lab[2])), White.D50)


def _drawdown(looks: Looks, color: int, measured: MeasuredSet, sample: Sample, lab: Triple) -> Drawdown:
    one = looks.colors[color]
    return Drawdown(
        model=one.model,
        color=one.id,
        paint=one.paint or "",
        batch=sample.batch or measured.title,
        file=measured.file,
        line=sample.line,
        lab=lab,
        delta_e=float(ciede2000(looks.lab[0, color], np.array(lab))),
        tolerance=one.tolerance,
    )


def _with_drift(rows: Sequence[tuple[int, Drawdown, Spectrum]]) -> tuple[Drawdown, ...]:
    last: dict[int, Drawdown] = {}
    drawdowns = []
    for color, drawdown, _ in rows:
        before = last.get(color)
        drift = None if before is None else float(ciede2000(np.array(before.lab), np.array(drawdown.lab)))
        drawdowns.append(replace(drawdown, drift=drift))
        last[color] = drawdown
    return tuple(drawdowns)


def _with_metamerism(
    drawdowns: tuple[Drawdown, ...], rows: Sequence[tuple[int, Drawdown, Spectrum]], lamps: Lamps
) -> tuple[tuple[Drawdown, ...], bool]:
    """Give every batch its index against the first; True where spectra are there and cannot be used."""
    first: dict[int, int] = {}
    places = [place for place, (_, _, spectrum) in enumerate(rows) if spectrum]
    pairs = [
        (place, first[rows[place][0]]) for place in places if place != first.setdefault(rows[place][0], place)
    ]
    if not pairs:
        return drawdowns, False
    needed = sorted({place for pair in pairs for place in pair})
    spectra = [rows[place][2] for place in needed]
    try:
        reference, test = (lab_of_spectra(spectra, lamp) for lamp in (lamps.reference, lamps.test))
    except NoSpectra:
        return drawdowns, True
    row = {place: number for number, place in enumerate(needed)}
    done = list(drawdowns)
    for place, standard in pairs:
        s, r = row[place], row[standard]
        index = metamerism_index(test[s], test[r], reference[s], reference[r])
        done[place] = replace(done[place], metamerism=index)
    return tuple(done), False


def _findings(
    looks: Looks,
    rows: Sequence[tuple[int, Drawdown, Spectrum]],
    drawdowns: Sequence[Drawdown],
    lamps: Lamps,
) -> Iterator[Finding]:
    for (color, _, _), one in zip(rows, drawdowns, strict=True):
        keys, name = (looks.key(color),), f"{looks.name(color)}, batch {one.batch},"
        target, found = looks.lab[0, color], np.array(one.lab)
        if not one.passes:
            text = f"{name} is {one.delta_e:.1f} ΔE00 from its target (allowed {one.tolerance:.1f})."
            mend = f"Mix it again: it should be {change_words(found, target)}."
            yield Finding(Severity.ERROR, Kind.DRAWDOWN, one.model, text, mend, keys, "", one.delta_e,
                          one.tolerance, "ΔE00")  # fmt: skip
        if one.drift is not None and one.drift > one.tolerance:
            text = f"{name} is {one.drift:.1f} ΔE00 from the batch before it (allowed {one.tolerance:.1f})."
            mend = "Do not change pots in the middle of a scene, or mix it nearer to the last batch."
            yield Finding(Severity.WARNING, Kind.DRIFT, one.model, text, mend, keys, "", one.drift,
                          one.tolerance, "ΔE00")  # fmt: skip
        if one.metamerism is not None and one.metamerism > METAMERIC:
            text = f"{name} parts from the first batch by {one.metamerism:.1f} ΔE00 when the light changes "
            text += f"from {lamps.reference} to {lamps.test}."
            mend = "Use the pigments of the first batch, or shoot both under one kind of lamp."
            yield Finding(Severity.WARNING, Kind.METAMERISM, one.model, text, mend, keys, "", one.metamerism,
                          METAMERIC, "ΔE00")  # fmt: skip


def _notes(
    looks: Looks, drawdowns: Sequence[Drawdown], strangers: Sequence[str], notes: Sequence[str], missing: bool
) -> Iterator[Finding]:
    measured = {(one.model, one.color) for one in drawdowns}
    passed = sum(one.passes for one in drawdowns)
    lacking = [
        color.paint for color in looks.colors if color.paint and (color.model, color.id) not in measured
    ]
    summary = f"{passed} of {len(drawdowns)} drawdowns are within tolerance."
    yield _note(summary, f"Not measured: {_some(lacking)}." if lacking else "Every paint was measured.")
    if strangers:
        text = f"Measured, but on no model: {_some(strangers)}."
        yield _note(text, "Write the paint number of the model as the sample's name.")
    if missing:
        yield _note("The spectra were not looked at for metamerism.", f"Install what they need: {EXTRA}.")
    for note in notes:
        yield _note(note, "State it in the file where that is wrong.")


def _note(text: str, mend: str) -> Finding:
    return Finding(Severity.NOTE, Kind.DRAWDOWN, "", text, mend)


def _some(names: Sequence[str]) -> str:
    distinct = list(dict.fromkeys(names))
    return ", ".join(distinct[:8]) + (f" and {len(distinct) - 8} more" if len(distinct) > 8 else "")
