"""The job stage by stage: what every thing that holds carries, least and most."""

from __future__ import annotations

from dataclasses import dataclass

from splicewright.plant import TakeUpKind
from splicewright.quantities import Figure, Kind, Sentence, Worksheet, sentence
from splicewright.tension.at_rest.bounds import Bounds
from splicewright.tension.at_rest.movement import Movement
from splicewright.tension.at_rest.rest import Between, Rest
from splicewright.tension.at_rest.state import Chains, Hoists, Move, Place, State


@dataclass(frozen=True, slots=True)
class Force:
    """What one thing carries at one stage [N]: key for programs, name as crews say it."""

    key: str
    name: str
    least: Figure
    largest: Figure


@dataclass(frozen=True, slots=True)
class Stage:
    """One move and what stands after it: state, forces of all that is there."""

    move: Move
    name: str
    says: Sentence
    state: State
    forces: tuple[Force, ...]

    def force(self, key: str) -> Force | None:
        """The force of one thing, None where it is not there."""
        return next((f for f in self.forces if f.key == key), None)


def stage(
    move: Move, state: State, rest: Rest, bounds: Bounds, moved: Movement, nothing: Figure
) -> Stage:
    """One stage from the bounds; `nothing` is the force of what hangs slack."""
    gravity = rest.conveyor.take_up.kind is TakeUpKind.GRAVITY
    forces = [Force("belt", "belt at the place", *_pair(_belt(state, bounds, nothing)))]
    for side in bounds.sides:
        hold = _chain(state, bounds, side.hold, side.acting, nothing)
        if hold is not None:
            forces.append(
                Force(f"clamp_{side.way.value}", f"restraining clamp {side.name}", *_pair(hold))
            )
    pull = _hoists(state, bounds, nothing)
    if pull is not None:
        forces.append(Force("hoists", "hoists and pulling clamps", *_pair(pull)))
    name, says = _words(move, gravity, bounds, moved)
    return Stage(move, name, says, state, tuple(forces))


def _pair(between: Between) -> tuple[Figure, Figure]:
    return between.least, between.largest


def _belt(state: State, bounds: Bounds, nothing: Figure) -> Between:
    if state.place in {Place.SLACK, Place.OPEN, Place.TOGETHER}:
        return Between(nothing, nothing)
    if state.hoists is Hoists.PULLING:
        return Between(nothing, bounds.released.largest)
    return bounds.acting if state.acting else bounds.released


def _chain(
    state: State, bounds: Bounds, hold: Between, acting: Figure, nothing: Figure
) -> Between | None:
    """What the chain of one restraining clamp carries; None without a clamp."""
    if state.chains is Chains.NONE:
        return None
    if state.chains is Chains.SLACK:
        return Between(nothing, nothing)
    if state.acting:  # set while the take-up pulls: equilibrium lets a snug chain take all of it
        return Between(nothing, bounds.acting.largest)
    whole = state.place in {Place.WHOLE, Place.JOINED}
    if state.chains is Chains.BEARING and not whole:
        return Between(hold.least, _more(hold.largest, bounds.draw.largest))
    return Between(
        nothing,
        _more(hold.largest, bounds.draw.largest if state.hoists is not Hoists.NONE else nothing),
    )


def _hoists(state: State, bounds: Bounds, nothing: Figure) -> Between | None:
    if state.hoists is Hoists.NONE:
        return None
    if state.hoists is Hoists.SLACK:
        return Between(nothing, nothing)
    largest = bounds.draw.largest
    for side in bounds.sides:  # a snug hoist carries the strand when its clamp gives way
        largest = _more(largest, side.hold.largest)
    return Between(bounds.draw.least if state.hoists is Hoists.PULLING else nothing, largest)


def _more(one: Figure, other: Figure) -> Figure:
    return one if one.value >= other.value else other


def _words(move: Move, gravity: bool, bounds: Bounds, moved: Movement) -> tuple[str, Sentence]:
    """The move as the crew says it, and what to know of the stage."""
    behind, ahead = bounds.sides
    way = moved.weight if moved.weight is not None else moved.lift
    words: dict[Move, tuple[str, Sentence]] = {
        Move.LOCK_OUT: ("Stopped and locked out", sentence("The take-up still pulls.")),
        Move.SET_CLAMPS: (
            "Restraining clamps set, chains snug",
            sentence(
                f"Chained away from the place, {behind.name} and {ahead.name}. They carry "
                "the tension that creeps onto them."
            ),
        ),
        Move.RELEASE: (
            "Counterweight lifted, hung and blocked" if gravity else "Take-up slacked",
            sentence(
                "By {way} at most. Up to {remains} may remain at the place.",
                way=way,
                remains=moved.remains,
            ),
        ),
        Move.SET_HOISTS: (
            "Pulling clamps and hoists set",
            sentence("Inside the restraining clamps, evenly on both sides."),
        ),
        Move.DRAW: (
            "Slack pulled to the place",
            sentence(
                "The clamps move towards the place, up to {travel} together: their chains "
                "hang slack. Keep out of line.",
                travel=moved.hoists,
            ),
        ),
        Move.TAKE_UP_CHAINS: (
            "Chains taken up, both sides",
            sentence("Shortened until they are tight. The hoists stay hooked on and snug."),
        ),
        Move.OPEN: ("Belt opened", sentence("Each strand hangs on its clamp.")),
        Move.PULL_IN: ("New belt drawn in", sentence("Clamps and hoists stand on the new belt.")),
        Move.BRING_TOGETHER: (
            "Ends brought together",
            sentence("Take the chains up as the ends come in."),
        ),
        Move.PIN: ("Joint made", sentence("The hoists still hold.")),
        Move.EASE_HOISTS: ("Hoists eased and off", sentence("The joint takes the load.")),
        Move.SLACK_CHAINS: (
            "Chains slack, clamps still on",
            sentence("They stay on while the take-up comes back."),
        ),
        Move.RESTORE: (
            "Counterweight let down on the belt" if gravity else "Take-up tightened",
            sentence("Slowly, under control; keep everyone off the belt."),
        ),
        Move.CLAMPS_OFF: ("Clamps off", sentence("The belt is tight again.")),
        Move.LOCKS_OFF: ("Locks off", sentence("Each lock by its owner.")),
    }
    return words[move]


def nothing_pulls(sheet: Worksheet) -> Figure:
    """The force of what hangs slack."""
    return sheet.total("at_rest.slack_belt", "hangs slack", [], Kind.FORCE)
