"""A new belt drawn into the machine: the pull at the winch and the brake on the roll.

While it goes in, the weight of the new belt is not balanced by belt that comes down elsewhere: the
pull is worked for every length drawn in, and the largest decides. On a decline the new belt runs
by itself, and the brake on the roll has to hold it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from splicewright.plant import Conveyor, Run, Work
from splicewright.plant import assumptions as assume
from splicewright.plant.filling.origin import assuming
from splicewright.quantities import Figure, Kind, Sentence, Worksheet, formula, sentence
from splicewright.tension.resistance.main import GRAVITY

OLD_BELT, ROPE = "the old belt", "a rope"


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the way in the order drawn: length and climb [m], rotating mass of its idlers
    per length [kg/m]; turns: tension is multiplied there by this ratio before it [-]."""

    length: float
    climb: float
    rolls: float
    turns: float


@dataclass(frozen=True, slots=True)
class PullingIn:
    """What drawing the new belt in asks for, each the way round that asks least.

    way : with or against the travel, drawn by the old belt; pull, by_rope : at the winch, the
    largest of all positions, by the old belt and by a rope [N]; brake : on the roll, so that the
    new belt never runs [N]; joint : most that what joins it to old belt or rope carries [N];
    rating : of winch, rope and joint, with the factor on clamps [N]
    """

    way: str
    pull: Figure
    by_rope: Figure
    brake: Figure
    joint: Figure
    rating: Figure
    says: tuple[Sentence, ...]


def way_round(conveyor: Conveyor, work: Work, *, with_travel: bool, turns: float) -> list[Piece]:
    """The loop from the place of work all round, one way or the other."""
    loop = conveyor.loop
    at = next(n for n, e in enumerate(loop) if e.name == work.run)
    run = loop[at]
    assert isinstance(run, Run)
    share = work.distance.value / run.length.value
    pieces: list[Piece] = [_piece(run, 1 - share)]
    pieces += [
        _piece(e, 1.0) if isinstance(e, Run) else Piece(0.0, 0.0, 0.0, turns)
        for e in (*loop[at + 1 :], *loop[:at])
    ]
    pieces.append(_piece(run, share))
    if with_travel:
        return pieces
    return [Piece(p.length, -p.climb, p.rolls, p.turns) for p in reversed(pieces)]


def _piece(run: Run, share: float) -> Piece:
    rolls = max(run.idlers.line_mass.value, run.idlers.line_mass.high)
    return Piece(share * run.length.value, share * run.rise.value, rolls, 1.0)


def along(
    pieces: Sequence[Piece], new: float, old: float, drawn: float, brake: float, friction: float
) -> tuple[list[float], float]:
    """Tension after each piece, and at the front of the new belt.

    Parameters
    ----------
    pieces : the way in the order drawn
    new, old : masses per length of the new belt and of what draws it [kg/m]
    drawn : new belt in the machine [m]
    brake : tension at the roll [N]
    friction : of idlers [-]

    Returns
    -------
    Tensions after each piece, and where the new belt ends [N].
    """
    tension, gone, front = brake, 0.0, brake
    tensions = []
    for piece in pieces:
        tension *= piece.turns
        inside = min(max(drawn - gone, 0.0), piece.length)
        share = inside / piece.length if piece.length > 0 else 1.0
        tension += share * _rise(piece, new, friction)
        if gone <= drawn:
            front = tension
        tension += (1 - share) * _rise(piece, old, friction)
        gone += piece.length
        tensions.append(tension)
    return tensions, front


def _rise(piece: Piece, mass: float, friction: float) -> float:
    """By what the tension grows over a whole piece [N]."""
    return GRAVITY * (mass * piece.climb + friction * (mass + piece.rolls) * piece.length)


def positions(pieces: Sequence[Piece]) -> list[float]:
    """Lengths drawn in at which pull and brake can be largest: the ends of the pieces [m]."""
    lengths, gone = [0.0], 0.0
    for piece in pieces:
        gone += piece.length
        lengths.append(gone)
    return sorted(set(lengths))


def brake_needed(pieces: Sequence[Piece], new: float, friction: float) -> float:
    """Least tension at the roll with which no part of the new belt runs by itself [N].

    Slack in front of it: what draws it cannot hold it back, and pulleys turn without drag.
    """
    lowest, tension = 0.0, 0.0
    for piece in pieces:
        tension += _rise(piece, new, friction)
        lowest = min(lowest, tension)
    return -lowest


def largest_pull(
    pieces: Sequence[Piece], new: float, old: float, brake: float, friction: float
) -> tuple[float, float]:
    """Largest tension at the winch and at the front of the new belt, over all positions [N]."""
    pull = front = brake
    for drawn in positions(pieces):
        tensions, end = along(pieces, new, old, drawn, brake, friction)
        pull = max(pull, *tensions)
        front = max(front, end)
    return pull, front


@formula(
    "F = k P",
    gives=("F", Kind.FORCE),
    symbols={"factor": "k", "pull": "P"},
    source="assumption",
)
def pulling_rating(factor: float, pull: float) -> float:
    """Rating of winch, rope and temporary joint [N] from a factor [-] and the largest pull [N]."""
    return factor * pull


def pulling_in(conveyor: Conveyor, work: Work, sheet: Worksheet) -> PullingIn:
    """Work the pull for the roll at the place, with and against the travel, old belt or rope."""
    belt = conveyor.belt.line_mass
    new = max(belt.value, belt.high)
    hard = assuming(
        "pulling_in.friction",
        "friction of idlers, belt drawn by hand or winch",
        assume.STANDING_FRICTION,
    )
    runs = 0.010
    turns = assume.NO_LOSS.high
    ways = []
    for with_travel in (True, False):
        pieces = way_round(conveyor, work, with_travel=with_travel, turns=turns)
        held = brake_needed(pieces, new, runs)
        way = "with the travel" if with_travel else "against the travel"
        for by, old in ((OLD_BELT, new), (ROPE, 0.0)):
            winch, end = largest_pull(pieces, new, old, held, hard.high)
            ways.append((winch, way, by, held, end))
    best, roped = (
        min((f for f in ways if f[2] == by), key=lambda f: f[0]) for by in (OLD_BELT, ROPE)
    )
    worst = max(best[0], roped[0])
    parts: list[Figure] = [sheet.note(hard), belt, work.distance]
    text = (
        "statics of the way round, every length drawn in tried; friction at its high end, "
        "drag of each pulley 1.04"
    )

    def figure(key: str, label: str, value: float, basis: str = text) -> Figure:
        return sheet.found(f"pulling_in.{key}", label, value, Kind.FORCE, basis, parts, "statics")

    pull = figure("pull", "largest pull at the winch, drawn by the old belt", best[0])
    by_rope = figure("pull_rope", "largest pull at the winch, drawn by a rope", roped[0])
    brake = figure(
        "brake",
        "brake on the roll of new belt",
        max(best[3], roped[3]),
        "new belt on its own slopes, idlers at their least friction 0.010",
    )
    front = figure(
        "joint", "largest pull on what joins new belt to old belt or rope", max(best[4], roped[4])
    )
    rating = sheet.work(
        "pulling_in.rating",
        "rating of winch, rope and temporary joint",
        pulling_rating,
        factor=work.clamp_factor,
        pull=pull if best[0] == worst else by_rope,
    )
    return PullingIn(
        best[1],
        pull,
        by_rope,
        brake,
        front,
        rating,
        (
            sentence(
                f"Drawn by the old belt, easiest {best[1]}: up to {{pull}} at the winch. "
                f"By a rope into the empty machine, easiest {roped[1]}: {{rope}}.",
                pull=pull,
                rope=by_rope,
            ),
            sentence(
                "Winch, rope and temporary joint rated {rating} or more; what joins new belt "
                "to old belt or rope carries up to {front}.",
                rating=rating,
                front=front,
            ),
            sentence(
                "Brake on the roll set to {brake} or more, so that the new belt never runs "
                "by itself; a clamp ready at the top of every slope besides.",
                brake=brake,
            )
            if brake.value > 0
            else sentence(
                "The new belt does not run by itself on this way; the brake on the roll keeps "
                "it from running on."
            ),
        ),
    )
