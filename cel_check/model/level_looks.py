"""What each paint looks like under the cels above it, and the mix that makes it match the top level."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from cel_check.color.difference import ciede2000
from cel_check.color.spaces import White, lab_to_srgb, srgb_to_linear, to_8_bit
from cel_check.model.cels_above import CelLaw, Floats, lab_of, linear_of
from cel_check.model.finding import Finding, Kind, Severity
from cel_check.model.looks import Looks

_WAY = 41
"""Mixes that are tried between a color and the mix that would match."""


@dataclass(frozen=True)
class LevelLook:
    """One color on one level below the top.

    Attributes:
        model: key of the model.
        color: id of the color.
        level: counted from the bottom, 1 at the background.
        cels: how many lie above.
        seen: `#RRGGBB` that the base color looks like there.
        delta_e: ΔE00 of that to the color on the top level.
        mix: `#RRGGBB` of the mix that comes nearest to the top level.
        left: ΔE00 to the top level that this mix leaves; above half a step only where none matches.
        within: ΔE00 within which `seen` is known, one standard deviation.
        tolerance: ΔE00 allowed.
    """

    model: str
    color: str
    level: int
    cels: int
    seen: str
    delta_e: float
    mix: str
    left: float
    within: float
    tolerance: float


@dataclass(frozen=True, eq=False)
class Graded:
    """What a strip tells of a palette: the law, every color on every level, and the findings."""

    law: CelLaw
    levels: tuple[LevelLook, ...]
    findings: tuple[Finding, ...]


def graded(looks: Looks, law: CelLaw) -> Graded:
    """Work out how models' base colors look on each level of a stack as high as the strip.

    Args:
        looks: the models' colors.
        law: what one cel does; the most cels of its strips lie over level 1.
    """
    levels = [one for cels in range(1, law.cels + 1) for one in _on_level(looks, law, cels)]
    by_color = [tuple(levels[color :: len(looks.colors)]) for color in range(len(looks.colors))]
    findings = (
        _law_finding(law),
        *_doubts(looks, levels),
        *_declared(looks, law),
        *(_color_finding(looks, color, own) for color, own in enumerate(by_color)),
    )
    return Graded(law, tuple(levels), findings)


def _on_level(looks: Looks, law: CelLaw, cels: int) -> Iterator[LevelLook]:
    base = linear_of(looks.lab[0])
    seen = law.under(base, cels)
    off = ciede2000(lab_of(seen), looks.lab[0])
    mixes, left = _best(looks.lab[0], law, cels)
    within = law.known_within(base, cels)
    for number, color in enumerate(looks.colors):
        yield LevelLook(
            model=color.model,
            color=color.id,
            level=law.cels + 1 - cels,
            cels=cels,
            seen=_hex(_codes(seen)[number]),
            delta_e=float(off[number]),
            mix=_hex(mixes[number]),
            left=float(left[number]),
            within=float(within[number]),
            tolerance=color.tolerance,
        )


def _best(base: Floats, law: CelLaw, cels: int) -> tuple[NDArray[np.uint8], Floats]:
    """Return the mixes `(n, 3)` that come nearest to colors `(n, 3)` L*a*b* under cels, and ΔE00 left `(n,)`.

    Where sRGB has no such mix, one on the way to it from the color itself is taken: never worse than no mix.
    """
    start = linear_of(base)
    way = np.linspace(1.0, 0.0, _WAY)[:, None, None]
    mixes = _codes(start + way * (law.beneath(start, cels) - start))
    left = ciede2000(
        lab_of(law.under(srgb_to_linear(mixes / 255.0), cels)), np.broadcast_to(base, mixes.shape)
    )
    least = left.argmin(axis=0)
    each = np.arange(len(base))
    return mixes[least, each], left[least, each]


def _codes(linear: Floats) -> NDArray[np.uint8]:
    return to_8_bit(lab_to_srgb(lab_of(linear), White.D65)[0])


def _hex(code: NDArray[np.uint8]) -> str:
    return "#{:02X}{:02X}{:02X}".format(*(int(value) for value in code))


def _law_finding(law: CelLaw) -> Finding:
    through = ", ".join(f"{100 * share:.1f}" for share in law.through)
    adds = ", ".join(f"{100 * share:.1f}" for share in law.adds)
    text = (
        f"A cel lets {through} % of red, green and blue through and adds {adds} %; {law.bands} bands follow "
    )
    text += f"that within {law.worst:.1f} ΔE00."
    mend = f"Level {law.cels + 1} is the top, under no cel. Measure again for cels of another stock."
    return Finding(Severity.NOTE, Kind.LEVEL_MIX, "", text, mend)


def _doubts(looks: Looks, levels: Sequence[LevelLook]) -> Iterator[Finding]:
    """Yield a warning where the strips do not tell colors' looks within their tolerance."""
    doubtful = [one for one in levels if 2 * one.within > one.tolerance]
    if not doubtful:
        return
    worst = max(doubtful, key=lambda one: one.within)
    keys = tuple(dict.fromkeys((one.model, one.color) for one in doubtful))
    names = {looks.key(number): looks.name(number) for number in range(len(looks.colors))}
    colors = "1 color is" if len(keys) == 1 else f"{len(keys)} colors are"
    text = f"From these bands {colors} not known within tolerance: {names[worst.model, worst.color]} under "
    text += f"{worst.cels} {_cels(worst.cels)} within {2 * worst.within:.1f} ΔE00."
    mend = "Like grays hardly tell what a cel adds from what it takes: measure a light and a dark chip."
    yield Finding(
        Severity.WARNING, Kind.LEVEL_MIX, "", text, mend, keys, "", 2 * worst.within, worst.tolerance, "ΔE00"
    )


def _declared(looks: Looks, law: CelLaw) -> Iterator[Finding]:
    """Yield a warning for each mix of a model that does not look like the top level from its own."""
    top = law.cels + 1
    for look in range(1 + looks.conditions, len(looks.names)):
        level = int(looks.names[look].removeprefix("level mix "))
        if 1 <= level <= top:
            yield from _off_the_top(looks, law, look, top - level)
            continue
        text = f"The strip tells nothing of {looks.names[look]}: it stands for {top} levels."
        mend = "Measure the chip under as many cels as lie over the lowest level."
        yield Finding(Severity.NOTE, Kind.LEVEL_MIX, "", text, mend, (), looks.names[look])


def _off_the_top(looks: Looks, law: CelLaw, look: int, cels: int) -> Iterator[Finding]:
    mixes, base = linear_of(looks.lab[look]), looks.lab[0]
    seen = law.under(mixes, cels)
    off = ciede2000(lab_of(seen), base)
    # What no mix can mend is none's fault.
    best, least = _best(base, law, cels)
    allowed = looks.tolerance + 2 * law.known_within(mixes, cels) + least
    for color in np.flatnonzero(looks.named[look] & (off > allowed)).tolist():
        limit = float(looks.tolerance[color])
        text = f"{looks.name(color)}, {looks.names[look]}, looks {_hex(_codes(seen)[color])} under {cels} "
        text += f"{_cels(cels)}: {off[color]:.1f} ΔE00 from level {law.cels + 1} (allowed {limit:.1f})."
        does = "would match" if least[color] <= limit else f"comes nearest ({least[color]:.1f} ΔE00 off)"
        mend = f"{_hex(best[color])} {does}, or confirm that another stack is meant."
        key = looks.key(color)
        yield Finding(Severity.WARNING, Kind.LEVEL_MIX, key[0], text, mend, (key,), looks.names[look],
                      float(off[color]), limit, "ΔE00")  # fmt: skip


def _color_finding(looks: Looks, color: int, own: Sequence[LevelLook]) -> Finding:
    """Return one color's looks under one cel, two and so on, and the mixes that match."""
    seen = ", ".join(f"{one.seen} ({one.delta_e:.1f})" for one in own)
    counts = "1 cel" if len(own) == 1 else f"1 to {len(own)} cels"
    text = f"{looks.name(color)} under {counts} looks {seen} (ΔE00 from the top level)."
    mixes = ", ".join(f"level {one.level} {one.mix}{_left(one)}" for one in own)
    key, worst = looks.key(color), max(own, key=lambda one: one.delta_e)
    return Finding(Severity.NOTE, Kind.LEVEL_MIX, key[0], text, f"Mixes that match: {mixes}.", (key,), "",
                   worst.delta_e, worst.tolerance, "ΔE00")  # fmt: skip


def _left(one: LevelLook) -> str:
    return f" (nearest, {one.left:.1f} off)" if one.left > one.tolerance else ""


def _cels(count: int) -> str:
    return "cel" if count == 1 else "cels"
