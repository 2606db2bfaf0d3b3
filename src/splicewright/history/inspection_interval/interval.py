"""How often to look: between the first sign that can be seen and the failure.

Damage starts at random, lambda times per unit of use, can be seen from then on, and grows
for a delay until the joint fails; a look that finds it turns a failure into a planned repair
[1]_.

References
----------
.. [1] Delay-time model, Christer and Waller, 1984 (from memory); the shares found below follow
   in closed form and are checked by simulation.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.draws import CONFIDENCE
from splicewright.history.life.limits import Limits
from splicewright.history.life.weibull import Weibull
from splicewright.history.renewal import mean_run
from splicewright.quantities import Kind, formula, percent
from splicewright.quantities.going_on import go_on

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


@formula(
    "b = 1 - r (1 - exp(-T/m))/((T/m) (1 - (1 - r) exp(-T/m)))",
    gives=("b", Kind.SHARE),
    symbols={"mean": "m", "interval": "T", "found": "r"},
    source="delay-time",
    limits="delays exponential",
)
def missed_if_delay_is_random(mean: float, interval: ArrayLike, found: float = 1.0) -> Array:
    """Share of damages that fail before an inspection finds them, delays exponential.

    b = 1 - r (1 - e^-x)/(x (1 - (1 - r) e^-x)), x = interval/mean, r the chance that a look
    finds damage that is there.

    Parameters
    ----------
    mean : mean delay from first visible to failed [measure]
    interval : between inspections [measure]
    found : r [0..1]
    """
    _check_found(found)
    x = np.asarray(interval, dtype=np.float64) / mean
    return np.asarray(1 + found * np.expm1(-x) / (x * (1 - (1 - found) * np.exp(-x))))


@formula(
    "b = max(0, 1 - h/T)",
    gives=("b", Kind.SHARE),
    symbols={"delay": "h", "interval": "T"},
    source="delay-time",
    limits="one delay for all damages, and every inspection finds what is there",
)
def missed_if_delay_is_fixed(delay: float, interval: ArrayLike) -> Array:
    """Share of damages that fail before an inspection, all with one delay and every look sure.

    None while the interval is no longer than the delay, then 1 - delay/interval. Half the
    delay as interval is safe only under these two assumptions.
    """
    gap = np.asarray(interval, dtype=np.float64)
    return np.asarray(np.where(gap <= delay, 0.0, 1 - delay / np.maximum(gap, delay)))


@formula(
    "b = 1 - Σ r (1 - r)^j (∫S dt from j T to (j + 1) T)/T",
    gives=("b", Kind.SHARE),
    symbols={"law": "S", "interval": "T", "found": "r"},
    source="delay-time",
    limits="each inspection can miss it, by chance and on its own",
)
def missed_if_delay_is_weibull(law: Weibull, interval: ArrayLike, found: float = 1.0) -> Array:
    """Share of damages that fail before an inspection finds them, delays of any shape.

    Damage is found at the look j + 1 after it began with the chance r (1 - r)^j, if it still
    stands then; summed until one in 10^9 is left. With sure looks 1 - (∫₀ᵀ S)/T.

    Parameters
    ----------
    law : of the delay from first visible to failed
    interval : between inspections [measure]
    found : r [0..1]
    """
    _check_found(found)
    gap = np.asarray(interval, dtype=np.float64)
    last = 1 if found == 1 else min(math.ceil(math.log(1e-9) / math.log1p(-found)), 2000)
    caught, before = np.zeros(gap.shape), np.zeros(gap.shape)
    for j in range(last):
        after = mean_run(law, (j + 1) * gap)
        caught += found * (1 - found) ** j * (after - before)
        before = after
    return np.asarray(1 - caught / gap)


@dataclass(frozen=True, slots=True)
class InspectionCosts:
    """What an inspection rule weighs, in one currency or one kind of downtime.

    Attributes
    ----------
    look : one inspection
    repair : damage found and put right in a planned stop
    failure : damage that failed first
    """

    look: float
    repair: float
    failure: float

    def __post_init__(self) -> None:
        """Refuse costs that are none."""
        for name in ("look", "repair", "failure"):
            value = getattr(self, name)
            if not (math.isfinite(value) and value >= 0):
                sentence = f"{value:g} must be a finite number of zero or more"
                raise InputError(Fault(f"cost of a {name}", sentence))


@formula(
    "C = c_l/T + λ (c_r (1 - b) + c_f b)",
    gives=("C", Kind.RATIO),
    symbols={"rate": "λ", "missed": "b", "costs": "c_l", "interval": "T"},
    source="delay-time",
)
def inspection_cost(
    rate: float, missed: Callable[[Array], Array], costs: InspectionCosts, interval: ArrayLike
) -> Array:
    """Cost per unit of use: look/T + rate (repair (1 - b) + failure b).

    Parameters
    ----------
    rate : damages that begin, per unit of use
    missed : share b of them that fail before an inspection, by interval
    costs : of an inspection, a repair and a failure
    interval : T between inspections
    """
    gap = np.asarray(interval, dtype=np.float64)
    share = missed(gap)
    dearer = costs.failure - costs.repair
    return np.asarray(costs.look / gap + rate * (costs.repair + dearer * share))


@dataclass(frozen=True, slots=True)
class InspectionRule:
    """The best interval between looks.

    Attributes
    ----------
    interval : inf when looking does not pay [measure]
    value : cost or lost share there
    missed : share of damages that still fail before an inspection [0..1]
    low, high : intervals within 5 % of the least
    sentence : the advice in words
    """

    interval: float
    value: float
    missed: float
    low: float
    high: float
    sentence: str


def best_interval(
    objective: Callable[[Array], Array],
    missed: Callable[[Array], Array],
    shortest: float,
    longest: float,
) -> InspectionRule:
    """Search the interval with the least cost or downtime.

    Parameters
    ----------
    objective : cost or lost share by interval, such as `inspection_cost` with its data bound
    missed : share of damages that fail before an inspection, by interval
    shortest, longest : intervals to search between, such as one shift and ten mean delays

    Raises
    ------
    InputError
        A range that is none.
    """
    from scipy.optimize import minimize_scalar

    if not 0 < shortest < longest < math.inf:
        sentence = f"{shortest:g} to {longest:g} is no range; accepted is 0 < shortest < longest"
        raise InputError(Fault("interval", sentence))
    gaps = np.geomspace(shortest, longest, 2000)
    values = objective(gaps)
    k = int(np.argmin(values))
    near = np.flatnonzero(values <= 1.05 * values[k])
    low, high = float(gaps[near[0]]), float(gaps[near[-1]])
    if k == gaps.size - 1:
        end = float(values[-1])
        share = float(missed(gaps[-1:])[0])
        sentence = (
            "no interval pays: damage is too rare, or a failure too cheap, for the cost "
            "of an inspection"
        )
        return InspectionRule(math.inf, end, share, low, math.inf, sentence)
    if k == 0:
        best = shortest
        sentence = "inspect as often as you can: the shortest interval searched is still the best"
    else:
        result = minimize_scalar(
            lambda s: float(objective(np.array([math.exp(s)]))[0]),
            bounds=(math.log(gaps[k - 1]), math.log(gaps[k + 1])),
            method="bounded",
            options={"xatol": 1e-9},
        )
        best = math.exp(float(result.x))
        share = float(missed(np.array([best]))[0])
        sentence = (
            f"at this interval {percent(share)} of damages still fail before an inspection "
            "finds them"
        )
    at = np.array([best])
    return InspectionRule(best, float(objective(at)[0]), float(missed(at)[0]), low, high, sentence)


@dataclass(frozen=True, slots=True)
class InspectionRules:
    """The best interval at the stated costs, and when a failure costs half or double."""

    stated: InspectionRule
    half: InspectionRule
    double: InspectionRule


def inspect_by_cost(
    rate: float,
    missed: Callable[[Array], Array],
    costs: InspectionCosts,
    shortest: float,
    longest: float,
) -> InspectionRules:
    """The cheapest interval, and how far it moves when a failure costs half or double.

    Parameters
    ----------
    rate : damages that begin, per unit of use, above zero
    missed : share of them that fail before an inspection, by interval
    costs : of an inspection, a repair and a failure
    shortest, longest : intervals to search between
    """
    if not (math.isfinite(rate) and rate > 0):
        raise InputError(Fault("rate of damage", f"{rate:g} must be a finite number above zero"))

    def at(factor: float) -> InspectionRule:
        changed = InspectionCosts(costs.look, costs.repair, costs.failure * factor)
        return best_interval(
            lambda gap: inspection_cost(rate, missed, changed, gap), missed, shortest, longest
        )

    return InspectionRules(at(1.0), at(0.5), at(2.0))


def rule_ranges(
    laws: Sequence[tuple[float, float]],
    law: Weibull,
    mean: float,
    costs: InspectionCosts,
    found: float,
) -> tuple[Limits | None, Limits | None]:
    """How far the best interval and its cost may lie off, for doubt about delay and rate.

    Parameters
    ----------
    laws : mean delay and rate, drawn from what is left open; none where nothing was learnt
    law : of the delay, whose shape is kept; mean : most likely mean of random delays [measure]
    costs : of an inspection, a repair and a failure
    found : chance that an inspection finds what is there [0..1]

    Returns
    -------
    limits of the interval [measure], inf where no inspection pays, and of the cost per use
    """
    if not laws:
        return None, None
    found_at = []
    for drawn, rate in laws:
        go_on()
        own = Weibull(law.shape, law.scale * drawn / mean)
        missed = partial(missed_if_delay_is_random, own.mean, found=found)
        if law.shape != 1:
            missed = partial(missed_if_delay_is_weibull, own, found=found)
        cost = partial(inspection_cost, rate, missed, costs)
        rule = best_interval(cost, missed, own.mean / 100, 20 * max(own.mean, 1 / rate))
        found_at.append((rule.interval, rule.value))
    tail = (1 - CONFIDENCE) / 2
    low = np.quantile(np.array(found_at), tail, axis=0, method="lower")
    high = np.quantile(np.array(found_at), 1 - tail, axis=0, method="higher")
    gap, spent = (Limits(float(a), float(b), CONFIDENCE) for a, b in zip(low, high, strict=True))
    return gap, spent


def _check_found(found: float) -> None:
    if not 0 < found <= 1:
        sentence = f"{found:g} is no chance; accepted is above 0 and up to 1"
        raise InputError(Fault("chance that an inspection finds damage", sentence))
