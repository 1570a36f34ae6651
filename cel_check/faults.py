"""The catalogue of fault kinds, and the small frozen records that a check hands on.

The report's texts, the README's table and `cel-check faults` are all made from `CATALOGUE`. A `Fault` carries
no pixels: it travels between processes, into the ledger and to the report.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

Box = tuple[int, int, int, int]
"""x, y, width, height in pixels; origin top left."""

Point = tuple[int, int]
"""x, y in pixels; origin top left."""


class Verdict(StrEnum):
    """What a checker does with a cel: pass it, decide on it, send it back; or it was never fully checked."""

    PASS = "pass"
    QUERY = "query"
    RETAKE = "retake"
    NOT_CHECKED = "not-checked"


class SendTo(StrEnum):
    """The department that mends a fault."""

    INK = "ink"
    PAINT = "paint"
    SHEET = "sheet"
    SCAN = "scan"
    ANIMATION = "animation"


class FaultKind(StrEnum):
    """The fault kinds of the report."""

    OFF_MODEL = "off-model"
    WRONG_PART = "wrong-part"
    UNPAINTED = "unpainted"
    OPEN_LINE = "open-line"
    INK_COLOR = "ink-color"
    SPILL = "spill"
    STRAY = "stray"
    MISSING_CEL = "missing-cel"
    UNCALLED_CEL = "uncalled-cel"
    UNREADABLE = "unreadable"
    WRONG_SIZE = "wrong-size"
    OFF_REGISTER = "off-register"
    SHORT_OF_FIELD = "short-of-field"
    FLASH = "flash"


@dataclass(frozen=True)
class FaultInfo:
    """One entry of the catalogue.

    Attributes:
        kind: the fault kind.
        meaning: what it means, one clause.
        why: why it matters at camera or on air.
        false_alarms: what is known to be mistaken for it.
        send_to: the department that usually mends it.
        checked: whether this version of the program looks for it.
    """

    kind: FaultKind
    meaning: str
    why: str
    false_alarms: str
    send_to: SendTo
    checked: bool = True


def _catalogue() -> Mapping[FaultKind, FaultInfo]:
    kind = FaultKind
    entries = (
        FaultInfo(
            kind.OFF_MODEL,
            "a fill whose color is not on the model within tolerance",
            "The color jumps when this drawing follows one that is painted right.",
            "Soft shading or glow that the model does not list; a prop that has no color model.",
            SendTo.PAINT,
        ),
        FaultInfo(
            kind.WRONG_PART,
            "a model color on a part that should carry another (one drawing pops, or it disagrees with the "
            "reference cel)",
            "The part pops to another color for the time the drawing is on screen.",
            "A part that changes its paint on purpose (a blush, a light); small twins close together.",
            SendTo.PAINT,
        ),
        FaultInfo(
            kind.UNPAINTED,
            "a part, or a spot inside a part, left without paint",
            "The background shows through the character.",
            "A see-through that is meant: an arm on a hip, a ring, a handle. It is a query at most.",
            SendTo.PAINT,
        ),
        FaultInfo(
            kind.OPEN_LINE,
            "an ink line that should close and does not",
            "Paint leaks through the gap, and the line breaks on screen.",
            "Hair strokes, wrinkles and line ends that are meant to be open.",
            SendTo.INK,
        ),
        FaultInfo(
            kind.INK_COLOR,
            "an ink line whose color is not on the model",
            "The outline flickers from drawing to drawing.",
            "A line thinner than a pixel, which nowhere stands in its own color.",
            SendTo.INK,
        ),
        FaultInfo(
            kind.SPILL,
            "paint across its ink line",
            "The outline grows a bump that is there for one drawing only.",
            "Art that is meant to have paint beside its line (an offset fill).",
            SendTo.PAINT,
        ),
        FaultInfo(
            kind.STRAY,
            "paint, ink or dirt where there should be nothing",
            "The speck flashes on screen for as long as the drawing is held.",
            "Sweat drops, sparkles and dots that are drawn on purpose.",
            SendTo.PAINT,
        ),
        FaultInfo(
            kind.MISSING_CEL,
            "the sheet calls a drawing that is not there",
            "Camera stops when it comes to the frame.",
            "A drawing that is filed under another level; a level that is meant to blink.",
            SendTo.SHEET,
        ),
        FaultInfo(
            kind.UNCALLED_CEL,
            "a drawing the sheet never calls",
            "Either the drawing is left over, or the sheet forgets it.",
            "Drawings kept for another take.",
            SendTo.SHEET,
        ),
        FaultInfo(
            kind.UNREADABLE,
            "a file that cannot be read whole",
            "Nobody knows what is on the cel.",
            "A file that is still being written.",
            SendTo.SCAN,
        ),
        FaultInfo(
            kind.WRONG_SIZE,
            "a picture whose size or resolution differs from its level",
            "The drawing jumps out of register.",
            "A pan cel that is meant to be wider than the field.",
            SendTo.SCAN,
        ),
        FaultInfo(
            kind.OFF_REGISTER,
            "a scan whose pegs cannot be brought to register",
            "The drawing weaves against its level.",
            "Holes hidden by tape.",
            SendTo.SCAN,
        ),
        FaultInfo(
            kind.SHORT_OF_FIELD,
            "art that ends inside the camera field where it should run past it",
            "The audience sees where the drawing stops.",
            "Art that is meant to end there; a sleeve behind something that the background shows.",
            SendTo.ANIMATION,
        ),
        FaultInfo(
            kind.FLASH,
            "composite frames that may harm viewers (see the caution in the report)",
            "Flashing pictures and bold stripes can set off seizures.",
            "Cels that are laid over white because the scene names no background; a pan along palings.",
            SendTo.ANIMATION,
        ),
    )
    return MappingProxyType({entry.kind: entry for entry in entries})


CATALOGUE: Mapping[FaultKind, FaultInfo] = _catalogue()
"""Every fault kind, in the order in which reports list them."""


@dataclass(frozen=True)
class FoundColor:
    """A color measured on a cel: `srgb` as `#RRGGBB`, `lab` as CIE L*, a*, b* (D65, 2 degree observer)."""

    srgb: str
    lab: tuple[float, float, float]


@dataclass(frozen=True)
class ModelMatch:
    """A color of a model beside a color that was found.

    Attributes:
        color: the model color's id.
        name: its name.
        paint: the paint shop's number, or None.
        model: the model's key (the stem of its file).
        srgb: the model color as `#RRGGBB`, as it holds for this scene's condition and level.
        delta_e: CIEDE2000 between the two.
        tolerance: the CIEDE2000 allowed.
        because: why this color is expected; empty where it is only the nearest.
    """

    color: str
    name: str
    paint: str | None
    model: str
    srgb: str
    delta_e: float
    tolerance: float
    because: str = ""


@dataclass(frozen=True)
class RightPart:
    """The same part on another picture, where its paint is right.

    Attributes:
        where: what it is seen on, as in `drawing 6` or `reference cel tilda-model.png`.
        file: that picture, relative to the scene folder, or from the root for a reference cel.
        sha256: of the picture as it was checked; empty for a reference cel.
        box: the part on it.
        point: a pixel of it.
    """

    where: str
    file: str
    sha256: str
    box: Box
    point: Point


@dataclass(frozen=True)
class Fault:
    """One fault of one drawing (or of the scene, where `drawing` is None).

    The conductor fills in `id`, `frames` and `visibility`; a check leaves them at their defaults.

    Attributes:
        kind: the fault kind.
        verdict: `retake` or `query`.
        text: the sentence that tells the painter what is wrong and what to do.
        send_to: the department that mends it.
        confidence: 0 to 1, how sure the check is that a person would agree.
        level: the level's name; None for a fault of the whole scene.
        drawing: the drawing number as in `12b`; None where no single drawing carries the fault.
        box: where on the picture; None for a fault of the whole file.
        point: a pixel on the fault itself.
        area_px: its area in pixels.
        found: the color found.
        nearest: the nearest color of the model.
        expected: the color that should be there, with the reason.
        contrast: CIEDE2000 between what is there and what should be there (an input to `visibility`).
        id: `FOLDER/LEVEL/DRAWING/N`.
        frames: the frames (numbers of the sheet) on which it shows.
        visibility: 0 to 1, how much an audience would notice.
        right: where the same part is right, to be shown beside it; None where nothing shows that.
    """

    kind: FaultKind
    verdict: Verdict
    text: str
    send_to: SendTo
    confidence: float
    level: str | None = None
    drawing: str | None = None
    box: Box | None = None
    point: Point | None = None
    area_px: int | None = None
    found: FoundColor | None = None
    nearest: ModelMatch | None = None
    expected: ModelMatch | None = None
    contrast: float = 0.0
    id: str = ""
    frames: tuple[int, ...] = ()
    visibility: float = 0.0
    right: RightPart | None = None
