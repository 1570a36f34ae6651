"""What one drawing says of another's paint: this part has the same color there, or plainly another one.

A part speaks against a paint only where two parts of two drawings are each other's best partner by place,
shape and surroundings, and where neither has a partner of its own color: a part that appeared, or that one
sees a piece of only, has none either, but then nothing else fits it.
"""

from dataclasses import dataclass

import numpy as np

from cel_check.scene.art import Art, Floats, Ints
from cel_check.scene.match_parts import NOTHING, Likeness

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

NEVER = 1e4
"""Cost of what cannot be; a number, so that differences stay numbers."""

TIGHT = 3.0
"""Cost of a match from which it says nothing sure, at even odds."""

LOOSER = 0.15
"""By how much that grows with the margin: a part that nothing else fits may have changed more."""

SETTLED = 2.0
"""Cost of being a rival for a part that is settled elsewhere."""


@dataclass(frozen=True, eq=False)
class Votes:
    """What a drawing says of the n parts of another.

    Attributes:
        agree: `(n,)` 0 to 1: a part of the same color is there.
        against: `(n,)` 0 to 1: the part is there in another color.
        partner: `(n,)` which part of the other drawing that is; -1 where there is none.
        same: `(n,)` which part of the other drawing is the same in its own color; -1 where there is none.
    """

    agree: Floats
    against: Floats
    partner: Ints
    same: Ints


def votes(here: Art, there: Art, like: Likeness) -> Votes:
    """Return what `there` says of the parts of `here`."""
    count, others = len(here.color), len(there.color)
    judged = (here.color >= -1) & (here.area >= LEAST)
    # A color off the model tells nothing of what another part has.
    same = (here.color[:, None] == there.color[None]) & (here.color >= 0)[:, None]
    own = np.where(same, own_cost(like), NEVER)
    fits = ~same & (there.color >= 0)[None] & (there.area >= LEAST * 0.6)[None]
    other = np.where(fits, like.cost, NEVER)
    partner = other.argmin(axis=1)
    rows = np.arange(count)
    best = other[rows, partner]
    taken = np.where(same, own_cost(like.turned).T, NEVER).min(axis=0)[partner]
    rival = _rival(like, partner)
    # A partner has its own color's counterpart here or a rival that fits as well, or the part its own there.
    margin = np.minimum(np.minimum(own.min(axis=1), taken), rival + RIVAL) - best
    room = TIGHT + LOOSER * np.clip(margin - MARGIN - 2.0, 0.0, 8.0)
    against = _step((margin - MARGIN) / SOFT) * _step((room - best) / SOFT)
    against = np.where(judged & (best < NEVER), against, 0.0)
    mine = own.argmin(axis=1)
    near = own[rows, mine]
    agree = np.where(judged & (near < NEVER), _step((NOTHING - 1.0 - near) / SOFT), 0.0) * (1.0 - against)
    found = np.where(against > 0, partner, -1)
    return Votes(agree, against, found, np.where(agree > 0.5, mine, -1)) if others else _none(count)


def own_cost(like: Likeness) -> Floats:
    """Return `(n, m)` the cost of a part's being one with a place of its own color, whole or as a piece.

    A place that another part matches as a whole is not there for this one; nor is it the whole of which this
    one is a piece, unless the piece is small beside it.
    """
    columns = np.arange(like.match.shape[1])
    best = like.match.argmax(axis=0)
    first = like.match[best, columns]
    rest = like.match.copy()
    rest[best, columns] = 0.0
    claimed = np.broadcast_to(first, like.match.shape).copy()
    claimed[best, columns] = rest.max(axis=0)
    whole = like.cost + CLAIMED * claimed
    room = np.clip(np.exp(like.larger) / 0.3, 0.0, 1.0)
    piece = like.piece + PART_SEEN * np.maximum(like.larger, 0.0) + 0.6 * CLAIMED * claimed * room
    return np.minimum(whole, piece)


def _none(count: int) -> Votes:
    nothing = np.full(count, -1)
    return Votes(np.zeros(count), np.zeros(count), nothing, nothing)


def _rival(like: Likeness, partner: Ints) -> Floats:
    """Return for each row the least cost that any other row has with its partner.

    A row that is settled elsewhere (the other eye, the next stripe) is hardly a rival.
    """
    rows = np.arange(len(partner))
    settled = like.match.argmax(axis=1)
    elsewhere = np.where(settled[:, None] == partner[None], 0.0, like.match[rows, settled][:, None])
    theirs = like.cost[:, partner] + SETTLED * elsewhere
    np.fill_diagonal(theirs, NEVER)
    rival: Floats = theirs.min(axis=0)
    return rival


def _step(value: Floats) -> Floats:
    step: Floats = 1.0 / (1.0 + np.exp(-np.clip(value, -30, 30)))
    return step
