"""What to hold of each item, and what to order now."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from splicewright.errors import Fault, InputError
from splicewright.history.life.study import Record, study_life
from splicewright.history.stock.levels import StockAdvice, advise_stock, demand_law

_YEAR = 365.25 * 86400.0


@dataclass(frozen=True, slots=True)
class Item:
    """One thing kept in stock.

    Attributes
    ----------
    name : of the item
    per_year : events at random that use it
    lead : from order to shelf [s]
    each : how many an event uses
    planned : events that fall within the lead time for sure
    shelf_life : until it spoils [s]; inf if it does not
    on_shelf : on hand and on order now
    joints : each failing joint uses it, too
    """

    name: str
    per_year: float
    lead: float
    each: int = 1
    planned: int = 0
    shelf_life: float = math.inf
    on_shelf: int = 0
    joints: bool = False


@dataclass(frozen=True, slots=True)
class ItemAdvice:
    """What to hold of one item.

    Attributes
    ----------
    item : the item
    expected : mean number used while an order is under way
    from_joints : of it, by the joints now running
    advice : what to hold
    order_now : how many to order at once
    """

    item: Item
    expected: float
    from_joints: float
    advice: StockAdvice
    order_now: int


def study_stock(
    items: Sequence[Item],
    service: float,
    *,
    records: Sequence[Record] = (),
    use_per_day: float = 0.0,
    ahead: Callable[[float], Sequence[float]] | None = None,
) -> tuple[ItemAdvice, ...]:
    """Advise the stock of every item.

    Parameters
    ----------
    items : what is kept
    service : chance that no job waits [0..1]
    records : lives of the joints that use items
    use_per_day : how fast their age grows [measure per day]
    ahead : in place of both: chance of each running joint to fail within a number of days

    Raises
    ------
    InputError
        Values out of range; items that follow the joints without joints.
    """
    followed = [i.name for i in items if i.joints and ahead is None]
    if followed and not any(r.running for r in records):
        said = "follows the joints, but no running joint is given"
        raise InputError(*(Fault(f"item {name}", said) for name in followed))
    if followed and not use_per_day > 0:
        said = "is not given; joints age by it while an order is under way"
        raise InputError(Fault("use a day", said))

    def by_records(days: float) -> Sequence[float]:
        return _failing(records, days * use_per_day)

    return tuple(_advised(item, service, ahead or by_records) for item in items)


def _failing(records: Sequence[Record], further: float) -> list[float]:
    study = study_life(records, further=further, test_fit=False)
    if not study.failures:
        said = "follow the joints, but none has failed yet: not enough data to say"
        raise InputError(Fault("items", said))
    return [o.chance for o in study.outlooks]


def _advised(item: Item, service: float, ahead: Callable[[float], Sequence[float]]) -> ItemAdvice:
    chances: Sequence[float] = ()
    if item.joints and item.lead > 0:
        chances = ahead(item.lead / 86400.0)
    at_random = item.per_year * item.lead / _YEAR
    law = demand_law(chances, at_random, item.planned, item.each)
    joints = item.each * math.fsum(chances)
    expected = item.each * (at_random + item.planned) + joints
    rate = expected / item.lead if item.lead > 0 else item.each * item.per_year / _YEAR
    advice = advise_stock(law, service, use_rate=max(rate, 1e-300), shelf_life=item.shelf_life)
    order = max(0, advice.service.stock - item.on_shelf)
    return ItemAdvice(item, expected, joints, advice, order)
