"""The belt at rest as plain SI numbers under fixed keys: what programs read.

`splicewright at-rest --json` prints it and plan.json holds the same object, so that the two can
never differ.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from splicewright.quantities import Figure
    from splicewright.tension.at_rest.lets_go import LetsGo
    from splicewright.tension.at_rest.stages import Stage


@dataclass(frozen=True, slots=True)
class Range:
    """Least and largest of a force [N]."""

    least: float
    largest: float


@dataclass(frozen=True, slots=True)
class StageForces:
    """One stage: the move that led to it, and the forces of what is there, by key [N].

    Keys: belt (at the place of work), clamp_behind, clamp_ahead (seen with the travel), hoists
    (all together).
    """

    move: str
    forces: dict[str, Range]


@dataclass(frozen=True, slots=True)
class Failure:
    """One thing lets go: what others carry at their peak [N], way of the belt end [m], energy set
    free [J], speed of the end [m/s]."""

    others: dict[str, float]
    travel: float
    energy: float
    speed: float


@dataclass(frozen=True, slots=True)
class Summary:
    """Stages in their order; ratings [N]; single failures by what lets go; movements [m].

    ratings: clamps (each restraining clamp), hoists (each), tackle (of the counterweight).
    lets_go: drive, take_up_tackle, clamp_behind, clamp_ahead, hoist.
    movements: slack, sag, shrinks, stretches, hoists, take_up, lift, weight, there.
    """

    stages: tuple[StageForces, ...]
    ratings: dict[str, float]
    lets_go: dict[str, Failure]
    movements: dict[str, float]


def summary(
    stages: Sequence[Stage],
    ratings: Mapping[str, Figure | None],
    failures: Sequence[LetsGo],
    moved: Mapping[str, Figure | None],
) -> Summary:
    """Put the figures of a stopped belt under their keys; what is not there is left out."""
    return Summary(
        tuple(
            StageForces(
                s.move.value, {f.key: Range(f.least.value, f.largest.value) for f in s.forces}
            )
            for s in stages
        ),
        {key: f.value for key, f in ratings.items() if f is not None},
        {
            row.key: Failure(
                {o.key: o.force.value for o in row.others},
                row.travel.value,
                row.energy.value,
                row.speed.value,
            )
            for row in failures
        },
        {key: f.value for key, f in moved.items() if f is not None},
    )
