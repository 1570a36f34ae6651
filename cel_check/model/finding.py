"""What a palette's validation finds: one record a finding, with its severity, its numbers and its mend."""

from dataclasses import dataclass, field
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding matters; in the order in which they are told."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


class Kind(StrEnum):
    """What a finding is about."""

    FILE = "file"
    TOO_CLOSE = "too-close"
    HARD_TO_TELL = "hard-to-tell"
    SAME_COLOR = "same-color"
    COLOR_VISION = "color-vision"
    OUT_OF_GAMUT = "out-of-gamut"
    BROADCAST = "broadcast"
    INK_CONTRAST = "ink-contrast"
    BACKGROUND = "background"
    ODD_ONE_OUT = "odd-one-out"
    CONDITION = "condition"
    PAINT_NUMBER = "paint-number"
    DRAWDOWN = "drawdown"
    DRIFT = "drift"
    METAMERISM = "metamerism"
    LEVEL_MIX = "level-mix"


@dataclass(frozen=True)
class Finding:
    """One thing that the paint lead should know before anyone paints.

    Attributes:
        severity: error, warning or note.
        kind: what it is about.
        model: key of the model it belongs to (the first of several); empty where it belongs to none.
        colors: the colors concerned, each as `(model's key, color's id)`.
        condition: `night`, or `level mix 2`; empty for the base colors.
        text: what is wrong, one sentence with names and numbers.
        mend: what to do about it, one or two sentences.
        value: the number that was measured, or None.
        limit: the number that it was held against, or None.
        unit: of both, as `ΔE00`; empty where there is no number.
    """

    severity: Severity
    kind: Kind
    model: str
    text: str
    mend: str
    colors: tuple[tuple[str, str], ...] = ()
    condition: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str = field(default="")


_ORDER = {severity: place for place, severity in enumerate(Severity)}
_KINDS = {kind: place for place, kind in enumerate(Kind)}


def worst_first(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return the findings by severity, then kind, then by how far each is from its limit, worst first."""
    return tuple(sorted(findings, key=_rank))


def _rank(finding: Finding) -> tuple[int, int, float]:
    room = finding.value - finding.limit if finding.value is not None and finding.limit is not None else 0.0
    worse = -room if finding.kind in _HIGH_IS_BAD else room
    return _ORDER[finding.severity], _KINDS[finding.kind], worse


_HIGH_IS_BAD = frozenset(
    {
        Kind.OUT_OF_GAMUT,
        Kind.BROADCAST,
        Kind.ODD_ONE_OUT,
        Kind.DRAWDOWN,
        Kind.DRIFT,
        Kind.METAMERISM,
        Kind.LEVEL_MIX,
    }
)
"""Kinds whose measured number should stay below the limit; the others' should stay above it."""
