"""How many kits, pins and belt pieces to hold, and whether the job's kit is there.

Demand while an order is under way: failures at random are Poisson whatever the law of the lead
time [1]_; joints of known age are unequal yes-or-no draws, under each law that the records leave
open; planned renewals are known and are added, not smoothed. Two questions are mixed up mostly:
whether the next one who comes finds a part (`fill`, one part fewer is left for him), and whether
nobody waits (`ready`). Both are told.

References
----------
.. [1] Palm's theorem; Feeney and Sherbrooke, Management Science 12 (1966) 391 (abstract seen).
.. [2] Loss function of the Poisson law: L(s) = L(s - 1) - P(X >= s), L(0) = mean (table of a
   textbook appendix seen, see tests/outside/test_poisson_stock.py).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.draws import count_law_over
from splicewright.quantities import Kind, formula, percent

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


YEAR = 365.25 * 86400.0
_SOME = 0.05  # items a year that spoil, from which on it is told
_ROWS = 14


def poisson_law(mean: float) -> Array:
    """Probability of 0, 1, 2 ... demands at random, until less than 1e-15 is left.

    Parameters
    ----------
    mean : mean demand while an order is under way, rate x lead time
    """
    from scipy.special import gammaln

    if not (math.isfinite(mean) and mean >= 0):
        raise InputError(Fault("demand", f"{mean:g} must be a finite number of zero or more"))
    if mean == 0:
        return np.ones(1)
    top = int(mean + 12 * math.sqrt(mean) + 30)
    k = np.arange(top + 1)
    law: Array = np.exp(k * math.log(mean) - mean - gammaln(k + 1))
    return np.asarray(law / law.sum())


def counted_law(seen: float, share: float) -> Array:
    """Probability of 0, 1, 2 ... events, of a rate that was itself only counted.

    The rate is a gamma variable with seen + 1/2 events over the time watched (Jeffreys), so the
    count ahead is negative binomial: wider than Poisson, the more so the fewer were seen.

    Parameters
    ----------
    seen : events counted
    share : time ahead over time watched
    """
    from scipy.special import gammaln

    for key, value in (("events seen", seen), ("share of the time watched", share)):
        if not (math.isfinite(value) and value >= 0):
            sentence = f"{value:g} must be a finite number of zero or more"
            raise InputError(Fault(key, sentence))
    if share == 0:
        return np.ones(1)
    point, mean = seen + 0.5, (seen + 0.5) * share
    spread = math.sqrt(mean * (1 + share))
    k = np.arange(int(mean + 15 * spread + 60 * (1 + share)) + 1)
    law = gammaln(point + k) - gammaln(k + 1) - gammaln(point)
    law = np.exp(law + k * math.log(share / (1 + share)) - point * math.log1p(share))
    return np.asarray(law / law.sum())


def demand_law(
    chances: ArrayLike = (), at_random: ArrayLike = 0.0, planned: int = 0, per_event: int = 1
) -> Array:
    """Probability of each number of items wanted while an order is under way.

    Parameters
    ----------
    chances : of each joint of known age to fail in that time, (joints,); or by each law that the
        records leave open, (draws, joints), which is what six failures ask for [0..1]
    at_random : mean number of further events, Poisson; or their law, as from `counted_law`
    planned : renewals that fall in that time for sure
    per_event : items each of them takes, such as two pins to an insert piece

    Returns
    -------
    array (largest demand + 1,), sums to 1
    """
    for key, value, least in (("planned renewals", planned, 0), ("items per event", per_event, 1)):
        if value != int(value) or value < least:
            sentence = f"{value:g} must be a whole number of {least} or more"
            raise InputError(Fault(key, sentence))
    further = np.asarray(at_random, dtype=np.float64)
    others = further if further.ndim else poisson_law(float(further))
    events = np.convolve(count_law_over(chances), others)
    items = np.zeros((events.size + planned - 1) * per_event + 1)
    items[planned * per_event :: per_event] = events
    return np.asarray(items / items.sum())


@dataclass(frozen=True, slots=True)
class Service:
    """What a stock gives while orders are under way.

    Attributes
    ----------
    stock : s, on hand and on order together
    reorder_at : s - 1, order one for each used as soon as the stock on hand and on order falls
        to it
    fill : chance that the next one to need it finds it on the shelf [0..1]
    ready : chance that nobody waits, whoever may come meanwhile, P(X <= s) [0..1]
    waiting : mean number of items that are waited for (loss function of [2]_)
    """

    stock: int
    reorder_at: int
    fill: float
    ready: float
    waiting: float


@formula(
    "P = Σ x p(x)/m, x ≤ s",
    gives=("P", Kind.SHARE),
    symbols={"stock": "s", "law": "p(x)"},
    source="palm",
    limits="m the mean of x; for demand at random it is P(X ≤ s - 1). Joints of known age: all "
    "that fail in the same time count as come before, the safe side",
)
def fill_rate(stock: int, law: Array) -> float:
    """Share of those who need an item that find it on the shelf, each used being ordered anew.

    One who comes takes a part in the demand: it is met where the demand with it is no more than s.

    Parameters
    ----------
    stock : on hand and on order together [-]
    law : probability of each demand while an order is under way
    """
    number = np.arange(law.size)
    mean = float(law @ number)
    return min(float((law * number)[: stock + 1].sum()) / mean, 1.0) if mean > 0 else 1.0


@formula(
    "P(X ≤ s) = Σ p(x), x ≤ s",
    gives=("P", Kind.SHARE),
    symbols={"stock": "s", "law": "p(x)"},
    source="palm",
)
def chance_nobody_waits(stock: int, law: Array) -> float:
    """Chance that nobody waits for an item.

    Parameters
    ----------
    stock, law : as in fill rate
    """
    return min(float(law[: stock + 1].sum()), 1.0)


@formula(
    "L = Σ (x - s) p(x), x > s",
    gives=("L", Kind.COUNT),
    symbols={"stock": "s", "law": "p(x)"},
    source="loss-function",
)
def mean_waiting(stock: int, law: Array) -> float:
    """Mean number of demands that wait.

    Parameters
    ----------
    stock, law : as in fill rate
    """
    return float(law @ np.maximum(np.arange(law.size) - stock, 0))


def service_of(stock: int, law: Array) -> Service:
    """Service of a stock s when each item used is ordered anew.

    Parameters
    ----------
    stock : s, zero or more
    law : probability of each demand during the lead time, from `demand_law` or `poisson_law`

    Limits: `fill` is exact for demand at random (Poisson); for joints of known age it is on the
    safe side, `ready` and `waiting` are exact.
    """
    if stock != int(stock) or stock < 0:
        raise InputError(Fault("stock", f"{stock:g} must be a whole number of zero or more"))
    return Service(
        stock,
        stock - 1,
        fill_rate(stock, law),
        chance_nobody_waits(stock, law),
        mean_waiting(stock, law),
    )


def stock_for_fill(law: Array, service: float) -> Service:
    """Smallest stock with which the share `service` of those who need an item find it there."""
    number = np.arange(law.size)
    mean = float(law @ number)
    met = law * number / mean if mean > 0 else law
    return service_of(_reach(met, service), law)


@formula(
    "w = min(λ p/(1 - p), s/τ - λ max(0, 1 - 2/s)),  p = P(N < s)",
    gives=("w", Kind.RATIO),
    symbols={"stock": "s", "use_rate": "λ", "shelf_life": "τ"},
    source="palm",
    limits="N Poisson with mean λ τ; exact for one piece and quick delivery, else too many; found "
    "by simulation",
)
def spoilt(stock: int, use_rate: float, shelf_life: float) -> float:
    """Items a unit of time that spoil on the shelf, the oldest used first.

    An item spoils when fewer than s are wanted in its shelf life.

    Parameters
    ----------
    stock : s [-]
    use_rate : mean use [items per s]
    shelf_life : of the item [s]
    """
    from scipy.special import pdtr

    if not stock or math.isinf(shelf_life):
        return 0.0
    share = float(pdtr(stock - 1, use_rate * shelf_life))
    most = stock / shelf_life
    if use_rate < most:  # what is used leaves the shelf when it is nearly as old as what spoils
        most -= use_rate * max(0.0, 1 - 2 / stock)
    return most if share >= 1 else min(use_rate * share / (1 - share), most)


@dataclass(frozen=True, slots=True)
class Risk:
    """A line of the table of stock against risk.

    Attributes
    ----------
    service : of that stock
    spoilt : items a year that spoil
    cost : a year, of what spoils and of those who wait; nan without costs
    """

    service: Service
    spoilt: float
    cost: float


@dataclass(frozen=True, slots=True)
class StockAdvice:
    """How many to hold, what spoils weighed against those who wait.

    Attributes
    ----------
    service : of the stock advised
    wanted : stock the service level asks for
    sentence : the advice in words
    risks : stock against risk, around what is advised
    half, double : stock when somebody's waiting costs half or double; `wanted` without costs
    """

    service: Service
    wanted: int
    sentence: str
    risks: tuple[Risk, ...] = ()
    half: int = 0
    double: int = 0


def advise_stock(
    law: Array,
    service: float,
    *,
    use_rate: float = math.inf,
    shelf_life: float = math.inf,
    price: float = math.nan,
    wait_cost: float = math.nan,
    each: int = 1,
) -> StockAdvice:
    """Advise a stock for a service level; where goods spoil and costs are known, the cheapest.

    Parameters
    ----------
    law : of demand during the lead time, in items
    service : chance that the next one to need the item finds it [0..1]
    use_rate : mean use [items per s]
    shelf_life : of the item [s]
    price : of an item; nan where not known
    wait_cost : of a job that waits for it; nan where not known
    each : items a job takes

    Without costs the service level stands, and what spoils is told with it: spoilt goods are mostly
    cheaper than a belt that stands, and unknown is taken at its bad end.

    Raises
    ------
    InputError
        A service level that is no chance, or a rate, shelf life or cost that cannot be.
    """
    for key, value in (("use rate", use_rate), ("shelf life", shelf_life)):
        if not value > 0:
            raise InputError(Fault(key, f"{value:g} must be above zero"))
    for key, value in (("price", price), ("cost of waiting", wait_cost)):
        if value < 0:
            raise InputError(Fault(key, f"{value:g} cannot be; accepted is zero or more"))
    wanted = stock_for_fill(law, service)

    def risk(stock: int, factor: float = 1.0) -> Risk:
        held = service_of(stock, law)
        lost = spoilt(stock, use_rate, shelf_life) * YEAR
        jobs = use_rate * YEAR / each
        waits = jobs * (1 - held.fill) * factor if held.fill < 1 else 0.0
        return Risk(held, lost, price * lost + wait_cost * waits)

    first = max(0, wanted.stock - 4 * each)
    risks = [risk(s) for s in range(first, wanted.stock + 2 * each + 1)]
    if math.isinf(shelf_life) or not math.isfinite(price + wait_cost):
        advice = _held(wanted)
        lost = risk(wanted.stock).spoilt
        if lost >= _SOME:
            advice += f"; about {lost:.2g} a year will spoil"
            advice += ": give price and cost of waiting to weigh that, or agree a faster delivery"
        return StockAdvice(wanted, wanted.stock, advice, tuple(risks), wanted.stock, wanted.stock)
    top = range(max(law.size, wanted.stock + 2 * each + 1))

    def cheapest_at(factor: float) -> int:
        return min(top, key=lambda s: risk(s, factor).cost)

    best, half, double = (cheapest_at(f) for f in (1.0, 0.5, 2.0))
    cheapest = risk(best)
    advice = (
        f"{_held(cheapest.service)}: the cheapest, about {cheapest.spoilt:.2g} a year spoil; if "
        f"waiting costs half, {half}, if double, {double}"
    )
    if best < wanted.stock:
        advice += f"; the service asked for takes {wanted.stock}"
    low = max(0, min(first, best - each))
    risks = [risk(s) for s in range(low, max(wanted.stock, best) + 2 * each + 1)]
    return StockAdvice(cheapest.service, wanted.stock, advice, tuple(risks[:_ROWS]), half, double)


def share_words(share: float) -> str:
    """A chance to a tenth of a per cent; what is not sure is never called 100 %."""
    return "over 99.9 %" if 0.9995 <= share < 1 - 1e-12 else percent(share, 1)


def _held(held: Service) -> str:
    if not held.stock:
        return f"hold none: {share_words(held.ready)} chance that nobody waits"
    return (
        f"hold {held.stock}, order as soon as one is used: the next one to need it finds it with a "
        f"chance of {share_words(held.fill)}; {share_words(held.ready)} chance that nobody waits"
    )


@dataclass(frozen=True, slots=True)
class Shortage:
    """An item of which the job needs more than there is."""

    item: str
    needed: float
    there: float

    @property
    def missing(self) -> float:
        """How many, or how much, must still be found."""
        return self.needed - self.there


def what_is_missing(needs: Mapping[str, float], there: Mapping[str, float]) -> tuple[Shortage, ...]:
    """Items of the job's kit that the stock does not cover, largest share missing first."""
    for name, amounts in (("needs", needs), ("stock", there)):
        for item, amount in amounts.items():
            if not (math.isfinite(amount) and amount >= 0):
                sentence = f"{amount:g} must be a finite number of zero or more"
                raise InputError(Fault(f"{name}, {item}", sentence))
    short = [
        Shortage(item, need, there.get(item, 0.0))
        for item, need in needs.items()
        if there.get(item, 0.0) < need
    ]
    return tuple(sorted(short, key=lambda s: -s.missing / s.needed))


def _reach(law: Array, service: float) -> int:
    """Smallest k with P(X <= k) >= service."""
    if not 0 < service < 1:
        raise InputError(
            Fault("service level", f"{service:g} is no chance; accepted is above 0 and below 1")
        )
    return min(int(np.searchsorted(np.cumsum(law), service - 1e-12)), law.size - 1)
