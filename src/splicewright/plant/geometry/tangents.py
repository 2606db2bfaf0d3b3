"""The loop from where its pulleys stand: tangent lines, wrap angles, exact belt length.

The belt is a taut line at the middle of its thickness, so each pulley counts with half the sum
of its diameter and the belt thickness. Seen with x to the right and z up, a belt that turns
left on a pulley has the pulley on its left hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import IntEnum
from typing import TYPE_CHECKING

import numpy as np

from splicewright.plant.conveyor import Cover
from splicewright.quantities import Kind, Number, formula

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_FULL = 2 * math.pi
_SLACK = 1e-9


class Turn(IntEnum):
    """Which way the belt turns on a pulley, seen with x to the right and z up."""

    LEFT = 1
    RIGHT = -1


@dataclass(frozen=True, slots=True)
class Placed:
    """A pulley where it stands: centre and diameter over the lagging [m], cover that touches."""

    name: str
    x: float
    z: float
    diameter: float
    touches: Cover = Cover.PULLEY


@dataclass(frozen=True, slots=True)
class Arc:
    """Belt on one pulley: wrap [rad], length [m], and where (x, z) it meets and leaves [m]."""

    pulley: str
    touches: Cover
    turn: Turn
    wrap: float
    length: float
    entry: tuple[float, float]
    exit: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Span:
    """Straight belt between two pulleys: length [m], slope in travel direction [rad], ends [m]."""

    after: str
    before: str
    length: float
    slope: float
    start: tuple[float, float]
    end: tuple[float, float]

    @property
    def rise(self) -> float:
        """Height gained in the direction of travel [m]."""
        return self.end[1] - self.start[1]


@dataclass(frozen=True, slots=True)
class TautLoop:
    """The closed belt round its pulleys; `arcs[i]` is followed by `spans[i]`.

    length: of the belt, at the middle of its thickness [m]; turn: which way the whole loop
    goes round; closing_error: distance by which headings, spans and arcs alone miss closing [m].
    """

    arcs: tuple[Arc, ...]
    spans: tuple[Span, ...]
    length: float
    turn: Turn
    closing_error: float

    def arc(self, pulley: str) -> Arc:
        """The belt on the pulley of that name; KeyError when there is none."""
        for arc in self.arcs:
            if arc.pulley == pulley:
                return arc
        raise KeyError(pulley)


@dataclass(frozen=True, slots=True)
class Winding:
    """Tangent lines and wraps, last axis by pulley; NaN where no tangent exists.

    heading: direction of the span that leaves each pulley, from x towards z [rad]; span: its
    length [m]; wrap: angle on each pulley, 0 to 2 pi [rad]; length: whole belt [m].
    """

    heading: NDArray[np.float64]
    span: NDArray[np.float64]
    wrap: NDArray[np.float64]
    length: NDArray[np.float64]


@formula(
    "l = √(d² - k²),  k = s_j r_j - s_i r_i",
    gives=("l", Kind.DISTANCE),
    symbols={
        "distance": "d",
        "radius": "r_i",
        "next_radius": "r_j",
        "turn": "s_i",
        "next_turn": "s_j",
    },
    source="taut-loop",
    limits="s is 1 for a left and -1 for a right turn; NaN where no common tangent exists",
)
def span_length(
    distance: Number, radius: Number, next_radius: Number, turn: Number, next_turn: Number
) -> Number:
    """Straight belt between two pulleys.

    Parameters
    ----------
    distance : of the centres [m]
    radius, next_radius : to the middle of the belt [m]
    turn, next_turn : 1 where the belt turns left, -1 where it turns right [-]

    Returns
    -------
    float or array [m]
    """
    offset = next_turn * next_radius - turn * radius
    squared = np.asarray(distance**2 - offset**2, dtype=np.float64)
    length: Number = np.sqrt(np.where(squared >= 0, squared, np.nan))[()]
    return length


def wind(x: ArrayLike, z: ArrayLike, radius: ArrayLike, turn: ArrayLike) -> Winding:
    """Wind a taut belt round pulleys in the order of travel; nothing is refused here.

    Parameters
    ----------
    x, z : centres, last axis by pulley [m], shape (..., pulleys)
    radius : to the middle of the belt [m]
    turn : 1 where the belt turns left, -1 where it turns right [-]
    """
    xs, zs, radii, turns = np.broadcast_arrays(
        *(np.asarray(a, dtype=np.float64) for a in (x, z, radius, turn))
    )
    dx, dz = (np.roll(a, -1, axis=-1) - a for a in (xs, zs))
    next_radius, next_turn = (np.roll(a, -1, axis=-1) for a in (radii, turns))
    span = np.asarray(span_length(np.hypot(dx, dz), radii, next_radius, turns, next_turn))
    offset = next_turn * next_radius - turns * radii
    heading = np.arctan2(dz, dx) - np.arctan2(offset, span)
    wrap = np.mod(turns * (heading - np.roll(heading, 1, axis=-1)), _FULL)
    # A belt that just touches has wrap 0; rounding must not make a full turn of it.
    wrap = np.where(_FULL - wrap < _SLACK, 0.0, wrap)
    return Winding(heading, span, wrap, np.sum(span + radii * wrap, axis=-1))


@formula(
    "Φ = Σ s φ",
    gives=("Φ", Kind.ANGLE),
    symbols={"wraps": "φ", "turns": "s"},
    source="taut-loop",
    limits="360° less the curves in the runs, for a loop whose wrap angles close",
)
def turned_through(wraps: ArrayLike, turns: ArrayLike) -> Number:
    """What the wrap angles of a loop add up to, with their signs.

    Parameters
    ----------
    wraps : last axis by pulley [rad], shape (..., pulleys)
    turns : 1 where the pulley cover touches, -1 where the carry cover does [-]

    Returns
    -------
    float or array; 2 pi when the loop closes on straight, parallel or fanned runs [rad]
    """
    total: Number = np.sum(np.asarray(wraps) * np.asarray(turns), axis=-1)[()]
    return total


def closing_error(winding: Winding, radius: ArrayLike, turn: ArrayLike) -> NDArray[np.float64]:
    """How far headings, spans and arcs, walked one after another, miss the start.

    Returns
    -------
    array [m], shape (...)
    """
    radii, turns = np.asarray(radius, dtype=np.float64), np.asarray(turn, dtype=np.float64)
    leaving = winding.heading
    entering = leaving - turns * winding.wrap
    # Along an arc the walk is the integral of the unit heading over r dφ.
    step_x = winding.span * np.cos(leaving) + radii * turns * (np.sin(leaving) - np.sin(entering))
    step_z = winding.span * np.sin(leaving) - radii * turns * (np.cos(leaving) - np.cos(entering))
    return np.asarray(np.hypot(step_x.sum(axis=-1), step_z.sum(axis=-1)), dtype=np.float64)
