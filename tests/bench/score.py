"""Found faults against injected ones: recall with its uncertainty, false alarms, and faults told twice."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import sqrt

import cv2
import numpy as np
from inject import Truth

from cel_check.faults import Fault, Verdict

MARGIN = 6
"""A found point this many px off the injected pixels still counts."""

Z95 = 1.959964


def wilson(hits: int, total: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (Wilson 1927)."""
    if total == 0:
        return 0.0, 1.0
    share, square = hits / total, Z95 * Z95
    middle = (share + square / (2 * total)) / (1 + square / total)
    half = Z95 * sqrt(share * (1 - share) / total + square / (4 * total * total)) / (1 + square / total)
    return max(0.0, middle - half), min(1.0, middle + half)


def at_place(fault: Fault, truth: Truth, margin: int = MARGIN) -> bool:
    """Tell whether a fault points at the injected place.

    Its point lies within `margin` px of the injected pixels, or its box covers half of the injected box
    and is at most four times as large (a box around the whole art proves nothing).
    """
    x, y, width, height = truth.box
    if fault.point is not None:
        wide = np.pad(truth.mask.astype(np.uint8), margin + 1)
        kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * margin + 1, 2 * margin + 1))
        column, row = fault.point[0] - x + margin + 1, fault.point[1] - y + margin + 1
        inside = 0 <= row < wide.shape[0] and 0 <= column < wide.shape[1]
        if inside and cv2.dilate(wide, kernel)[row, column]:
            return True
    if fault.box is None:
        return False
    left, top, wide_, high = fault.box
    over_x = max(0, min(x + width, left + wide_) - max(x, left))
    over_y = max(0, min(y + height, top + high) - max(y, top))
    room = (width + 2 * margin) * (height + 2 * margin)
    return 2 * over_x * over_y >= width * height and wide_ * high <= 4 * room


def same_fault(first: Fault, second: Fault) -> bool:
    """Tell whether two faults of one cel, found in two runs, are the same one."""
    if first.kind != second.kind:
        return False
    if first.box is None or second.box is None:
        return first.box == second.box
    return all(abs(a - b) <= 3 for a, b in zip(first.box, second.box, strict=True))


@dataclass(frozen=True)
class Outcome:
    """What became of one injected cel.

    Attributes:
        kind: the injection's name.
        variant: its form.
        size: its size.
        area: injected pixels.
        style: the cel's style.
        verdict: of the fault found under the right kind at the right place; None where there is none.
        under: kinds under which something else was found at the place.
        extra: faults found that are neither the injected one nor there on the untouched cel.
    """

    kind: str
    variant: str
    size: float
    area: int
    style: str
    verdict: Verdict | None
    under: tuple[str, ...]
    extra: tuple[Fault, ...] = field(default=())

    @property
    def hit(self) -> bool:
        """Found under the right kind, whatever the verdict."""
        return self.verdict is not None


def judge(
    names: tuple[str, str],
    truth: Truth,
    found: Sequence[Fault],
    before: Sequence[Fault],
    margin: int = MARGIN,
) -> Outcome:
    """Compare what was found on an injected cel with the truth and with what was found on it untouched.

    Args:
        names: the injection's name and the cel's style.
        truth: what was injected.
        found: faults of the injected cel.
        before: faults of the untouched cel.
        margin: px off the injected pixels that still count.
    """
    new = [fault for fault in found if not any(same_fault(fault, old) for old in before)]
    here = [fault for fault in new if at_place(fault, truth, margin)]
    right = [fault for fault in here if fault.kind == truth.kind]
    best = next((fault for fault in right if fault.verdict is Verdict.RETAKE), right[0] if right else None)
    if best is not None:
        extra, under = tuple(fault for fault in new if fault is not best), ()
    else:
        extra = tuple(fault for fault in new if fault not in here)
        under = tuple(sorted({fault.kind.value for fault in here}))
    verdict = None if best is None else best.verdict
    return Outcome(names[0], truth.variant, truth.size, truth.area, names[1], verdict, under, extra)


def _percent(hits: int, total: int) -> str:
    low, high = wilson(hits, total)
    share = 100 * hits / total if total else 0.0
    return f"{share:6.1f} [{100 * low:5.1f},{100 * high:6.1f}]"


def _rows(title: str, groups: dict[str, list[Outcome]]) -> list[str]:
    lines = [
        f"{title:<34}{'n':>5}  {'retake or query %':<24}{'retake only %':<24}{'other kind':>10}{'extra':>7}"
    ]
    for name, outcomes in groups.items():
        total, hits = len(outcomes), sum(outcome.hit for outcome in outcomes)
        firm = sum(outcome.verdict is Verdict.RETAKE for outcome in outcomes)
        other = sum(bool(outcome.under) for outcome in outcomes)
        extra = sum(len(outcome.extra) for outcome in outcomes)
        lines.append(
            f"{name:<34}{total:>5}  {_percent(hits, total):<24}{_percent(firm, total):<24}"
            f"{other:>10}{extra:>7}"
        )
    return lines


def _grouped(outcomes: Iterable[Outcome], key: str) -> dict[str, list[Outcome]]:
    groups: dict[str, list[Outcome]] = {}
    for outcome in outcomes:
        groups.setdefault(_key(outcome, key), []).append(outcome)
    return dict(sorted(groups.items()))


SIZE_STEPS = {
    "off-model": (500, 2000, 10000), "clear-part": (300, 1000, 5000),
    "spill": (4, 5, 6, 7), "stray": (5, 8, 12),
    "dirt": (5, 8, 12), "pinhole": (2.5, 3.5, 5), "ink-color": (40, 80),
    "open-line": (3, 5, 8, 12, 20),
    "leaked": (3, 5, 8, 12, 20), "left-clear": (3, 5, 8, 12, 20),
}  # fmt: skip


def _key(outcome: Outcome, key: str) -> str:
    if key == "kind":
        return outcome.kind
    if key == "variant":
        return f"{outcome.kind}: {outcome.variant}"
    if key == "style":
        edges, pen, _, ground = _style_words(outcome.style)
        return f"{edges} {pen} {ground}"
    size = outcome.area if outcome.kind == "off-model" else outcome.size
    steps = SIZE_STEPS[outcome.kind]
    index = sum(size >= step for step in steps)
    unit = "px2" if outcome.kind in ("off-model", "clear-part") else "px"
    if index == 0:
        return f"{outcome.kind}: {index} below {steps[0]:g} {unit}"
    return f"{outcome.kind}: {index} from {steps[index - 1]:g} {unit}"


def _style_words(style: str) -> tuple[str, str, str, str]:
    edges, pen, *ink, ground = style.split("-")
    return edges, pen, "-".join(ink), ground


def recall_tables(outcomes: Sequence[Outcome]) -> list[str]:
    """Return the recall tables: by kind, by variant, by size, by style."""
    lines: list[str] = []
    for key in ("kind", "variant", "size", "style"):
        lines += ["", *_rows(f"recall by {key}", _grouped(outcomes, key))]
    elsewhere: dict[tuple[str, str], int] = {}
    for outcome in outcomes:
        for kind in outcome.under:
            elsewhere[outcome.kind, kind] = elsewhere.get((outcome.kind, kind), 0) + 1
    lines += ["", "found at the right place under another kind"]
    return lines + [
        f"{injected:<14} told as {told:<14}{count:>5}" for (injected, told), count in elsewhere.items()
    ]


def alarm_table(cels: Sequence[tuple[str, Sequence[Fault]]]) -> list[str]:
    """Return the false alarms of untouched cels, given as `(style, faults)`."""
    total = len(cels)
    lines = [
        f"{'untouched cels: ' + str(total):<34}{'faults:':>8}{'retakes':>9}{'queries':>9}"
        f"{'cels with:':>12}{'retake':>8}{'query':>8}"
    ]
    for kind in [None, *sorted({fault.kind for _, faults in cels for fault in faults})]:
        row = f"{kind or 'any kind':<34}"
        faults, whole = _counts(cels, kind, whole=False), _counts(cels, kind, whole=True)
        lines.append(f"{row:<42}{faults[0]:>9}{faults[1]:>9}{'':>12}{whole[0]:>8}{whole[1]:>8}")
    bad = _counts(cels, None, whole=True)[0]
    lines.append(f"cels with a false retake: {_percent(bad, total)} % of {total}")
    return lines


def _counts(cels: Sequence[tuple[str, Sequence[Fault]]], kind: str | None, whole: bool) -> tuple[int, int]:
    numbers = []
    for verdict in (Verdict.RETAKE, Verdict.QUERY):
        per_cel = [sum(f.verdict is verdict and kind in (None, f.kind) for f in faults) for _, faults in cels]
        numbers.append(sum(count > 0 for count in per_cel) if whole else sum(per_cel))
    return numbers[0], numbers[1]


Cel = tuple[str, Sequence[Fault]]
"""An untouched cel: its style and what was found on it."""


def markdown_table(outcomes: Sequence[Outcome], cels: Sequence[Cel], right: Sequence[Cel]) -> str:
    """Return README's table: recall by kind, and the untouched cels that were sent back.

    Args:
        outcomes: of the injected cels.
        cels: all untouched cels.
        right: those whose own art has no fault.
    """
    lines = [
        "| injected | cels | found, % (95 % interval) | as a retake, % |",
        "| --- | --- | --- | --- |",
    ]
    for kind, group in _grouped(outcomes, "kind").items():
        hits = sum(outcome.hit for outcome in group)
        firm = sum(outcome.verdict is Verdict.RETAKE for outcome in group)
        low, high = wilson(hits, len(group))
        share, sure = 100 * hits / len(group), 100 * firm / len(group)
        lines.append(
            f"| {kind} | {len(group)} | {share:.1f} ({100 * low:.1f} to {100 * high:.1f}) | {sure:.1f} |"
        )
    bad, wrong = _counts(cels, None, whole=True)[0], _counts(right, None, whole=True)[0]
    low, high = wilson(wrong, len(right))
    lines += [
        "",
        f"Of {len(cels)} untouched cels {bad} are sent back; without the {len(cels) - len(right)} whose own",
        f"art has the fault, {wrong} of {len(right)}: {100 * wrong / max(1, len(right)):.1f} %"
        f" ({100 * low:.1f} to {100 * high:.1f}).",
    ]
    return "\n".join(lines) + "\n"
