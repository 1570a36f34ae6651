"""The level mixes that a measured strip tells, as text to be put into a color model's file."""

from collections.abc import Iterator

from cel_check.model.level_looks import Graded, LevelLook


def level_mixes_toml(graded: Graded, model: str) -> str:
    """Return `[level-mix.1]` and so on for one model, the lowest level first.

    A color that looks like the top level from where it lies needs no mix; one that no mix takes within its
    tolerance stands as a remark, for the paint lead to decide.

    Args:
        graded: what the strip tells.
        model: the model's key.
    """
    lines = [
        f"# For the model {model}, by a measured strip: level {graded.law.cels + 1} is the top, under no cel."
    ]
    for level in range(1, graded.law.cels + 1):
        lines += ["", f"[level-mix.{level}]", *_mixes(graded, model, level)]
    return "\n".join(lines) + "\n"


def _mixes(graded: Graded, model: str, level: int) -> Iterator[str]:
    for one in graded.levels:
        if (one.model, one.level) == (model, level) and one.delta_e > one.tolerance:
            yield _mix(one)


def _mix(one: LevelLook) -> str:
    text = f'{one.color} = "{one.mix}"'
    if one.left <= one.tolerance:
        return text
    return f"# {text} comes nearest, and is {one.left:.1f} ΔE00 off"
