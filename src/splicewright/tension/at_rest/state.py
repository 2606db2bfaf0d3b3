"""The states of a stopped belt, and the moves of a crew that turn one into the next.

A state says what holds the belt and how it lies; forces follow from it (`forces`). A move that
cannot follow the state before it is refused, so a table of stages is a sequence that can be done.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from enum import StrEnum

from splicewright.errors import Fault, InputError


class Move(StrEnum):
    """What the crew does next; the words of the stage table."""

    LOCK_OUT = "lock out"
    SET_CLAMPS = "set the restraining clamps"
    RELEASE = "release the take-up"
    SET_HOISTS = "set pulling clamps and hoists"
    DRAW = "draw slack to the place"
    TAKE_UP_CHAINS = "take up the chains"
    OPEN = "open the belt"
    PULL_IN = "draw the new belt in"
    BRING_TOGETHER = "bring the ends together"
    PIN = "pin the joint"
    EASE_HOISTS = "ease the hoists, take them off"
    SLACK_CHAINS = "slack the chains, clamps still on"
    RESTORE = "let the take-up pull again"
    CLAMPS_OFF = "take the clamps off"
    LOCKS_OFF = "take the locks off"


class Chains(StrEnum):
    """How the chains of the restraining clamps stand."""

    NONE = "no clamps"
    SNUG = "snug"
    LEFT_BEHIND = "slack, the clamps were drawn towards the place"
    BEARING = "taken up, bearing"
    SLACK = "slack on purpose"


class Hoists(StrEnum):
    """How the hoists across the place stand."""

    NONE = "no hoists"
    SLACK = "hooked up, slack"
    PULLING = "pulling"
    SNUG = "snug, the chains bear"


class Place(StrEnum):
    """How the belt lies at the place of work."""

    WHOLE = "whole, tension may be in it"
    SLACK = "whole, hanging slack"
    OPEN = "open"
    TOGETHER = "ends together, not pinned"
    JOINED = "joined"


@dataclass(frozen=True, slots=True)
class State:
    """A stopped belt: locked out or not, take-up acting or released, clamps, hoists, the place."""

    locked: bool = False
    acting: bool = True
    chains: Chains = Chains.NONE
    hoists: Hoists = Hoists.NONE
    place: Place = Place.WHOLE


USUAL = tuple(move for move in Move if move is not Move.PULL_IN)
"""The order in which a joint is made anew: common practice, no source."""

IN_ONE_PIECE = (
    Move.LOCK_OUT,
    Move.SET_CLAMPS,
    Move.RELEASE,
    Move.SLACK_CHAINS,
    Move.RESTORE,
    Move.CLAMPS_OFF,
    Move.LOCKS_OFF,
)
"""The order where the belt is not opened (a repair along it): no slack is drawn to the place."""

_IN_ONE_PIECE = {Place.WHOLE, Place.JOINED}


def after(state: State, move: Move) -> State:
    """The state that a move leads to.

    Raises
    ------
    InputError
        The move cannot follow: which, and what must come before it.
    """
    allowed, wanted, turned = _RULES[move]
    if not allowed(state):
        raise InputError(Fault(move.value, f"cannot be done now: {wanted}"))
    return turned(state)


def states(moves: Iterable[Move]) -> tuple[tuple[Move, State], ...]:
    """Each move with the state it leads to, from a belt that has just stopped.

    Raises
    ------
    InputError
        A move that cannot follow the state before it, by its place in the order.
    """
    state, steps = State(), []
    for number, move in enumerate(moves, 1):
        try:
            state = after(state, move)
        except InputError as refused:
            sentence = refused.faults[0].sentence
            raise InputError(Fault(f"step {number}, {move.value}", sentence)) from None
        steps.append((move, state))
    return tuple(steps)


_Rule = tuple[Callable[[State], bool], str, Callable[[State], State]]
_SET = {Chains.SNUG, Chains.LEFT_BEHIND, Chains.BEARING}

_RULES: dict[Move, _Rule] = {
    Move.LOCK_OUT: (
        lambda s: not s.locked and s.hoists is Hoists.NONE,
        "the belt is locked out already",
        lambda s: replace(s, locked=True),
    ),
    Move.SET_CLAMPS: (
        lambda s: s.locked and s.chains is Chains.NONE and s.place is Place.WHOLE,
        "lock out first, and set the clamps while the belt is whole",
        lambda s: replace(s, chains=Chains.SNUG),
    ),
    Move.RELEASE: (
        lambda s: s.locked and s.acting and s.chains is Chains.SNUG and s.place is Place.WHOLE,
        "the clamps must hold, their chains snug, before the take-up is touched",
        lambda s: replace(s, acting=False),
    ),
    Move.SET_HOISTS: (
        lambda s: not s.acting and s.chains in _SET and s.hoists is Hoists.NONE,
        "release the take-up first, with the clamps on",
        lambda s: replace(s, hoists=Hoists.SLACK),
    ),
    Move.DRAW: (
        lambda s: s.hoists is Hoists.SLACK and s.place is Place.WHOLE,
        "set the hoists first; only a whole belt is drawn slack",
        lambda s: replace(s, hoists=Hoists.PULLING, place=Place.SLACK, chains=Chains.LEFT_BEHIND),
    ),
    Move.TAKE_UP_CHAINS: (
        lambda s: s.hoists is Hoists.PULLING and s.chains is Chains.LEFT_BEHIND,
        "draw slack to the place first: the chains hang slack only then",
        lambda s: replace(s, chains=Chains.BEARING, hoists=Hoists.SNUG),
    ),
    Move.OPEN: (
        lambda s: s.place is Place.SLACK and s.chains is Chains.BEARING,
        "the belt must hang slack at the place and the chains must bear",
        lambda s: replace(s, place=Place.OPEN),
    ),
    # A winch draws the old belt off; at its end clamps and hoists stand on the new belt as before.
    Move.PULL_IN: (
        lambda s: (
            s.locked and not s.acting and s.place is Place.OPEN and s.chains is Chains.BEARING
        ),
        "the old belt must be open, its chains bearing, and the take-up released",
        lambda s: s,
    ),
    Move.BRING_TOGETHER: (
        lambda s: s.place is Place.OPEN and s.hoists in {Hoists.SNUG, Hoists.SLACK},
        "the belt must be open and the hoists hooked up",
        lambda s: replace(
            s, place=Place.TOGETHER, hoists=Hoists.PULLING, chains=Chains.LEFT_BEHIND
        ),
    ),
    Move.PIN: (
        lambda s: s.place is Place.TOGETHER and s.hoists is Hoists.PULLING,
        "the ends are apart: bring them together and hold them there",
        lambda s: replace(s, place=Place.JOINED),
    ),
    Move.EASE_HOISTS: (
        lambda s: s.hoists is not Hoists.NONE and s.place is Place.JOINED,
        "the hoists hold the belt: pin the joint first",
        lambda s: replace(s, hoists=Hoists.NONE),
    ),
    Move.SLACK_CHAINS: (
        lambda s: s.chains in _SET and s.place in _IN_ONE_PIECE and s.hoists is Hoists.NONE,
        "the clamps hold the belt: pin the joint and ease the hoists first",
        lambda s: replace(s, chains=Chains.SLACK),
    ),
    Move.RESTORE: (
        lambda s: not s.acting and s.place in _IN_ONE_PIECE and s.chains is Chains.SLACK,
        "pin the joint and slack the chains first, or the take-up pulls on the clamps",
        lambda s: replace(s, acting=True),
    ),
    Move.CLAMPS_OFF: (
        lambda s: s.acting and s.chains is Chains.SLACK and s.place in _IN_ONE_PIECE,
        "a clamp that holds is not taken off: the take-up must hold the belt, the chains slack",
        lambda s: replace(s, chains=Chains.NONE),
    ),
    Move.LOCKS_OFF: (
        lambda s: (
            s.locked
            and s.acting
            and s.chains is Chains.NONE
            and s.hoists is Hoists.NONE
            and s.place in _IN_ONE_PIECE
        ),
        "clamps and hoists must be off, the belt whole and the take-up pulling",
        lambda s: replace(s, locked=False),
    ),
}
