"""What to hold of each item, and what to order now."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from splicewright.errors import Fault, InputError
from splicewright.history.arrays import Array
from splicewright.history.life.draws import range_of_count
from splicewright.history.life.limits import Limits
from splicewright.history.life.lives import gather
from splicewright.history.life.pooling_fleet import pool_many
from splicewright.history.life.study import Record
from splicewright.history.stock.levels import (
    YEAR,
    StockAdvice,
    advise_stock,
    counted_law,
    demand_law,
)


@dataclass(frozen=True, slots=True)
class Item:
    """One thing kept in stock.

    name : of the item
    per_year : events at random that use it
    lead : from order to shelf [s]
    each : how many an event uses
    planned : events that fall within the lead time for sure
    shelf_life : until it spoils [s]; inf if it does not
    on_shelf : on hand and on order now
    joints : each failing joint uses it, too
    watched : time over which the events of `per_year` were counted [s]; nan where it is stated
    price, wait_cost : of an item, and of a job that waits for it; nan where not known
    """

    name: str
    per_year: float
    lead: float
    each: int = 1
    planned: int = 0
    shelf_life: float = math.inf
    on_shelf: int = 0
    joints: bool = False
    watched: float = math.nan
    price: float = math.nan
    wait_cost: float = math.nan


@dataclass(frozen=True, slots=True)
class ItemAdvice:
    """What to hold of one item.

    item : the item
    expected : mean number used while an order is under way
    from_joints : of it, by the joints now running
    used : range that holds what is used in that time, with chance 0.9
    advice : what to hold
    order_now : how many to order at once
    """

    item: Item
    expected: float
    from_joints: float
    used: Limits
    advice: StockAdvice
    order_now: int


def study_stock(
    items: Sequence[Item],
    service: float,
    *,
    records: Sequence[Record] = (),
    use_per_day: float = 0.0,
    ahead: Callable[[float], Array] | None = None,
) -> tuple[ItemAdvice, ...]:
    """Advise the stock of every item.

    items : what is kept
    service : chance that the next one to need an item finds it [0..1]
    records : lives of the joints that use items
    use_per_day : how fast their age grows [measure per day]
    ahead : in place of both: chance of each running joint to fail within a number of days, by each
        law that the records leave open, (draws, joints)
    Raises InputError: values out of range; items that follow the joints without joints.
    """
    followed = [i.name for i in items if i.joints and ahead is None]
    if followed and not any(r.running for r in records):
        wording = "follows the joints, but no running joint is given"
        raise InputError(*(Fault(f"item {name}", wording) for name in followed))
    if followed and not use_per_day > 0:
        wording = "is not given; joints age by it while an order is under way"
        raise InputError(Fault("use a day", wording))

    def by_records(days: float) -> Array:
        return _failing(records, days * use_per_day)

    return tuple(_advised(item, service, ahead or by_records) for item in items)


def _failing(records: Sequence[Record], further: float) -> Array:
    if not any(r.life.failed for r in records):
        wording = "follow the joints, but none has failed yet: not enough data to say"
        raise InputError(Fault("items", wording))
    groups: dict[str, list[Record]] = {}
    for record in records:
        groups.setdefault(record.conveyor, []).append(record)
    laws = pool_many({n: gather([r.life for r in rs]) for n, rs in groups.items()}).draws()
    place = {name: n for n, name in enumerate(groups)}
    runs = [r for r in records if r.running]
    index = np.array([place[r.conveyor] for r in runs], dtype=np.intp)
    ages = np.array([r.life.good for r in runs])
    return laws.chance_of_failing(index, ages, np.full(ages.size, further))


def _advised(item: Item, service: float, ahead: Callable[[float], Array]) -> ItemAdvice:
    chances = np.empty((1, 0))
    if item.joints and item.lead > 0:
        chances = ahead(item.lead / 86400.0)
    at_random: Array | float = item.per_year * item.lead / YEAR
    if math.isfinite(item.watched):
        at_random = counted_law(item.per_year * item.watched / YEAR, item.lead / item.watched)
    law = demand_law(chances, at_random, item.planned, item.each)
    joints = item.each * float(chances.mean(axis=0).sum())
    expected = float(law @ np.arange(law.size))
    rate = expected / item.lead if item.lead > 0 else item.each * item.per_year / YEAR
    advice = advise_stock(
        law,
        service,
        use_rate=max(rate, 1e-300),
        shelf_life=item.shelf_life,
        price=item.price,
        wait_cost=item.wait_cost,
        each=item.each,
    )
    order = max(0, advice.service.stock - item.on_shelf)
    return ItemAdvice(item, expected, joints, range_of_count(law), advice, order)
