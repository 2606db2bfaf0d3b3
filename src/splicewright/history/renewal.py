"""Renew a joint at an age, at every planned stop, or run it to failure: the cost of each.

References
----------
.. [1] Barlow and Proschan, Mathematical Theory of Reliability, 1965: age and block replacement
   (from memory; one published worked value seen, the rest by closed forms).
.. [2] Xie, midpoint recursion for the renewal function, 1989 (from memory; exact for chance
   failures, where M(t) = t/mean).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.few_failures import WeighedLaws
from splicewright.history.life.limits import Limits
from splicewright.history.life.mixture import Mixture
from splicewright.history.life.weibull import Weibull
from splicewright.quantities import Kind, formula, percent

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


_SHAPES = 60
_NEVER = 1e200  # an age that stands for running to failure


def mean_run(law: Weibull, age: ArrayLike) -> Array:
    """Mean age reached when taken out at `age` at the latest: ∫₀ᵀ S(t) dt.

    mean x P(1/shape, H(T)), P the regularised lower incomplete gamma function; while H is
    small, its series T (1 - H/(shape + 1) + H²/(4 shape + 2)), which does not underflow.
    """
    from scipy.special import gammainc, gammaln

    end, b = np.asarray(age, dtype=np.float64), law.shape
    spent = law.hazard_sum(end)
    little = np.minimum(spent, 1e-4)
    early = end * (1 - little / (b + 1) + little**2 / (4 * b + 2))
    share = gammainc(1 / b, np.maximum(spent, 1e-300))
    with np.errstate(divide="ignore"):
        late = np.exp(math.log(law.scale) + float(gammaln(1 + 1 / b)) + np.log(share))
    return np.where(spent < 1e-4, early, late)


@formula(
    "C = (c_p S(T) + c_f (1 - S(T)))/∫S dt from 0 to T",
    gives=("C", Kind.RATIO),
    symbols={"mixture": "S", "planned": "c_p", "unplanned": "c_f", "age": "T"},
    source="age-renewal",
    limits="renewed joints are as good as new; over several laws the weighted mean",
)
def age_cost(mixture: Mixture, planned: float, unplanned: float, age: ArrayLike) -> Array:
    """Cost per unit of use when renewed at `age` or on failure, whichever is first [1]_.

    C(T) = (planned S(T) + unplanned F(T)) / ∫₀ᵀ S; over several laws, the weighted mean of
    C(T) of each.

    Parameters
    ----------
    mixture : law or laws of life
    planned, unplanned : cost of a renewal in a planned stop, and of a failure
    age : T, above zero

    Returns
    -------
    cost per unit of use, shape of `age`
    """
    _check_costs(planned, unplanned)
    pairs = zip(mixture.laws, mixture.weights, strict=True)
    total: Array = np.sum(
        [
            w * (planned * law.good(age) + unplanned * law.failed(age)) / mean_run(law, age)
            for law, w in pairs
        ],
        axis=0,
    )
    return total


@dataclass(frozen=True, slots=True)
class AgeRule:
    """When to renew by age, and what that is worth.

    Attributes
    ----------
    age : cheapest age to renew at; inf when running to failure is as cheap [measure]
    cost : cost per unit of use at that age
    run_to_failure : cost per unit of use when never renewed in time
    low, high : ages within 5 % of the least cost; `high` is inf when never renewing is, too
    sentence : the advice in words
    """

    age: float
    cost: float
    run_to_failure: float
    low: float
    high: float
    sentence: str

    @property
    def saving(self) -> float:
        """Share of the run-to-failure cost that renewing in time saves [0..1]."""
        return 1 - self.cost / self.run_to_failure


def renew_at_age(
    life: Weibull | Mixture, planned: float, unplanned: float, *, near: bool = True
) -> AgeRule:
    """Find the cheapest age of renewal.

    For one law the best age solves h(T) ∫₀ᵀ S - F(T) = planned/(unplanned - planned) and costs
    (unplanned - planned) h(T) [1]_; for several the weighted cost is searched, so that doubt
    about the law is in the answer.

    Limits: renewed joints are as good as new; only wear-out (shape above 1) can gain.
    Without `near` the ages that cost nearly as little are not sought; they are then nan.

    Raises
    ------
    InputError
        Costs that are not above zero.
    """
    _check_costs(planned, unplanned)
    mixture = life if isinstance(life, Mixture) else Mixture((life,), (1.0,))
    pairs = tuple(zip(mixture.laws, mixture.weights, strict=True))
    never = math.fsum(w * unplanned / law.mean for law, w in pairs)
    age = _best_age(mixture, planned, unplanned, never)
    if math.isinf(age):
        sentence = (
            "renewing in time saves nothing: run to failure, and inspect"
            if unplanned > planned
            else "a failure costs no more than a planned renewal: run to failure"
        )
        low = high = math.nan
        if near:
            low, high = _within(mixture, planned, unplanned, never, math.inf)
        return AgeRule(math.inf, never, never, low, high, sentence)
    cost = float(age_cost(mixture, planned, unplanned, age))
    low = high = math.nan
    if near:
        low, high = _within(mixture, planned, unplanned, cost, age)
    if 1.05 * cost >= never:
        high = math.inf
    saving = 1 - cost / never
    sentence = f"renewing at this age saves {percent(saving)} of the cost of running to failure"
    if saving < 0.05:
        sentence += ", too little to plan for"
    return AgeRule(age, cost, never, low, high, sentence)


@dataclass(frozen=True, slots=True)
class AgeRules:
    """The cheapest age at the stated costs, and when a failure costs half or double.

    Attributes
    ----------
    stated, half, double : rule at 1, 1/2 and 2 times the cost of failure
    """

    stated: AgeRule
    half: AgeRule
    double: AgeRule


def renew_at_age_if_costs_differ(
    life: Weibull | Mixture, planned: float, unplanned: float
) -> AgeRules:
    """The cheapest age, and how far it moves when the cost of a failure is half or double.

    Only the ratio of the two costs moves the age, so halving one is doubling the other.
    """
    return AgeRules(
        renew_at_age(life, planned, unplanned),
        renew_at_age(life, planned, unplanned / 2),
        renew_at_age(life, planned, unplanned * 2),
    )


def renewal_limits(
    laws: WeighedLaws, planned: float, unplanned: float, advised: float, confidence: float = 0.9
) -> tuple[Limits, Limits]:
    """How far the cheapest age, and what the advice saves, may lie off for doubt about the law.

    In units of the scale the cheapest age depends on the shape alone, so it is worked for some
    shapes and read between them. Where running to failure is as cheap, it has no bound. Renewing
    at the age advised saves 1 - C(T)/C(inf), with the mean run as in `mean_run`; by a law that
    wears late it may cost more than it saves.

    Parameters
    ----------
    laws : that the lives leave open
    planned, unplanned : costs
    advised : age at which to renew; inf for never: then it is told what the cheapest age of each
        law would save [measure]
    confidence : of the limits [0..1]

    Returns
    -------
    limits of the age [measure], and of the share of the cost that is saved [up to 1]
    """
    from scipy.special import gammainc

    least, most = (float(f(laws.shape)) for f in (np.min, np.max))
    shapes = np.geomspace(max(1.001, least), max(1.01, most), _SHAPES)
    rules = [renew_at_age(Weibull(float(b), 1.0), planned, unplanned, near=False) for b in shapes]
    ages = np.array([math.log(min(r.age, _NEVER)) for r in rules])
    saved = np.array([r.saving for r in rules])

    def age(shape: Array, scale: Array) -> Array:
        wears = np.exp(np.interp(np.log(shape), np.log(shapes), ages))
        return np.where(shape >= shapes[0] * (1 - 1e-9), wears, _NEVER) * scale

    def saving(shape: Array, scale: Array) -> Array:
        if math.isinf(advised):
            return np.where(shape > 1, np.interp(np.log(shape), np.log(shapes), saved), 0.0)
        spent = np.minimum((advised / scale) ** shape, 700.0)
        cost = planned * np.exp(-spent) - unplanned * np.expm1(-spent)
        return np.asarray(1 - cost / (unplanned * np.maximum(gammainc(1 / shape, spent), 1e-300)))

    return laws.age_limits(age, confidence), laws.limits(saving, confidence)


def _best_age(mixture: Mixture, planned: float, unplanned: float, never: float) -> float:
    from scipy.optimize import brentq, minimize_scalar

    if unplanned <= planned:
        return math.inf
    if len(mixture.laws) == 1:
        law = mixture.laws[0]
        if law.shape <= 1:
            return math.inf
        aim = planned / (unplanned - planned)

        def short(age: float) -> float:
            return float(law.hazard(age) * mean_run(law, age) - law.failed(age)) - aim

        low, high = law.scale * 1e-9, law.scale
        while short(high) < 0:
            high *= 2
            if float(law.failed(high)) >= 1:  # so late that all have failed by then
                return math.inf
        return float(brentq(short, low, high, xtol=1e-12 * law.scale, rtol=1e-14))
    ages = np.geomspace(*_span(mixture), 800)
    cost = age_cost(mixture, planned, unplanned, ages)
    k = int(np.argmin(cost))
    if k in {0, ages.size - 1} or float(cost[k]) >= never * (1 - 1e-9):
        return math.inf
    result = minimize_scalar(
        lambda s: float(age_cost(mixture, planned, unplanned, math.exp(s))),
        bounds=(math.log(ages[k - 1]), math.log(ages[k + 1])),
        method="bounded",
        options={"xatol": 1e-10},
    )
    return math.exp(float(result.x))


def _span(mixture: Mixture) -> tuple[float, float]:
    """Ages between which a renewal can matter: from early failures to the last ones."""
    likely = [
        law for law, w in zip(mixture.laws, mixture.weights, strict=True) if w > 1e-3
    ] or list(mixture.laws)
    return min(law.age_at(1e-4) for law in likely), max(law.age_at(1 - 1e-9) for law in likely)


def _within(
    mixture: Mixture, planned: float, unplanned: float, cost: float, age: float
) -> tuple[float, float]:
    """Ages, around the best, that cost at most 5 % more."""
    from scipy.optimize import brentq

    level = 1.05 * cost

    def over(log_age: float) -> float:
        return float(age_cost(mixture, planned, unplanned, math.exp(log_age))) - level

    top = math.log(_span(mixture)[1])
    start = top if math.isinf(age) else math.log(age)
    low = start
    while over(low) <= 0:
        low -= 0.25
    first = math.exp(float(brentq(over, low, low + 0.25))) if low < start else math.exp(start)
    high = start
    while high < top and over(high) <= 0:
        high += 0.25
    if over(high) <= 0:
        return first, math.inf
    return first, math.exp(float(brentq(over, high - 0.25, high)))


def _check_costs(planned: float, unplanned: float) -> None:
    faults = [
        Fault(f"cost of a {name}", f"{cost:g} must be a finite number above zero")
        for name, cost in (("planned renewal", planned), ("failure", unplanned))
        if not (math.isfinite(cost) and cost > 0)
    ]
    if faults:
        raise InputError(*faults)
