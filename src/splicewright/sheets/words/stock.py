"""The words of the stock to hold; paper and screen alike."""

from __future__ import annotations

from collections.abc import Sequence

from splicewright.history.stock.levels import Shortage
from splicewright.history.stock.study import ItemAdvice


def stock_words(one: ItemAdvice) -> tuple[str, str]:
    """What to hold of an item, and why so many."""
    ahead = f"{one.expected:.2g} used on average while an order is under way"
    if one.from_joints:
        ahead += f", {one.from_joints:.2g} of them by the joints now running"
    have = f"{one.item.on_shelf} on shelf or on order"
    order = f"order {one.order_now} now" if one.order_now else "order none now"
    return f"{one.item.name}: {one.advice.sentence}", f"{ahead}; {have}: {order}"


def stock_lines(items: Sequence[ItemAdvice], missing: Sequence[Shortage] | None) -> list[str]:
    """Every item, then what a job's kit lacks; `missing` is None when no job was asked about."""
    told = []
    for one in items:
        first, second = stock_words(one)
        told += [first, f"  {second}"]
    told += [
        f"The job's kit lacks {m.missing:g} {m.item}: {m.there:g} there, {m.needed:g} needed"
        for m in missing or ()
    ]
    if missing is not None and not missing:
        told.append("The job's kit is in the store, spares included.")
    return told
