"""The report's words: what a person reads for a verdict, a confidence or a run of frames."""

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from types import MappingProxyType

from cel_check.faults import FaultKind, SendTo, Verdict
from cel_check.scene.names import number_runs
from cel_check.scene.results import SceneResult

VERDICT_WORDS: Mapping[Verdict, str] = MappingProxyType(
    {
        Verdict.PASS: "passes",
        Verdict.QUERY: "to decide",
        Verdict.RETAKE: "retake",
        Verdict.NOT_CHECKED: "not checked",
    }
)

KIND_TITLES: Mapping[FaultKind, str] = MappingProxyType(
    {
        FaultKind.OFF_MODEL: "Color off the model",
        FaultKind.WRONG_PART: "Wrong color for the part",
        FaultKind.UNPAINTED: "Left without paint",
        FaultKind.OPEN_LINE: "Open ink line",
        FaultKind.INK_COLOR: "Ink off the model",
        FaultKind.SPILL: "Paint across the line",
        FaultKind.STRAY: "Stray mark",
        FaultKind.MISSING_CEL: "Missing cel",
        FaultKind.UNCALLED_CEL: "Cel the sheet never calls",
        FaultKind.UNREADABLE: "File cannot be read",
        FaultKind.WRONG_SIZE: "Wrong size",
        FaultKind.OFF_REGISTER: "Off register",
        FaultKind.SHORT_OF_FIELD: "Short of the field",
        FaultKind.FLASH: "Flashing or striped pictures",
    }
)

DEPARTMENTS: Mapping[SendTo, str] = MappingProxyType(
    {
        SendTo.INK: "Ink",
        SendTo.PAINT: "Paint",
        SendTo.SHEET: "Exposure sheet",
        SendTo.SCAN: "Scanning",
        SendTo.ANIMATION: "Animation",
    }
)

NO_REASON = "The cel was not checked; no reason was kept."

# Words for `Fault.confidence`; the limits are a house choice, no source.
_SURE = ((0.95, "all but certain"), (0.8, "very likely"), (0.6, "likely"), (0.4, "as likely as not"))
# Words for `Fault.visibility`; the limits are a house choice, no source.
_SEEN = ((0.6, "anyone will see it"), (0.3, "an attentive eye will see it"), (0.1, "hard to see"))


def frames_phrase(frames: Iterable[int]) -> str:
    """Return `frame 13`, `frames 13–14, 20` or `no frame of the sheet`."""
    numbers = set(frames)
    if not numbers:
        return "no frame of the sheet"
    return f"frame{'' if len(numbers) == 1 else 's'} {', '.join(number_runs(numbers))}"


def plural(count: int, one: str, many: str = "") -> str:
    """Return `1 cel`, `2 cels`; thousands are parted by a comma."""
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def how_sure(confidence: float) -> str:
    """Return the confidence in words, with its value."""
    return _graded(confidence, _SURE, "doubtful")


def how_visible(visibility: float) -> str:
    """Return the visibility in words, with its value."""
    return _graded(visibility, _SEEN, "next to invisible")


def _graded(value: float, grades: tuple[tuple[float, str], ...], least: str) -> str:
    if not math.isfinite(value):
        return "not known"
    word = next((word for limit, word in grades if value >= limit), least)
    return f"{word} ({value:.2f})"


def count_verdicts(result: SceneResult) -> dict[Verdict, int]:
    """Return how many cels carry each verdict; every verdict is there, and they add up to the cels."""
    counts = Counter(cel.verdict for cel in result.cels)
    return {verdict: counts[verdict] for verdict in Verdict}


def shown_verdict(result: SceneResult) -> Verdict:
    """Return the verdict to show at the head: a scene with anything unchecked, or empty, never passes."""
    unchecked = not result.cels or any(cel.verdict is Verdict.NOT_CHECKED for cel in result.cels)
    if unchecked and result.verdict is not Verdict.RETAKE:
        return Verdict.NOT_CHECKED
    return result.verdict


def verdict_sentences(result: SceneResult, loose_faults: int) -> tuple[str, ...]:
    """Return the scene's verdict as short sentences, the most pressing first."""
    counts = count_verdicts(result)
    if not result.cels and not loose_faults:
        return ("Nothing was checked: no cel was found.",)
    sentences = []
    if count := counts[Verdict.RETAKE]:
        sentences.append(f"{plural(count, 'cel')} must be sent back.")
    if count := counts[Verdict.NOT_CHECKED]:
        sentences.append(f"{plural(count, 'cel was', 'cels were')} not fully checked.")
    if count := counts[Verdict.QUERY]:
        sentences.append(f"{plural(count, 'cel waits', 'cels wait')} for a person to decide.")
    if loose_faults:
        sentences.append(f"{plural(loose_faults, 'fault')} of the sheet or the scene.")
    if not result.cels:
        sentences.append("No cel was found.")
    return tuple(sentences) or (_all_pass(len(result.cels)),)


def _all_pass(cels: int) -> str:
    if cels == 1:
        return "The one cel was checked and passes."
    return f"All {cels:,} cels were checked and pass."


def kind_titles(kinds: Iterable[FaultKind]) -> str:
    """Return the titles of some kinds as a list in one line."""
    return ", ".join(KIND_TITLES[kind] for kind in kinds)
