"""Renew a joint at the coming stop or at the one after it, and what an inspection now is worth.

All costs are told against running on to failure being paid when it comes: D = c_f - c_p is what a
failure costs more than a planned renewal, g the least cost per use in the long run (renewal by
age). With today at use 0 of the time ahead, the coming stop at T1 and the one after it at T2:

    leave it till T2     costs D (P(U <= T2) - P(U <= T1)) - g ∫ P(U > t) dt from T1 to T2
    renew it at T1       costs 0

the one-step rule of stopping: go on while the next stretch costs less than the long run [1]_.

An inspection today sees damage that stands longer than the joint still lasts, H > U, H the time
from the first sign to the failure (exponential, mean h), with the chance r. V(t) = r ∫ f(u)
exp(-u/h) du from t on is the chance that damage is seen and the joint would last beyond t. Then a
joint seen damaged is renewed at once and forgoes its further run, the others are decided at T1:

    without   D P(U <= T1) + min(0, leave)
    with      c_l + D (P(U <= T1) - (V(0) - V(T1))) + g ∫ V from 0 to T1
              + min(0, leave - D (V(T1) - V(T2)) + g ∫ V from T1 to T2)

and the inspection is worth the difference [2]_.

References
----------
.. [1] Derman and Sacks, one-step look-ahead for stopping, 1960 (from memory); the same rule as
   renewal by age, h(T) (c_f - c_p) = g, of Barlow and Proschan.
.. [2] Preposterior analysis, Raiffa and Schlaifer, 1961 (from memory); the terms are derived here
   and checked by simulation of single joints.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.draws import Draws, range_of
from splicewright.history.life.few_failures import laws_of
from splicewright.history.life.limits import Limits
from splicewright.history.life.weibull import Weibull
from splicewright.history.renewal import renew_at_age
from splicewright.quantities.going_on import go_on

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SHAPES = 40
_PARTS, _BEYOND = 12, 24
_FAR = 12.0  # warning times beyond which no damage is visible today
_NEVER = 1e200


@dataclass(frozen=True, slots=True)
class PlannerCosts:
    """Costs, in one currency.

    planned : renewing a joint in a planned stop; failure : a joint that fails; look : one
    inspection of a joint
    """

    planned: float
    failure: float
    look: float = 0.0

    def __post_init__(self) -> None:
        """Refuse costs that are none."""
        for name in ("planned", "failure", "look"):
            value = getattr(self, name)
            if not (math.isfinite(value) and (value > 0 or (name == "look" and value == 0))):
                wording = f"{value:g} must be a finite number above zero"
                raise InputError(Fault(f"cost of a {name}", wording))

    @property
    def dearer(self) -> float:
        """What a failure costs more than a planned renewal."""
        return self.failure - self.planned

    def if_failure(self, times: float) -> PlannerCosts:
        """The same where a failure costs so many times as much."""
        return PlannerCosts(self.planned, self.failure * times, self.look)


@dataclass(frozen=True, slots=True)
class WarningTime:
    """How long damage can be seen before the joint fails.

    mean, low, high : mean, and where it lies nine times in ten [measure]; all alike where stated
    found : chance that an inspection sees what is there [0..1]
    """

    mean: float
    low: float
    high: float
    found: float = 1.0

    def draws(self, number: int, seed: int = 2) -> Array:
        """Means, one for each law drawn: lognormal between the limits, (number,)."""
        from scipy.special import ndtri

        if not (0 < self.low < self.high < math.inf):
            return np.full(number, self.mean)
        rng = np.random.default_rng(seed)
        steps = ndtri((rng.permutation(number) + 0.5) / number)
        low, high = (math.log(v / self.mean) / 1.6449 for v in (self.low, self.high))
        return np.asarray(self.mean * np.exp(np.where(steps < 0, -low, high) * steps))


@dataclass(frozen=True, slots=True)
class RenewalAge:
    """Age at which renewing costs least, of one group.

    age : over all laws that the records leave open; inf where running to failure costs no more
    span : of it, nine times in ten; `high` is inf where it has no end
    """

    age: float
    span: Limits


@lru_cache(maxsize=16)
def _by_shape(costs: PlannerCosts, least: float, most: float) -> tuple[Array, Array, Array]:
    """Logarithms of some shapes, and of age and cost of the cheapest rule at scale 1: both hang on
    the shape alone."""
    shapes = np.geomspace(least, most, _SHAPES)
    rules = [
        renew_at_age(Weibull(float(b), 1.0), costs.planned, costs.failure, near=False)
        for b in shapes
    ]
    ages = [math.log(min(r.age, _NEVER)) for r in rules]
    return np.log(shapes), np.array(ages), np.log([r.cost for r in rules])


def _between(laws: Draws, costs: PlannerCosts, which: int) -> Array:
    """Age (1) or cost (2) at scale 1 of each draw, (draws,)."""
    ends = max(0.3, float(laws.shape.min())), max(0.31, float(laws.shape.max()))
    grid = _by_shape(costs, *ends)
    return np.asarray(np.exp(np.interp(np.log(laws.shape), grid[0], grid[which])))


def long_run_rates(laws: Draws, costs: PlannerCosts) -> Array:
    """g, the least cost per use in the long run, of each group by each law, (draws, groups)."""
    scale = laws.unit * laws.rate ** (-1 / laws.shape[:, None])
    return np.asarray(_between(laws, costs, 2)[:, None] / scale)


def renewal_age(laws: Draws, group: int, costs: PlannerCosts) -> RenewalAge:
    """The cheapest age of one group, over all laws drawn for it.

    Parameters
    ----------
    laws : of all groups
    group : position of the group
    costs : in one currency
    """
    go_on()
    span = range_of(_between(laws, costs, 1) * laws.scale(group))
    known = laws_of(laws, group).mixture()
    best = renew_at_age(known, costs.planned, costs.failure, near=False).age
    low, high = (end if end < 1e30 else math.inf for end in (span.low, span.high))
    return RenewalAge(best, Limits(low, high, span.confidence))


@dataclass(frozen=True)
class StopChoice:
    """What each joint costs more when it is left at the coming stop, (joints,); negative: less.

    leave : mean over the laws; by_law : by each, (draws, joints)
    """

    leave: Array
    by_law: Array

    def span(self, joint: int) -> Limits:
        """Range of one joint's cost of being left, nine times in ten."""
        return range_of(self.by_law[:, joint])


def leave_or_renew(good: Array, first: Array, second: Array, rate: Array, dearer: float) -> Array:
    """Cost of leaving joints at the coming stop until the one after it, by each law.

    Parameters
    ----------
    good : P(U > t) at times over the stretch between the stops, evenly apart, (draws, joints, odd)
    first, second : use ahead until either stop, (joints,) [measure]
    rate : g of each joint by each law, (draws, joints)
    dearer : D

    Returns
    -------
    array (draws, joints)
    """
    run = _simpson(good, (second - first) / (good.shape[2] - 1))
    return np.asarray(dearer * (good[:, :, 0] - good[:, :, -1]) - rate * run)


def between_stops(
    laws: Draws, group: NDArray[np.intp], ages: Array, first: Array, second: Array
) -> tuple[Array, Array]:
    """Chance of failing between the stops, and the use run there on average, by each law.

    Parameters
    ----------
    laws, group : laws, and the position of each joint's group, (joints,)
    ages : use of each joint now, (joints,) [measure]
    first, second : use ahead until the coming stop and the one after it, (joints,) [measure]

    Returns
    -------
    arrays (draws, joints) each; what costs do not change
    """
    run = np.zeros((laws.number, ages.size))
    ends = []
    # One step after the other: all at once, ten thousand joints would fill the memory.
    for k, s in enumerate(np.linspace(0.0, 1.0, _PARTS + 1)):
        go_on()
        good = 1 - laws.chance_of_failing(group, ages, first + s * (second - first))
        if k in {0, _PARTS}:
            ends.append(good)
        run += good * (1.0 if k in {0, _PARTS} else 4.0 if k % 2 else 2.0)
    return ends[0] - ends[1], run * (second - first) / (3 * _PARTS)


def choose_at_stop(between: tuple[Array, Array], rates: Array, dearer: float) -> StopChoice:
    """Weigh every joint at the coming stop.

    Parameters
    ----------
    between : as `between_stops` gives it
    rates : least cost per use of each joint by each law, (draws, joints)
    dearer : D
    """
    fails, run = between
    by_law = dearer * fails - rates * run
    return StopChoice(by_law.mean(axis=0), by_law)


@dataclass(frozen=True)
class LookWorth:
    """What one inspection of each joint today is worth, (joints,).

    worth : expected saving, its cost taken off; by_law : the same by each law, (draws, joints)
    seen : chance that it finds damage
    saved : chance that it turns a failure before the stop after the coming one into a renewal
    """

    worth: Array
    by_law: Array
    seen: Array
    saved: Array

    def span(self, joint: int) -> Limits:
        """Range of one joint's worth, nine times in ten."""
        return range_of(self.by_law[:, joint])


def worth_of_look(
    laws: Draws,
    group: NDArray[np.intp],
    ages: Array,
    first: Array,
    second: Array,
    rates: Array,
    costs: PlannerCosts,
    warning: WarningTime,
) -> LookWorth:
    """What one inspection of each joint today saves.

    Decisions at the coming stop are those that cost least over all laws, as a planner makes them;
    each law then says what they cost.

    Parameters
    ----------
    laws, group, ages, first, second : as in `between_stops`
    rates : least cost per use of each group by each law, (draws, groups)
    costs : in one currency
    warning : how long damage can be seen
    """
    h = warning.draws(laws.number)[:, None]
    far = np.maximum(_FAR * float(h.max()), 1e-9)
    ends = [s * first for s in np.linspace(0, 1, _PARTS + 1)]
    ends += [first + s * (second - first) for s in np.linspace(0, 1, _PARTS + 1)[1:]]
    ends += [second + far * (s * s) for s in np.linspace(0, 1, _BEYOND + 1)[1:]]
    fails = [laws.chance_of_failing(group, ages, end) for end in ends]
    beyond = np.zeros_like(fails[0])
    seen = [beyond]
    for k in range(len(ends) - 1, 0, -1):
        beyond = beyond + (fails[k] - fails[k - 1]) * _mean_sight(ends[k - 1], ends[k], h)
        seen.append(beyond)
    v = warning.found * np.stack(seen[::-1], axis=2)
    good = 1 - np.stack(fails, axis=2)
    one, two, rate = _PARTS, 2 * _PARTS, rates[:, group]
    dearer = costs.dearer
    leave = leave_or_renew(good[:, :, one : two + 1], first, second, rate, dearer)
    early = _simpson(v[:, :, : one + 1], first / _PARTS)
    later = _simpson(v[:, :, one : two + 1], (second - first) / _PARTS)
    left = leave - dearer * (v[:, :, one] - v[:, :, two]) + rate * later
    without = np.where(leave.mean(axis=0) < 0, leave, 0.0)
    after = np.where(left.mean(axis=0) < 0, left, 0.0)
    spared = dearer * (v[:, :, 0] - v[:, :, one]) - rate * early
    by_law = spared + without - after - costs.look
    return LookWorth(
        by_law.mean(axis=0),
        by_law,
        v[:, :, 0].mean(axis=0),
        (v[:, :, 0] - v[:, :, two]).mean(axis=0),
    )


def _mean_sight(start: Array, end: Array, mean: Array) -> Array:
    """Mean of exp(-u/h) over a stretch, (draws, joints)."""
    wide = np.maximum((end - start) / mean, 1e-12)
    return np.asarray(np.exp(-start / mean) * -np.expm1(-wide) / wide)


def _simpson(values: Array, step: Array) -> Array:
    """Integral along the last axis, an odd number of values `step` (joints,) apart."""
    odd, even = values[:, :, 1:-1:2].sum(axis=2), values[:, :, 2:-1:2].sum(axis=2)
    return np.asarray((values[:, :, 0] + 4 * odd + 2 * even + values[:, :, -1]) * step / 3)
