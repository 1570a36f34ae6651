"""Pictures laid over one another in an order that changes little from one time to the next."""

from collections.abc import Callable, Sequence
from typing import Generic, TypeVar

Name = TypeVar("Name")
Seen = TypeVar("Seen")


class Laid(Generic[Name, Seen]):
    """What is seen as one picture after the other is laid; what is seen is never written to again.

    Orders are best asked for as they follow one another: what lies below the lowest picture that changed is
    not laid again, and an order that stays the same gives the very same object.
    """

    def __init__(self, bare: Seen, lay: Callable[[Seen, Name], Seen]) -> None:
        """Lay nothing yet.

        Args:
            bare: what is seen with nothing laid.
            lay: returns what is seen with one more picture on top, and leaves what it was given as it is.
        """
        self._bare, self._lay = bare, lay
        self._laid: list[tuple[Name, Seen]] = []

    def seen(self, names: Sequence[Name]) -> Seen:
        """Return what is seen with these laid, from the bottom up."""
        same = 0
        while same < min(len(names), len(self._laid)) and names[same] == self._laid[same][0]:
            same += 1
        del self._laid[same:]
        top = self._laid[-1][1] if self._laid else self._bare
        for name in names[same:]:
            top = self._lay(top, name)
            self._laid.append((name, top))
        return top
