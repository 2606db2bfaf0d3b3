"""What one more reading of a worn place is worth, before the coming stop decides about it.

The place is renewed at the coming stop, or left until the stop after it. With the end U (the use
at which the line of wear meets its limit), stops at T1 and T2, D = c_f - c_p and g the cost per use
of renewing it at its end:

    leave it till T2     costs D (P(U <= T2) - P(U <= T1)) - g ∫ P(U > t) dt from T1 to T2
    renew it at T1       costs 0

as of a joint (`next_stop`). With flat beliefs intercept and slope of the line are Student's about
the fitted ones, so P(U <= t) is the chance that the line at t has met the limit; one further
reading y moves line, spread and freedom in closed form [1]_, and before it is taken y is Student's
about the line. The reading is worth [2]_

    min(0, leave) - mean over y of min(0, leave given y) - what it costs

References
----------
.. [1] Conjugate normal-gamma line with a flat prior; the update by one row is that of recursive
   least squares (from memory; checked against a fit of all readings anew).
.. [2] Preposterior analysis, Raiffa and Schlaifer, 1961 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from splicewright.history.arrays import Array
from splicewright.history.life.draws import LAWS, shortest_range
from splicewright.history.life.limits import Limits
from splicewright.history.planner.next_stop import PlannerCosts
from splicewright.history.wear.line import Line

_VALUES = 801  # of the next reading, between which what it leads to changes once or twice
_PARTS = 24  # of the stretch between the stops
_FAR = 9.0  # spreads; Student's tails beyond hold what the ends of the grid stand for


@dataclass(frozen=True, slots=True)
class WornPlace:
    """A place whose wear goes on as a line.

    Attributes
    ----------
    line : fitted, with some freedom
    limit : value at which it is worn out [m]
    now : use today [measure]
    first, second : use at the coming stop and at the one after it [measure]
    life : use from new to the limit [measure]
    rises : values rise to the limit, as a depth worn; not, where they fall, as a thickness left
    """

    line: Line
    limit: float
    now: float
    first: float
    second: float
    life: float
    rises: bool

    @property
    def sign(self) -> float:
        """1 where values rise to the limit, -1 where they fall to it."""
        return 1.0 if self.rises else -1.0


@dataclass(frozen=True, slots=True)
class ReadingWorth:
    """What one reading today is worth.

    Attributes
    ----------
    leave : what leaving the place at the coming stop costs more than renewing it, by the readings
        so far; below 0 it pays to leave it
    worth : expected saving by one more reading, its cost taken off
    span : of that saving, the shortest that holds it for nine in ten of the lines that the
        readings leave open
    changes : chance that the reading turns the choice [0..1]
    """

    leave: float
    worth: float
    span: Limits
    changes: float


def worth_of_reading(place: WornPlace, costs: PlannerCosts, seed: int = 3) -> ReadingWorth:
    """What one more reading of a place is worth today.

    Parameters
    ----------
    place : worn, its next two stops ahead
    costs : of renewing it in a planned stop, of its being worn out before, and of one reading
    seed : of the lines drawn for the range; the mean is worked without draws

    Limits: the reading scatters as those so far; wear goes on as a line.
    """
    from scipy.special import ndtr, stdtr

    line, rate = place.line, costs.planned / place.life
    share = _share(line, place.now)
    wide = line.spread * math.sqrt(1 + share)
    edges = line.at(place.now) + wide * np.sinh(np.linspace(-1, 1, _VALUES + 1) * _FAR)
    values = 0.5 * (edges[1:] + edges[:-1])
    after = np.array([_leave(_with(place, y), costs.dearer, rate) for y in values])
    before = _leave(place, costs.dearer, rate)
    reached = stdtr(line.freedom, (edges - line.at(place.now)) / wide)
    reached[0], reached[-1] = 0.0, 1.0
    chance = np.diff(reached)
    # By each line that may be true: how often the reading leads to leaving, and what that costs.
    start, slope, spread = _lines(line, seed)
    scaled = (edges - (start + slope * place.now)[:, None]) / spread[:, None]
    left = np.diff(ndtr(scaled), axis=1) @ (after < 0)
    true = _true_leave(place, start, slope, costs.dearer, rate)
    by_line = true * ((before < 0) - left) - costs.look
    return ReadingWorth(
        before,
        min(0.0, before) - float(chance @ np.minimum(after, 0.0)) - costs.look,
        shortest_range(by_line),
        float(chance @ ((after < 0) != (before < 0))),
    )


def _share(line: Line, use: float) -> float:
    """Variance of the line at a use, over that of a reading."""
    (a, b), (_, c) = line.unit_covariance
    return a + 2 * b * use + c * use**2


def _with(place: WornPlace, value: float) -> WornPlace:
    """The place after one more reading today."""
    line, use = place.line, place.now
    (a, b), (_, c) = line.unit_covariance
    turn = 1 + _share(line, use)
    pull = a + b * use, b + c * use
    off = value - line.at(use)
    freedom = line.freedom + 1
    square = line.freedom * line.spread**2 + off**2 / turn
    return replace(
        place,
        line=Line(
            line.intercept + pull[0] * off / turn,
            line.slope + pull[1] * off / turn,
            math.sqrt(square / freedom),
            freedom,
            (
                (a - pull[0] ** 2 / turn, b - pull[0] * pull[1] / turn),
                (b - pull[0] * pull[1] / turn, c - pull[1] ** 2 / turn),
            ),
        ),
    )


def chance_worn(place: WornPlace, uses: Array) -> Array:
    """Chance that the place is worn out by each use, (uses,) [0..1]."""
    from scipy.special import stdtr

    line = place.line
    wide = np.array([line.spread * math.sqrt(max(_share(line, u), 1e-300)) for u in uses])
    past = place.sign * (line.intercept + line.slope * uses - place.limit)
    return np.asarray(stdtr(line.freedom, past / wide))


def _leave(place: WornPlace, dearer: float, rate: float) -> float:
    """What leaving it at the coming stop costs more than renewing it."""
    uses = np.linspace(place.first, place.second, _PARTS + 1)
    good = 1 - chance_worn(place, uses)
    step = (place.second - place.first) / _PARTS
    run = (good[0] + 4 * good[1:-1:2].sum() + 2 * good[2:-1:2].sum() + good[-1]) * step / 3
    return float(dearer * (good[0] - good[-1]) - rate * run)


def _lines(line: Line, seed: int, number: int = LAWS) -> tuple[Array, Array, Array]:
    """Lines that the readings leave open: intercepts, slopes and spreads, (lines,) each."""
    rng = np.random.default_rng(seed)
    spread = line.spread * np.sqrt(line.freedom / rng.chisquare(line.freedom, number))
    # Eigenvalues, not a Cholesky root: a line from a known start has a covariance of rank one.
    size, turn = np.linalg.eigh(np.array(line.unit_covariance))
    root = turn * np.sqrt(np.maximum(size, 0.0))
    off = spread[:, None] * (rng.standard_normal((number, 2)) @ root.T)
    return line.intercept + off[:, 0], line.slope + off[:, 1], spread


def _true_leave(place: WornPlace, start: Array, slope: Array, dearer: float, rate: float) -> Array:
    """What leaving it costs by lines known for sure, (lines,)."""
    toward = place.sign * slope > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        end = np.where(toward, (place.limit - start) / slope, math.inf)
    fails = (end > place.first) & (end <= place.second)
    run = np.clip(end, place.first, place.second) - place.first
    return np.asarray(dearer * fails - rate * run)
