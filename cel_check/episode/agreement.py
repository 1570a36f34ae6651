"""How often people agree with the check, kind by kind: what to trust, and what to mend in the program."""

import sqlite3
from collections import Counter
from dataclasses import dataclass

from cel_check.episode.added import PREFIX
from cel_check.episode.decisions import Decision, history, in_force
from cel_check.episode.schema import name_of
from cel_check.faults import FaultKind
from cel_check.scene.summary import Deed


@dataclass(frozen=True)
class KindAgreement:
    """One fault kind.

    Attributes:
        kind: the fault kind.
        shown: faults that a check ever found.
        agreed: of these, sent back by a person.
        passed: passed with a reason.
        no_fault: called no fault.
        by_hand: drawn by hand, because no check had found them.
    """

    kind: FaultKind
    shown: int
    agreed: int
    passed: int
    no_fault: int
    by_hand: int

    @property
    def open(self) -> int:
        """Faults on which nobody has decided; some were mended before anybody did."""
        return self.shown - self.agreed - self.passed - self.no_fault

    @property
    def agreement(self) -> float | None:
        """Share of the decided faults that were faults; None where nothing was decided.

        A fault that was passed with a reason is one that was seen right: only `not a fault` counts against.
        """
        decided = self.agreed + self.passed + self.no_fault
        return (self.agreed + self.passed) / decided if decided else None


def agreement(db: sqlite3.Connection) -> tuple[KindAgreement, ...]:
    """Return every kind that was shown or drawn, in the order of the catalogue.

    A fault counts once, by the last decision on it that stands.
    """
    kinds = {str(identity): FaultKind(kind) for identity, kind in db.execute("SELECT id, kind FROM fault")}
    shown = Counter(kinds.values())
    deeds = Counter(
        (kinds[one.fault], one.deed)
        for one in _last_of_each(db)
        if one.fault is not None and one.fault in kinds
    )
    hand = _by_hand(db)
    return tuple(
        KindAgreement(
            kind,
            shown[kind],
            deeds[kind, Deed.RETAKE],
            deeds[kind, Deed.PASS],
            deeds[kind, Deed.NO_FAULT],
            hand[kind],
        )
        for kind in FaultKind
        if shown[kind] or hand[kind]
    )


def _last_of_each(db: sqlite3.Connection) -> tuple[Decision, ...]:
    scenes = [name_of(row[0]) for row in db.execute("SELECT DISTINCT scene FROM decision ORDER BY scene")]
    last = {
        one.fault: one for scene in scenes for one in in_force(history(db, scene)) if one.fault is not None
    }
    return tuple(last.values())


def _by_hand(db: sqlite3.Connection) -> Counter[FaultKind]:
    standing = {one.fault for one in _last_of_each(db) if one.deed is Deed.RETAKE}
    rows = db.execute("SELECT id, kind FROM added")
    return Counter(FaultKind(kind) for number, kind in rows if f"{PREFIX}{number}" in standing)
