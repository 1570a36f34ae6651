"""The paint shop's numbers: one number is one paint, in every model of the show."""

from collections.abc import Iterator

from cel_check.color.difference import ciede2000
from cel_check.model.finding import Finding, Kind, Severity
from cel_check.model.looks import Looks


def plain_number(text: str) -> str:
    """Return a paint number as it is compared: without case, spaces, hyphens and underscores."""
    return "".join(sign for sign in text.casefold() if sign not in " -_\t\u00a0")


def find_number_slips(looks: Looks) -> Iterator[Finding]:
    """Yield each paint number that two different base colors bear; their condition's colors do not count."""
    first: dict[str, int] = {}
    for number, color in enumerate(looks.colors):
        if color.paint is None:
            continue
        one = first.setdefault(plain_number(color.paint), number)
        apart = float(ciede2000(looks.lab[0, one], looks.lab[0, number]))
        if apart > 0.0:
            yield _finding(looks, one, number, apart)


def _finding(looks: Looks, one: int, other: int, apart: float) -> Finding:
    paint = looks.colors[other].paint
    names = [looks.colors[color].name for color in (one, other)]
    if looks.owner[one] != looks.owner[other]:
        names = [f"{looks.character(color)}: {name}" for color, name in zip((one, other), names, strict=True)]
    return Finding(
        Severity.ERROR,
        Kind.PAINT_NUMBER,
        looks.colors[other].model,
        f"{names[0]} and {names[1]} both bear the paint number {paint}, and are {apart:.1f} ΔE00 apart.",
        "Give one of them its own number, or both the same color.",
        (looks.key(one), looks.key(other)), "", apart, 0.0, "ΔE00",
    )  # fmt: skip
