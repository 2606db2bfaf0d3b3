"""How many kits, pins and belt pieces to hold, and whether the job's kit is there.

Demand while an order is under way: failures at random are Poisson whatever the law of the lead
time [1]_; joints of known age are unequal yes-or-no draws; planned renewals are known and are
added, not smoothed. Mixing up the stock s and the reorder point s - 1 is the commonest mistake,
so both are named in the answer.

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
from splicewright.history.life.remaining import count_law
from splicewright.quantities import Kind, formula

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


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


def demand_law(
    chances: ArrayLike = (), at_random: float = 0.0, planned: int = 0, per_event: int = 1
) -> Array:
    """Probability of each number of items wanted while an order is under way.

    Parameters
    ----------
    chances : of each joint of known age to fail in that time, (joints,) [0..1]
    at_random : mean number of further failures, Poisson
    planned : renewals that fall in that time for sure
    per_event : items each of them takes, such as two pins to an insert piece

    Returns
    -------
    array (largest demand + 1,), sums to 1
    """
    chance = np.asarray(chances, dtype=np.float64)
    bad = ~((chance >= 0) & (chance <= 1))
    if bad.any():
        sentence = f"{float(chance[bad].flat[0]):g} is no chance; accepted is 0 to 1"
        raise InputError(Fault("chance of failing", sentence))
    for key, value, least in (("planned renewals", planned, 0), ("items per event", per_event, 1)):
        if value != int(value) or value < least:
            sentence = f"{value:g} must be a whole number of {least} or more"
            raise InputError(Fault(key, sentence))
    events = np.convolve(count_law(chance) if chance.size else np.ones(1), poisson_law(at_random))
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
    fill : share of demands met from the shelf, P(X <= s - 1) [0..1]
    ready : chance that no job waits, P(X <= s) [0..1]
    waiting : mean number of demands that wait (loss function of [2]_)
    """

    stock: int
    reorder_at: int
    fill: float
    ready: float
    waiting: float


@formula(
    "P(X ≤ s - 1) = Σ p(x), x < s",
    gives=("P", Kind.SHARE),
    symbols={"stock": "s", "law": "p(x)"},
    source="palm",
    limits="exact for demand at random; an estimate for a few joints of known age",
)
def fill_rate(stock: int, law: Array) -> float:
    """Share of demands met from the shelf when each item used is ordered anew.

    Parameters
    ----------
    stock : on hand and on order together [-]
    law : probability of each demand while an order is under way
    """
    return min(float(law[:stock].sum()), 1.0)


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

    Limits: `fill` is exact for demand at random (Poisson); for a few joints of known age it is
    an estimate, `ready` and `waiting` are exact.
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
    """Smallest stock that meets the share `service` of demands from the shelf."""
    return service_of(_reach(law, service) + 1, law)


def stock_for_ready(law: Array, service: float) -> Service:
    """Smallest stock with which, with chance `service`, nobody waits."""
    return service_of(_reach(law, service), law)


@dataclass(frozen=True, slots=True)
class StockAdvice:
    """How many to hold, after shelf life.

    Attributes
    ----------
    service : of the stock advised
    wanted : stock the service level asks for
    sentence : the advice in words
    """

    service: Service
    wanted: int
    sentence: str


def advise_stock(
    law: Array, service: float, *, use_rate: float = math.inf, shelf_life: float = math.inf
) -> StockAdvice:
    """Advise a stock for a service level, no larger than is used before it spoils.

    Parameters
    ----------
    law : of demand during the lead time
    service : chance that no job waits [0..1]
    use_rate : mean use [items per s]
    shelf_life : of the item [s]

    Raises
    ------
    InputError
        A service level that is no chance, or a rate or shelf life that is not above zero.
    """
    for key, value in (("use rate", use_rate), ("shelf life", shelf_life)):
        if not value > 0:
            raise InputError(Fault(key, f"{value:g} must be above zero"))
    wanted = stock_for_ready(law, service)
    # a whole number used within the shelf life is not to be lost to rounding
    cap = math.inf if math.isinf(shelf_life) else math.floor(use_rate * shelf_life + 1e-9)
    if wanted.stock <= cap:
        sentence = (
            f"hold {wanted.stock}: {wanted.ready:.1%} chance of no waiting; order as "
            "soon as one is used"
            if wanted.stock
            else f"hold none: {wanted.ready:.1%} chance of no waiting"
        )
        return StockAdvice(wanted, wanted.stock, sentence)
    held = service_of(int(cap), law)
    sentence = (
        f"hold {held.stock}, not {wanted.stock}: more would spoil before it is used; "
        f"{held.ready:.1%} chance of no waiting, so agree a faster delivery"
    )
    return StockAdvice(held, wanted.stock, sentence)


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
