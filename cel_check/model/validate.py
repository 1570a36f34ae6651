"""The whole validation of color models: everything that is known before anyone paints, the worst first."""

from collections.abc import Iterable

from cel_check.errors import Problem
from cel_check.model.apart import find_close
from cel_check.model.colormodel import ColorModel
from cel_check.model.conditions import find_odd
from cel_check.model.finding import Finding, Kind, Severity, worst_first
from cel_check.model.looks import Looks
from cel_check.model.paint_numbers import find_number_slips
from cel_check.model.shown import Levels, find_unshown
from cel_check.model.together import Together


def validate(looks: Looks, together: Together, levels: Levels) -> tuple[Finding, ...]:
    """Return everything that is to be said of color models, the worst first.

    Args:
        looks: the models' colors in every look.
        together: what is known of how they are used.
        levels: how the master takes the codes.
    """
    found = (
        *find_number_slips(looks),
        *find_close(looks, together),
        *find_unshown(looks, together, levels),
        *find_odd(looks),
    )
    return worst_first(found)


def file_findings(model: ColorModel, problems: Iterable[Problem]) -> tuple[Finding, ...]:
    """Return what is wrong in a model's file, though the rest of it could be read, and what is odd in it."""
    gamut = tuple(
        f"{model.file}: {color.id} is outside " for color in model.colors if not color.swatch.in_gamut
    )
    notes = (note for note in model.notes if not note.startswith(gamut))  # the gamut is a finding of its own
    return (*_slips(model, problems), *(_odd(model, note) for note in notes))


def _odd(model: ColorModel, note: str) -> Finding:
    return Finding(Severity.WARNING, Kind.FILE, model.key, note, "Mend it where it is not meant.")


def _slips(model: ColorModel, problems: Iterable[Problem]) -> tuple[Finding, ...]:
    return tuple(
        Finding(
            Severity.ERROR,
            Kind.FILE,
            model.key,
            f"{problem.file}, {problem.where}: {problem.wrong}." if problem.where else problem.wrong,
            problem.mend,
        )
        for problem in problems
    )
