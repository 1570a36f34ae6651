"""What can go wrong before a cel is judged, as one clear line each.

A `BadInput` ends the run with exit status 2. A `BadPicture` ends only the cel it belongs to: it becomes an
`unreadable` fault.
"""

from dataclasses import dataclass


class CelCheckError(Exception):
    """Base of every error that cel-check raises on purpose."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with one input file.

    Attributes:
        file: the file's path as the user wrote it.
        where: line, row and column, or key inside the file; empty where the whole file is meant.
        wrong: what is wrong.
        mend: what to do about it.
    """

    file: str
    where: str
    wrong: str
    mend: str

    def line(self) -> str:
        """Return the problem as the one line that a user reads."""
        place = f"{self.file}, {self.where}" if self.where else self.file
        return f"{place}: {self.wrong}. {self.mend}"


class BadInput(CelCheckError):
    """One or more input files (arguments, a model, a sheet, scene.toml) that the run cannot go on with."""

    def __init__(self, *problems: Problem) -> None:
        """Keep every problem found, so that a person mends them all in one go."""
        self.problems = problems
        super().__init__("\n".join(problem.line() for problem in problems))


class BadPicture(CelCheckError):
    """A picture that cannot be read whole; `reason` and `mend` go into the `unreadable` fault.

    `sha256` is that of the very bytes that are no whole picture, as a hex digest; None where the file could
    not be read at all, which says nothing of what is in it.
    """

    def __init__(self, reason: str, mend: str, sha256: str | None = None) -> None:
        """Keep the reason and the mend apart, since the report shows both."""
        self.reason = reason
        self.mend = mend
        self.sha256 = sha256
        super().__init__(f"{reason}. {mend}")


class Refused(CelCheckError):
    """A picture that is not checked because a limit forbids it; the cel's verdict is `not-checked`."""
