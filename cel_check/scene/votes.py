"""What one drawing says of another's paint: this part has the same color there, or plainly another one.

A part speaks against a paint only where two parts of two drawings are each other's best partner by place,
shape and surroundings, and where neither has a partner of its own color: a part that appeared, or that one
sees a piece of only, has none either, but then nothing else fits it.
"""

from dataclasses import dataclass

import numpy as np

from cel_check.scene.art import Ints
from cel_check.scene.match_parts import NEVER, NOTHING, Likeness
from cel_check.scene.stack import Floats, Stack

LEAST = 40
"""Pixels of a part whose paint is judged."""

RIVAL = 0.5
"""Cost by which another part may fit a partner no better."""

MARGIN = 1.6
"""Cost by which a partner of another color fits better than any of the own color, at even odds."""

SOFT = 0.5
"""Of the step from no to yes, in cost."""

CLAIMED = 4.0
"""Cost of a place that another part matches as a whole."""

PART_SEEN = 0.7
"""Cost, for each factor of e, of seeing only so much of a part."""

TIGHT = 3.5
"""Cost of a match from which it says nothing sure, at even odds."""

LOOSER = 0.3
"""By how much that grows with the margin: a part that nothing else fits may have changed more."""

SETTLED = 2.0
"""Cost of being a rival for a part that is settled elsewhere."""


@dataclass(frozen=True, eq=False)
class Votes:
    """What drawings say of the n parts of others, a row for each pair.

    Attributes:
        agree: `(p, n)` 0 to 1: a part of the same color is there.
        against: `(p, n)` 0 to 1: the part is there in another color.
        partner: `(p, n)` which part of the other drawing that is; -1 where there is none.
        same: `(p, n)` which part of the other drawing is the same in its own color; -1 where there is none.
    """

    agree: Floats
    against: Floats
    partner: Ints
    same: Ints

    def row(self, pair: int) -> "Votes":
        """Return what was said in one pair, without the first axis."""
        return Votes(self.agree[pair], self.against[pair], self.partner[pair], self.same[pair])


@dataclass(frozen=True, eq=False)
class Own:
    """Where parts are found in their own color.

    Attributes:
        place: `(p, n)` the other drawing's part that costs least.
        cost: `(p, n)` what it costs; `NEVER` where that color is not there.
    """

    place: Ints
    cost: Floats


def found_own(here: Stack, there: Stack, like: Likeness) -> tuple[Own, Own]:
    """Return where the parts of `here` are found in their own color there, and those of `there` here."""
    # A color off the model tells nothing of what another part has.
    same = (here.color[:, :, None] == there.color[:, None]) & (here.color >= 0)[:, :, None]
    back = np.where(same.transpose(0, 2, 1), own_cost(like.turned), NEVER)
    return Own(*least(np.where(same, own_cost(like), NEVER))), Own(*least(back))


def least(cost: Floats) -> tuple[Ints, Floats]:
    """Return `(p, n)` where in its row of `(p, n, m)` costs each least one is, and what that is."""
    place = cost.argmin(axis=2)
    return place, np.take_along_axis(cost, place[..., None], axis=2)[..., 0]


def votes(here: Stack, there: Stack, like: Likeness, own: Own, theirs: Own) -> Votes:
    """Return what each of `there` says of the parts of its one of `here`.

    Args:
        here: the drawings whose paint is judged.
        there: those that are asked.
        like: how alike their parts are.
        own: where parts are found in their own color there (`found_own`).
        theirs: the same the other way round.
    """
    judged = (here.color >= -1) & (here.area >= LEAST)
    fits = (here.color[:, :, None] != there.color[:, None]) | (here.color < 0)[:, :, None]
    fits &= ((there.color >= 0) & (there.area >= LEAST * 0.6))[:, None]
    partner, best = least(np.where(fits, like.cost, NEVER))
    taken = np.take_along_axis(theirs.cost, partner, axis=1)
    rival = _rival(like, partner)
    near = own.cost
    # A partner has its own color's counterpart here or a rival that fits as well, or the part its own there.
    margin = np.minimum(np.minimum(near, taken), rival + RIVAL) - best
    room = TIGHT + LOOSER * np.clip(margin - MARGIN - 2.0, 0.0, 8.0)
    against = _step((margin - MARGIN) / SOFT) * _step((room - best) / SOFT)
    against = np.where(judged & (best < NEVER), against, 0.0)
    agree = np.where(judged & (near < NEVER), _step((NOTHING - 1.0 - near) / SOFT), 0.0) * (1.0 - against)
    found = np.where(against > 0, partner, -1)
    return Votes(agree, against, found, np.where(agree > 0.5, own.place, -1))


def own_cost(like: Likeness) -> Floats:
    """Return `(p, n, m)` the cost of a part's being one with a place of its own color, whole or as a piece.

    A place that another part matches as a whole is not there for this one; nor is it the whole of which this
    one is a piece, unless the piece is small beside it.
    """
    best = like.match.argmax(axis=1)[:, None]
    first = np.take_along_axis(like.match, best, axis=1)
    rest = like.match.copy()
    np.put_along_axis(rest, best, 0.0, axis=1)
    claimed = np.broadcast_to(first, like.match.shape).copy()
    np.put_along_axis(claimed, best, rest.max(axis=1, keepdims=True), axis=1)
    claimed *= CLAIMED
    room = np.minimum(np.exp(like.larger) / 0.3, 1.0)
    piece = like.piece + PART_SEEN * np.maximum(like.larger, 0.0) + 0.6 * claimed * room
    return np.minimum(like.cost + claimed, piece)


def _rival(like: Likeness, partner: Ints) -> Floats:
    """Return for each row the least cost that any other row has with its partner.

    A row that is settled elsewhere (the other eye, the next stripe) is hardly a rival.
    """
    settled = like.match.argmax(axis=2)
    strength = like.match.max(axis=2)
    elsewhere = np.where(settled[:, :, None] == partner[:, None], 0.0, SETTLED * strength[:, :, None])
    theirs = np.take_along_axis(like.cost, partner[:, None], axis=2) + elsewhere
    rows = np.arange(partner.shape[1])
    theirs[:, rows, rows] = NEVER
    rival: Floats = theirs.min(axis=1)
    return rival


def _step(value: Floats) -> Floats:
    step: Floats = 1.0 / (1.0 + np.exp(-np.clip(value, -30, 30)))
    return step
